"""What must not change the likelihood: order, what has no pulls; the matrix that stands for it."""

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from model.base.priors import DEFAULT_PRIORS
from model.graph.density import density
from model.graph.starts import starting_point
from model.graph.whitening import INFORMATION, SHARE_HELD, SHARE_UNSEEN
from model.outcomes.design import SHARED, design, positions, predictors
from model.outcomes.likelihood import log_likelihood
from model.outcomes.shape import Shape
from model.outcomes.variates import name_parameters
from model.records.campaign import Anchor, Outing
from model.records.pull import Bite, Ending, ModeSeen, Start


def test_a_campaign_without_pulls_is_whitened_by_nothing(hollow_sound, make_case):
    empty = make_case(hollow_sound.campaign, ())
    assert empty.data["told"].size == 0
    assert empty.data["block_start"].tolist() == [0]


def test_blocks_of_the_whitening_have_no_pull_in_common(hollow_sound):
    data = hollow_sound.data
    assert len(set(data["told"])) == data["told"].size
    assert data["block_start"][-1] == data["told"].size
    where = positions(hollow_sound.shape)
    block = np.searchsorted(data["block_start"], np.arange(data["told"].size), side="right")
    of = {int(variate): int(b) for variate, b in zip(data["told"], block, strict=True)}
    loads, logits = int(where["load_base"]), int(where["upright_base"])
    assert of[loads] == of[int(where["anchor_load"][0])] == of[int(where["mode_gap_centre"])]
    assert of[logits] == of[int(where["anchor_upright"][0])] != of[loads]
    assert not set(where["mode_gap"]) & set(of)  # nothing tells of an anchor that never lies flat


def test_whitened_the_density_bends_far_less(hollow_sound):
    """What the information is for: the steepest direction sets the sampler's step."""
    bare = {**hollow_sound.data, "information": np.zeros_like(hollow_sound.data["information"])}
    steepest, unaided = (_steepest_bend(data) for data in (hollow_sound.data, bare))
    assert unaided > 10 * steepest


def _steepest_bend(data: dict[str, np.ndarray]) -> float:
    """Largest curvature in the told directions, where every normal is 0 and scales are usual."""
    evaluate, told = density(data), data["told"]
    point = starting_point(data)(1)
    point[: data["prior_mean"].size] = 0.0
    step = 1e-4 * np.eye(point.size)[told]
    by_told = [(evaluate(point + h)[1] - evaluate(point - h)[1])[told] for h in step]
    hessian = np.array(by_told) / 2e-4
    return float(np.linalg.eigvalsh(-(hessian + hessian.T) / 2).max())


def test_a_bite_tells_of_the_load_that_it_shows(hollow_sound, make_case):
    """Let go and seen it tells the most, held less, not seen the least; of no turn nothing."""
    where = positions(hollow_sound.shape)
    upright = int(where["load_base"])

    def told(*bites: Bite) -> dict[int, float]:
        pull = hollow_sound.pulls[0].model_copy(update={"bites": bites})
        data = make_case(hollow_sound.campaign, (pull,)).data
        start = np.repeat(data["block_start"][:-1], np.diff(data["block_start"]))
        diagonal = data["information"][np.arange(start.size), np.arange(start.size) - start]
        return dict(zip(data["told"].tolist(), diagonal.tolist(), strict=True))

    let_go = Bite(number=1, ending=Ending.RELEASED, load_kn=2.6, mode=ModeSeen.UPRIGHT)
    top = hollow_sound.campaign.ladders[0].steps[-1].load_kn
    held = Bite(number=1, ending=Ending.HELD, load_kn=top, held_s=600.0, mode=ModeSeen.UPRIGHT)
    full = INFORMATION["log_load_upright"] * DEFAULT_PRIORS.load_base.sd**2
    # After a release comes a bite that did not dig in again, of either mode: a little more.
    assert full < told(let_go)[upright] < 1.05 * full
    assert told(held)[upright] == pytest.approx(SHARE_HELD * full)
    unseen = told(let_go.model_copy(update={"mode": None}))
    assert unseen[upright] == pytest.approx(2 * SHARE_UNSEEN * full)  # a part of either load
    again = Bite(number=2, ending=Ending.RELEASED, load_kn=2.6, start=Start.AFTER_TURN)
    assert int(where["turns_base"]) not in told(let_go)
    assert int(where["resets_base"]) not in told(held)
    assert int(where["turns_base"]) in told(let_go, again)


def test_the_order_of_the_pulls_changes_nothing(hollow_sound, point_at):
    rng = np.random.default_rng(0)
    order = rng.permutation(hollow_sound.arrays.sizes["pull"])
    bites = np.concatenate(
        [np.flatnonzero(hollow_sound.arrays["pull_index"].to_numpy() == i) for i in order]
    )
    shuffled = hollow_sound.arrays.isel(pull=order, bite=bites)
    place = np.argsort(order)
    index = place[shuffled["pull_index"].to_numpy()]
    shuffled = shuffled.assign(pull_index=("bite", index))
    parameters = point_at(hollow_sound, 1).parameters
    before, after = (log_likelihood(parameters, a) for a in (hollow_sound.arrays, shuffled))
    assert after == pytest.approx(before[:, order], rel=1e-12)
    # Bites left at the old place belong to other pulls.
    lost = shuffled.assign(pull_index=("bite", np.sort(index)[::-1].copy()))
    assert np.abs(log_likelihood(parameters, lost) - before[:, order]).max() > 0.1


def test_records_in_another_order_give_the_same_data(hollow_sound, make_case):
    other = make_case(hollow_sound.campaign, hollow_sound.pulls[::-1])
    assert {name: np.array_equal(values, other.data[name], equal_nan=True)
            for name, values in hollow_sound.data.items()} == dict.fromkeys(
                hollow_sound.data, True)  # fmt: skip


def test_an_anchor_or_a_day_without_pulls_changes_nothing(hollow_sound, make_case, point_at):
    more = (Outing(name="day 7", ladder="workboat", boat=hollow_sound.campaign.boats[0].name),)
    wider = make_case(
        hollow_sound.campaign.model_copy(
            update={
                "outings": hollow_sound.campaign.outings + more,
                "anchors": (*hollow_sound.campaign.anchors, Anchor(code="N0", mass_kg=11.0)),
            }
        ),
        hollow_sound.pulls,
    )
    vector = point_at(wider, 4).vector
    value, gradient = wider.evaluate(vector)
    where, before = positions(wider.shape), positions(hollow_sound.shape)
    shared = np.empty(sum(index.size for index in before.values()))
    for name, index in before.items():
        shared[index] = vector[where[name][tuple(slice(n) for n in index.shape)]]
    assert hollow_sound.evaluate(shared)[0] == pytest.approx(value, rel=1e-13)

    # Nothing pulls what no pull refers to away from its prior; a pull does.
    spare = where["anchor_load"][-1], where["day_load"][-1]
    assert [gradient[i] for i in spare] == [0.0, 0.0]
    one = hollow_sound.pulls[-2].model_copy(update={"anchor": "N0", "outing": "day 7"})
    used = make_case(wider.campaign, (*wider.pulls, one)).evaluate(vector)
    assert all(used[1][i] != 0.0 for i in spare)


def _times(found, vector):
    products = found.value * vector[found.column]
    return np.array([products[a:b].sum() for a, b in
                     zip(found.row_start[:-1], found.row_start[1:], strict=True)])  # fmt: skip


def _by_formula(arrays: xr.Dataset, shape: Shape, vector: np.ndarray) -> np.ndarray:
    named = {name: vector[index][None] for name, index in positions(shape).items()}
    return np.concatenate(predictors(named, arrays), axis=1)[0]


def test_the_matrix_times_the_vector_is_the_formula(hollow_sound):
    found = design(hollow_sound.arrays, hollow_sound.shape)
    size = sum(index.size for index in positions(hollow_sound.shape).values())
    vector = np.random.default_rng(0).standard_normal(size)
    formula = _by_formula(hollow_sound.arrays, hollow_sound.shape, vector)
    assert _times(found, vector) == pytest.approx(formula, abs=1e-12)
    assert found.value.size < 0.1 * size * formula.size  # sparse: that is what it is for

    value = found.value.copy()
    value[7] = 0.0
    assert _times(replace(found, value=value), vector) != pytest.approx(formula, abs=1e-6)


def test_named_parameters_stand_where_the_matrix_looks_for_them(hollow_sound, point_at):
    point, where = point_at(hollow_sound, 5), positions(hollow_sound.shape)
    for name, values in point.parameters.items():
        in_vector = point.vector[where[name]]
        expected = np.exp(in_vector) if name == "gauge_scatter" else in_vector
        assert values[0] == pytest.approx(expected), name
    found = design(hollow_sound.arrays, hollow_sound.shape)
    shared = np.concatenate([where[name].ravel() for name in SHARED])
    assert np.array_equal(found.shared_index, shared)
    n_scales, n_rates = len(hollow_sound.data["scale_sd"]), len(hollow_sound.data["rate_a"])
    assert n_rates == 3 + 2 * hollow_sound.arrays.sizes["sign"]
    assert point.vector[where["hold_exponent"]] == abs(point.vector[-n_rates - 1])
    assert len(point.vector) == hollow_sound.data["prior_mean"].size + n_scales + n_rates


def test_names_swapped_would_show(hollow_sound, point_at):
    point, where = point_at(hollow_sound, 5), positions(hollow_sound.shape)
    on_scale, rest = np.split(point.vector, [hollow_sound.data["prior_mean"].size])
    scales, rates = np.split(rest, [len(hollow_sound.data["scale_sd"])])
    swapped = name_parameters(on_scale[None], scales[::-1][None], rates[None], hollow_sound.shape)
    assert swapped["anchor_load_scale"][0] != point.vector[where["anchor_load_scale"]]


def test_priors_stand_where_their_parameters_do(hollow_sound):
    where, data = positions(hollow_sound.shape), hollow_sound.data
    assert data["prior_mean"][where["load_base"]] == DEFAULT_PRIORS.load_base.mean
    assert data["prior_sd"][where["treatment_load"]] == pytest.approx([0.1] * 3)
    classes = [seabed.seabed_class for seabed in hollow_sound.campaign.seabeds]
    exponents = [DEFAULT_PRIORS.mass_exponent[kind].mean for kind in classes]
    assert data["prior_mean"][where["mass_exponent"]] == pytest.approx(exponents)
    # The repeatability of the load pin and the spring is known; the unnamed gauge's is not.
    gauges = np.exp(data["prior_mean"][where["gauge_scatter"]])
    assert gauges == pytest.approx([0.02, 0.06, 0.02])
    assert data["prior_sd"][where["gauge_scatter"]] == pytest.approx([0.05, 0.05, 0.3])
    assert data["prior_sd"][where["boat_bias"]] == pytest.approx([0.04, 0.08])
    assert data["prior_sd"][where["site_load"]] == pytest.approx([1, 1, 1, 0])  # unnamed: none
