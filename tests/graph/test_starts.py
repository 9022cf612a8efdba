"""Where chains start: apart, near the middle of the priors, and at a point with a gradient."""

import numpy as np
import pytest
from scipy.special import expit

from model.arrays.campaign_arrays import campaign_arrays
from model.base.priors import DEFAULT_PRIORS
from model.graph.data import density_data
from model.graph.density import density, position_size
from model.graph.starts import SCALE_START, STANDARD_SPREAD, starting_point
from model.outcomes.shape import Shape


@pytest.fixture
def data(small_campaign, small_pulls):
    shape = Shape.of(small_campaign)
    return density_data(campaign_arrays(small_campaign, small_pulls), DEFAULT_PRIORS, shape)


def test_starts_are_spread_narrowly_about_the_middle(data):
    drawn = np.array([starting_point(data)(seed) for seed in range(200)])
    assert drawn.shape == (200, position_size(data))
    n_variate, n_rate = data["prior_mean"].size, data["rate_a"].size
    assert np.std(drawn[:, :n_variate]) == pytest.approx(STANDARD_SPREAD, rel=0.05)
    assert np.all(drawn[:, n_variate:-n_rate] == SCALE_START)
    middle = data["rate_a"] / (data["rate_a"] + data["rate_b"])
    assert np.median(expit(drawn[:, -n_rate:]), axis=0) == pytest.approx(middle, rel=0.25)


def test_a_seed_is_a_start(data):
    start = starting_point(data)
    assert np.array_equal(start(1), start(1))
    assert not np.array_equal(start(1), start(2))


def test_every_coordinate_has_a_gradient_where_a_chain_starts(data):
    _, gradient, _ = density(data)(starting_point(data)(1))
    assert np.all(np.isfinite(gradient))
    assert np.all(gradient != 0)


def test_in_the_middle_itself_there_are_coordinates_without_one(data):
    n_variate, n_rate = data["prior_mean"].size, data["rate_a"].size
    middle = starting_point(data)(1)
    middle[:-n_rate] = 0.0
    middle[n_variate + data["scale_sd"].size :] = np.log(data["rate_a"] / data["rate_b"])
    assert np.any(density(data)(middle)[1] == 0)
