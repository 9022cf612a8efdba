"""The compiled model's density is the NumPy likelihood plus the priors, with its gradient."""

import inspect
from types import ModuleType

import numpy as np
import pymc as pm
import pytest
from scipy.special import expit, logit
from scipy.stats import beta, norm

from model.graph import campaign_likelihood
from model.graph.campaign_likelihood import CampaignLogLikelihood, kernel_source_hash
from model.graph.graph import SAMPLED, build_graph
from model.outcomes.likelihood import log_likelihood
from model.outcomes.variates import scale_positions


@pytest.fixture(scope="module")
def graph(hollow_sound) -> pm.Model:
    return build_graph(hollow_sound.data, hollow_sound.shape)


@pytest.fixture(scope="module")
def density(graph):
    """Log density and its gradient, compiled once: a point in, two numbers out."""
    return graph.logp_dlogp_function(ravel_inputs=True)


def _raveled(point) -> np.ndarray:
    return np.concatenate([point.scales, logit(point.rates), point.standard])


def _by_hand(case, point) -> float:
    """Likelihood, priors, and the rates' step from their own scale to the logit's."""
    rates = beta(case.data["rate_a"], case.data["rate_b"]).logpdf(point.rates)
    priors = norm.logpdf(point.scales).sum() + norm.logpdf(point.standard).sum() + rates.sum()
    step = np.log(expit(logit(point.rates)) * expit(-logit(point.rates))).sum()
    return float(log_likelihood(point.parameters, case.arrays).sum() + priors + step)


def test_the_sampled_vectors_are_the_three_named(graph):
    assert {variable.name for variable in graph.free_RVs} == set(SAMPLED)
    order = [variable.name for variable in graph.value_vars]
    assert order == ["scales", "rates_logodds__", "standard"]


def test_density_is_the_numpy_likelihood_and_the_priors(hollow_sound, point_at, density):
    for seed in range(5):
        point = point_at(hollow_sound, seed)
        found, _ = density(_raveled(point))
        by_hand = _by_hand(hollow_sound, point)
        assert float(found) == pytest.approx(by_hand, rel=1e-9)
        assert float(found) != pytest.approx(by_hand - norm.logpdf(point.scales[0]), rel=1e-6)


def test_gradient_runs_through_scales_signs_and_rotation(hollow_sound, point_at, density):
    at = _raveled(point_at(hollow_sound, 1, 0.7))
    _, gradient = density(at)
    gradient = gradient.copy()
    for i in np.random.default_rng(0).choice(at.size, 25, replace=False):
        step = np.zeros(at.size)
        step[i] = 1e-5
        high, low = (float(density(at + sign * step)[0]) for sign in (1, -1))
        assert gradient[i] == pytest.approx((high - low) / 2e-5, rel=1e-4, abs=1e-4)


def test_a_scales_sign_makes_no_difference_beside_its_deviations(hollow_sound, point_at, density):
    # Turned with its deviations a signed scale is the same point; turned alone it is not.
    point = point_at(hollow_sound, 2)
    variates = hollow_sound.data["mixing"] @ point.standard
    turned = np.where(np.array(scale_positions(hollow_sound.shape)) == 0, -1.0, 1.0)
    scales = point.scales * np.where(np.arange(point.scales.size) == 0, -1.0, 1.0)
    standard = hollow_sound.data["mixing"].T @ (turned * variates)
    here = float(density(_raveled(point))[0])
    both = float(density(np.concatenate([scales, logit(point.rates), standard]))[0])
    alone = float(density(np.concatenate([scales, logit(point.rates), point.standard]))[0])
    assert both == pytest.approx(here, rel=1e-10)
    assert alone != pytest.approx(here, rel=1e-6)


def test_other_data_need_no_other_graph(hollow_sound, make_case, point_at, graph, density):
    fewer = make_case(hollow_sound.campaign, hollow_sound.pulls[:20])
    point = point_at(fewer, 3)
    try:
        with graph:
            pm.set_data({f"data_{name}": values for name, values in fewer.data.items()})
        found, _ = density(_raveled(point))
    finally:
        with graph:
            pm.set_data({f"data_{name}": values for name, values in hollow_sound.data.items()})
    assert float(found) == pytest.approx(_by_hand(fewer, point), rel=1e-9)


def _changed(module: ModuleType, old: str, new: str, folder) -> ModuleType:
    """A module of another source, never run."""
    text = inspect.getsource(module)
    assert old in text
    path = folder / "changed_kernel_tail.py"
    path.write_text(text.replace(old, new), "utf-8")
    other = ModuleType("changed_kernel_tail")
    other.__file__ = str(path)
    return other


def test_a_changed_kernel_has_another_hash_and_is_another_operation(monkeypatch, tmp_path):
    before, operation = kernel_source_hash(), CampaignLogLikelihood()
    assert (kernel_source_hash(), CampaignLogLikelihood()) == (before, operation)
    changed = _changed(campaign_likelihood.kernel_tail, "FAR_TAIL: Final = -30.0",
                       "FAR_TAIL: Final = -20.0", tmp_path)  # fmt: skip
    monkeypatch.setattr(campaign_likelihood, "kernel_tail", changed)
    assert kernel_source_hash() != before
    assert CampaignLogLikelihood() != operation

    # By the modules' names alone it would be the same, and run the old machine code.
    monkeypatch.setattr(campaign_likelihood.inspect, "getsource", lambda module: "kernel")
    by_name = kernel_source_hash()
    monkeypatch.undo()
    monkeypatch.setattr(campaign_likelihood.inspect, "getsource", lambda module: "kernel")
    assert kernel_source_hash() == by_name
