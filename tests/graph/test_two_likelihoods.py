"""The compiled likelihood and the one in NumPy are the same function, and its gradient is right."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import norm

from model.base.priors import DEFAULT_PRIORS
from model.graph.data import density_data
from model.graph.density import LIKELIHOOD_DATA
from model.graph.kernel_campaign import log_likelihood_with_gradient
from model.outcomes.design import positions
from model.outcomes.likelihood import log_likelihood
from model.outcomes.terms import quadrature
from model.records.pull import Ending, ModeSeen, Reading, Start

SEEDS = range(12)
LOADS_AT_THE_TOP = 1.5
"""Moves the priors' middle up to where anchors hold to the end, or let go in the final hold."""


def _relative_gap(case, point) -> float:
    ours = float(log_likelihood(point.parameters, case.arrays).sum())
    return abs(case.evaluate(point.vector)[0] - ours) / abs(ours)


def test_every_kind_of_pull_is_among_these(hollow_sound):
    bites = [bite for pull in hollow_sound.pulls for bite in pull.bites]
    assert {bite.ending for bite in bites} == set(Ending)
    assert {bite.reading for bite in bites} == set(Reading)
    assert {bite.start for bite in bites} == set(Start)
    assert {bite.mode for bite in bites} == {*ModeSeen, None}
    arrays = hollow_sound.arrays
    assert set(np.unique(arrays["boat_index"])) == {0, 1}
    assert set(np.unique(arrays["seen"])) == {0, 1, 2, 3}
    rows_of_pull = np.bincount(arrays["pull_index"], minlength=arrays.sizes["pull"])
    assert {0, 1, 2, 3} <= set(rows_of_pull)
    assert (arrays["upper_log_hold"] > 0).any()
    assert set(np.unique(arrays["is_unseen"][arrays["is_turn"] > 0])) == {0, 1}
    assert set(np.unique(arrays["signs"])) == {-1, 0, 1}
    assert {bite.buried.kind for bite in bites if bite.buried} == {
        "reading", "at_least", "less_than",
    }  # fmt: skip


# At 2.5 times the priors' width a re-set comes out certain to 14 digits here and there; of the
# chance that there was none the kernel's plain 1 - p then keeps no more than a few digits.
@pytest.mark.parametrize(("width", "largest"), [(0.3, 1e-9), (1.0, 1e-9), (2.5, 1e-8)])
def test_they_tie(width, largest, hollow_sound, point_at):
    for seed in SEEDS:
        for log_load in (0.0, LOADS_AT_THE_TOP):
            point = point_at(hollow_sound, seed, width, log_load)
            assert _relative_gap(hollow_sound, point) < largest


FAULTS = {
    # What a kernel that lost one of its parts would be given.
    "no re-set": ("is_reset", 6),
    "no unseen bite": ("is_unseen", 7),
    "no later bite": ("is_later", 5),
    "no hold": ("lower_log_hold", 2),
    "no hold at the upper end": ("upper_log_hold", 3),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_part_that_is_missing_in_one_of_them_shows(fault, hollow_sound, point_at):
    _, row = FAULTS[fault]
    bites = hollow_sound.data["bites"].copy()
    bites[row] = 0.0
    broken = replace(hollow_sound, data={**hollow_sound.data, "bites": bites})
    points = [point_at(hollow_sound, seed, 0.3, LOADS_AT_THE_TOP) for seed in SEEDS]
    assert max(_relative_gap(broken, point) for point in points) > 1e-6


@pytest.mark.parametrize("reader", ["boat_index", "gauge_index"])
def test_readings_of_the_first_boat_or_gauge_in_one_of_them_show(reader, hollow_sound, point_at):
    """Each boat has its bias and each gauge its scatter: taken for the first, they would differ."""
    one = hollow_sound.arrays.assign({reader: 0 * hollow_sound.arrays[reader]})
    data = density_data(one, DEFAULT_PRIORS, hollow_sound.shape)
    broken = replace(hollow_sound, data=data)
    points = [point_at(hollow_sound, seed, 0.3) for seed in SEEDS]
    assert max(_relative_gap(broken, point) for point in points) > 1e-6


def _slopes(case, vector):
    steps = 1e-5 * np.maximum(np.abs(vector), 1e-2)
    found = np.empty(vector.size)
    for i, step in enumerate(steps):
        moved = np.zeros(vector.size)
        moved[i] = step
        # Five points: the error goes with the step's fourth power.
        far, near = (case.evaluate(vector + k * moved)[0] - case.evaluate(vector - k * moved)[0]
                     for k in (2, 1))  # fmt: skip
        found[i] = (8 * near - far) / (12 * step)
    return found


@pytest.mark.parametrize("seed", range(3))
def test_the_gradient_is_that_of_small_steps(seed, hollow_sound, point_at):
    point = point_at(hollow_sound, seed, 0.7)
    _, gradient = hollow_sound.evaluate(point.vector)
    slopes = _slopes(hollow_sound, point.vector)
    scale = np.maximum(np.abs(slopes), 1.0)
    assert np.abs(gradient - slopes).max() > 0
    assert (np.abs(gradient - slopes) / scale).max() < 1e-5
    informed = [name for name, index in positions(hollow_sound.shape).items()
                if np.abs(gradient[index]).max() > 0]  # fmt: skip
    # Only the scales of deviations, and the gaps' centre, act through other parameters.
    silent = set(positions(hollow_sound.shape)) - set(informed)
    assert silent == {"mode_gap_centre"} | {
        name for name in positions(hollow_sound.shape)
        if name.endswith("_scale") and name != "pull_load_scale"
    }  # fmt: skip


def test_a_wrong_gradient_would_show(hollow_sound, point_at):
    point = point_at(hollow_sound, 0, 0.7)
    slopes = _slopes(hollow_sound, point.vector)
    _, elsewhere = hollow_sound.evaluate(point.vector + 1e-3)
    scale = np.maximum(np.abs(slopes), 1.0)
    assert (np.abs(elsewhere - slopes) / scale).max() > 1e-4


def _far_out(case, point, sds: float):
    """The same point with every load so many sd away from what was seen, nothing spoilt."""
    where, vector = positions(case.shape), point.vector.copy()
    vector[where["log_scatter"]] = np.log(0.05)
    for name in ("anchor_scatter", "later_bite_load", "anchor_load", "mode_gap"):
        vector[where[name]] = 0.0
    vector[where["gauge_scatter"]] = np.log(1e-3)
    vector[where["pull_load_scale"]] = 0.01
    vector[where["spoilt_share"]] = 1e-250
    vector[where["load_base"]] += sds * 0.05
    return vector


@pytest.mark.parametrize("sds", [-80.0, -40.0, 40.0, 80.0])
def test_loads_40_sd_out_leave_value_and_gradient_finite_and_right(sds, hollow_sound, point_at):
    point = point_at(hollow_sound, 3, 0.2)
    vector = _far_out(hollow_sound, point, sds)
    value, gradient = hollow_sound.evaluate(vector)
    assert np.isfinite(value)
    assert np.isfinite(gradient).all()
    base = int(positions(hollow_sound.shape)["load_base"])
    step = np.zeros(vector.size)
    step[base] = 1e-6
    ends = [hollow_sound.evaluate(vector + sign * step)[0] for sign in (1, -1)]
    assert gradient[base] == pytest.approx((ends[0] - ends[1]) / 2e-6, rel=1e-4)
    assert value < -10_000  # so far out that the plain probabilities of many pulls are 0


def test_plain_probabilities_lose_their_gradient_there():
    # Phi(b) - Phi(a) is 0 there, and the densities at the ends over it are no number.
    lower, upper = np.array([40.0, -42.0]), np.array([42.0, -40.0])
    with np.errstate(divide="ignore", invalid="ignore"):
        area = ndtr(upper) - ndtr(lower)
        assert np.isneginf(np.log(area)).all()
        assert np.isnan((norm.pdf(lower) - norm.pdf(upper)) / area).all()


def test_points_without_density_are_refused_not_taken(hollow_sound, point_at):
    vector = point_at(hollow_sound, 0).vector.copy()
    vector[0] = np.nan
    assert np.isnan(hollow_sound.evaluate(vector)[0])


def test_more_nodes_are_data_of_the_kernel(hollow_sound, point_at):
    point = point_at(hollow_sound, 2, 0.3)
    nodes, weights = np.polynomial.hermite_e.hermegauss(61)
    inputs = [hollow_sound.data[name] for name in LIKELIHOOD_DATA]
    vector = point.vector.copy()
    vector[positions(hollow_sound.shape)["pull_load_scale"]] = 0.02
    many, _ = log_likelihood_with_gradient(vector, *inputs, nodes, np.log(weights / weights.sum()))
    few, _ = log_likelihood_with_gradient(vector, *inputs, *quadrature())
    assert 0 < abs(many - few) < 0.02
