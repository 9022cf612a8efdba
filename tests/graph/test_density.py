"""The compiled density is the NumPy likelihood plus the priors, with its gradient."""

import inspect
from types import ModuleType

import numpy as np
import pytest
from scipy.special import betaln, expit, logit
from scipy.stats import beta, norm

from model.graph import density as density_module
from model.graph import machine_code
from model.graph.density import density, kernel_source_hash, position_size
from model.graph.kernel_position import LEAST_SCALE
from model.outcomes.likelihood import log_likelihood
from model.outcomes.variates import scale_positions

LOG_ROOT_2PI = 0.5 * np.log(2 * np.pi)


@pytest.fixture(scope="module")
def evaluate(hollow_sound):
    return density(hollow_sound.data)


def _by_hand(case, point) -> float:
    """Likelihood, priors, the map of the whitening, and the rates' step to the logit's scale."""
    rates = beta(case.data["rate_a"], case.data["rate_b"]).logpdf(point.rates)
    priors = norm.logpdf(point.scales).sum() + norm.logpdf(point.standard).sum() + rates.sum()
    step = np.log(expit(logit(point.rates)) * expit(-logit(point.rates))).sum() + point.log_map
    left_out = -LOG_ROOT_2PI * (point.scales.size + point.standard.size)
    left_out -= betaln(case.data["rate_a"], case.data["rate_b"]).sum()
    likelihood = log_likelihood(point.parameters, case.arrays).sum()
    return float(likelihood + priors + step - left_out)


def test_density_is_the_numpy_likelihood_and_the_priors(hollow_sound, point_at, evaluate):
    for seed in range(5):
        point = point_at(hollow_sound, seed)
        found = evaluate(point.position)[0]
        assert found == pytest.approx(_by_hand(hollow_sound, point), rel=1e-9)
        assert found != pytest.approx(_by_hand(hollow_sound, point) - point.log_map, rel=1e-6)


def test_the_parameters_are_those_of_the_position(hollow_sound, point_at, evaluate):
    for seed in range(5):
        point = point_at(hollow_sound, seed)
        assert point.position.size == position_size(hollow_sound.data)
        assert evaluate(point.position)[2] == pytest.approx(point.vector, rel=1e-9, abs=1e-12)


def test_linked_specimens_are_mixed_after_the_whitening(hollow_sound, make_case, point_at):
    s6, *others = hollow_sound.campaign.anchors
    bent = others[-1].model_copy(update={"modified_from": s6.code})
    anchors = (s6, *others[:-1], bent)
    linked = make_case(
        hollow_sound.campaign.model_copy(update={"anchors": anchors}), hollow_sound.pulls
    )
    assert linked.data["kin"].size > 0 == hollow_sound.data["kin"].size
    point = point_at(linked, 1)
    value, gradient, vector = density(linked.data)(point.position)
    assert value == pytest.approx(_by_hand(linked, point), rel=1e-9)
    assert vector == pytest.approx(point.vector, rel=1e-9, abs=1e-12)
    assert _slope_gap(density(linked.data), point.position, gradient) < 1e-4


def _slope_gap(evaluate, at, gradient) -> float:
    """Largest difference from central differences at some coordinates, relative where they are."""
    gaps = []
    for i in np.random.default_rng(0).choice(at.size, 40, replace=False):
        step = np.zeros(at.size)
        step[i] = 1e-5
        high, low = (evaluate(at + sign * step)[0] for sign in (1, -1))
        slope = (high - low) / 2e-5
        gaps.append(abs(gradient[i] - slope) / max(abs(slope), 1.0))
    return max(gaps)


@pytest.mark.parametrize("seed", range(3))
def test_gradient_runs_through_scales_signs_and_whitening(seed, hollow_sound, point_at, evaluate):
    at = point_at(hollow_sound, seed, 0.7).position
    _, gradient, _ = evaluate(at)
    assert _slope_gap(evaluate, at, gradient) < 1e-4
    elsewhere = evaluate(at + 1e-3)[1]
    assert _slope_gap(evaluate, at, elsewhere) > 1e-4


def test_every_scale_has_its_gradient_through_the_whitening(hollow_sound, point_at, evaluate):
    at = point_at(hollow_sound, 1, 0.7).position
    _, gradient, _ = evaluate(at)
    n_variate = hollow_sound.data["prior_mean"].size
    for i in range(n_variate, n_variate + hollow_sound.data["scale_sd"].size):
        step = np.zeros(at.size)
        step[i] = 1e-5
        slope = (evaluate(at + step)[0] - evaluate(at - step)[0]) / 2e-5
        assert gradient[i] == pytest.approx(slope, rel=1e-4, abs=1e-4)


def test_a_scale_of_zero_is_an_ordinary_point(hollow_sound, point_at, evaluate):
    scales = np.full(hollow_sound.data["scale_sd"].size, 0.1 * LEAST_SCALE)
    for point in (
        point_at(hollow_sound, 1, scales=0 * scales),
        point_at(hollow_sound, 1, scales=scales),
    ):
        value, gradient, _ = evaluate(point.position)
        assert value == pytest.approx(_by_hand(hollow_sound, point), rel=1e-9)
        assert np.isfinite(gradient).all()


def test_a_scales_sign_makes_no_difference_beside_its_deviations(hollow_sound, point_at, evaluate):
    # Turned with its deviations a signed scale is the same point; turned alone it is not.
    point = point_at(hollow_sound, 2)
    of_first = np.array(scale_positions(hollow_sound.shape)) == 0
    turned, alone = point.position.copy(), point.position.copy()
    first_scale = of_first.size
    turned[: of_first.size][of_first] *= -1
    turned[first_scale] *= -1
    alone[first_scale] *= -1
    here = evaluate(point.position)[0]
    assert evaluate(turned)[0] == pytest.approx(here, rel=1e-10)
    assert evaluate(alone)[0] != pytest.approx(here, rel=1e-6)


def test_other_data_need_no_other_machine_code(hollow_sound, make_case, point_at, evaluate):
    compiled = density_module._function()
    evaluate(point_at(hollow_sound, 3).position)
    before = len(compiled.signatures)
    fewer = make_case(hollow_sound.campaign.model_copy(update={
        "anchors": hollow_sound.campaign.anchors[:4]}),
        [pull for pull in hollow_sound.pulls[:20]
         if pull.anchor != hollow_sound.campaign.anchors[4].code])  # fmt: skip
    point = point_at(fewer, 3)
    assert point.position.size < point_at(hollow_sound, 3).position.size
    assert density(fewer.data)(point.position)[0] == pytest.approx(_by_hand(fewer, point), rel=1e-9)
    assert len(compiled.signatures) == before == 1


# --- machine code that is kept --------------------------------------------------------------------


def _changed(module: ModuleType, old: str, new: str, folder) -> ModuleType:
    """A module of another source, never run."""
    text = inspect.getsource(module)
    assert old in text
    path = folder / "changed_kernel_tail.py"
    path.write_text(text.replace(old, new), "utf-8")
    other = ModuleType("changed_kernel_tail")
    other.__file__ = str(path)
    return other


def test_a_changed_kernel_has_another_hash(monkeypatch, tmp_path):
    before = kernel_source_hash()
    assert kernel_source_hash() == before
    changed = _changed(density_module.kernel_tail, "FAR_TAIL: Final = -30.0",
                       "FAR_TAIL: Final = -20.0", tmp_path)  # fmt: skip
    others = [
        module for module in density_module.KERNEL if module is not density_module.kernel_tail
    ]
    monkeypatch.setattr(density_module, "KERNEL", (*others, changed))
    assert kernel_source_hash() != before


def test_every_module_that_the_kernel_imports_is_in_its_hash():
    named = {module.__name__ for module in density_module.KERNEL}
    for module in density_module.KERNEL:
        imported = {
            value.__module__ for value in vars(module).values() if hasattr(value, "py_func")
        }
        assert imported <= named, module.__name__


@machine_code.compiled
def twice(x: float) -> float:
    return 2 * x


def test_machine_code_is_kept_under_its_key(monkeypatch, tmp_path):
    monkeypatch.setattr(machine_code.platformdirs, "user_cache_path", lambda name: tmp_path / name)
    kept = machine_code.compiled_and_kept(twice, "key")
    assert kept(2.0) == 4.0
    assert list((tmp_path / "kedgewise" / "machine_code" / "key").rglob("*.nbc"))
    again = machine_code.compiled_and_kept(twice, "key")
    assert again(3.0) == 6.0
    assert sum(again.stats.cache_hits.values()) == 1
    other = machine_code.compiled_and_kept(twice, "other key")
    assert other(3.0) == 6.0
    assert sum(other.stats.cache_hits.values()) == 0


def test_where_nothing_can_be_kept_it_is_compiled_all_the_same(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("in the way", "utf-8")
    monkeypatch.setattr(
        machine_code.platformdirs, "user_cache_path", lambda name: tmp_path / "file" / name
    )
    assert machine_code.compiled_and_kept(twice, "key")(2.0) == 4.0
    assert [path.name for path in tmp_path.iterdir()] == ["file"]
