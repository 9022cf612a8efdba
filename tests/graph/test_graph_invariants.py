"""What must not change the likelihood: order, what has no pulls; the matrix that stands for it."""

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from model.base.priors import DEFAULT_PRIORS
from model.outcomes.design import SHARED, design, positions, predictors
from model.outcomes.likelihood import log_likelihood
from model.outcomes.shape import Shape
from model.outcomes.variates import name_parameters
from model.records.campaign import Anchor, Outing


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


def test_whitened_by_the_true_information_a_normal_posterior_is_round(
    hollow_sound, point_at, factor_of
):
    """What the factor is for: precision I + D G D turns into I; by the identity it stays."""
    scales = point_at(hollow_sound, 1).scales
    factor = factor_of(hollow_sound, scales)
    precision = factor.T @ factor
    inverse = np.linalg.inv(factor)
    assert inverse.T @ precision @ inverse == pytest.approx(np.eye(len(factor)), abs=1e-9)
    assert np.linalg.eigvalsh(precision).max() > 10


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
    # The load pin's repeatability is known; the unnamed gauge's is not.
    assert np.exp(data["prior_mean"][where["gauge_scatter"]]) == pytest.approx([0.02, 0.02])
    assert data["prior_sd"][where["gauge_scatter"]] == pytest.approx([0.05, 0.3])
    assert data["prior_sd"][where["boat_bias"]] == pytest.approx([0.04])
    assert data["prior_sd"][where["site_load"]] == pytest.approx([1, 1, 1, 0])  # unnamed: none
