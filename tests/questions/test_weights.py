"""Weights of draws, against a case that is known exactly, and how they are resampled."""

import numpy as np
import pytest
from scipy.stats import norm

from model.questions.weights import (
    EFFECTIVE_DRAWS_MIN,
    pareto_limit,
    resampled,
    smoothed_weights,
)

N = 4000


def test_draws_of_a_normal_weighted_by_one_reading_are_its_posterior():
    """Prior N(0, 1), a reading of 0.8 with sd 1: posterior N(0.4, 1/2)."""
    draws = np.random.default_rng(1).normal(size=N)
    found = smoothed_weights(norm.logpdf(0.8, draws, 1.0))
    assert found.is_within_limit
    mean = found.shares @ draws
    sd = np.sqrt(found.shares @ (draws - mean) ** 2)
    error = np.sqrt(0.5 / found.effective_draws)
    assert mean == pytest.approx(0.4, abs=4 * error)
    assert sd == pytest.approx(np.sqrt(0.5), abs=4 * error)
    # Kish: the ratio of squared moments of the weights, 1 / E[w²] for E[w] = 1.
    expected = N * norm.pdf(0.8, 0, np.sqrt(2)) ** 2 / _second_moment(0.8)
    assert found.effective_draws == pytest.approx(expected, rel=0.05)


def _second_moment(reading):
    grid = np.linspace(-9, 9, 20_001)
    return np.trapezoid(norm.pdf(grid) * norm.pdf(reading, grid, 1.0) ** 2, grid)


def test_what_tells_nothing_leaves_all_draws_alike():
    found = smoothed_weights(np.full(N, -7.3))
    assert np.array_equal(found.shares, np.full(N, 1 / N))
    assert found.effective_draws == pytest.approx(N)
    assert np.array_equal(resampled(found.shares, np.random.default_rng(0)), np.arange(N))


def test_a_reading_far_off_is_no_ground_for_weights():
    draws = np.random.default_rng(1).normal(size=N)
    far = smoothed_weights(norm.logpdf(6.0, draws, 0.1))
    assert not far.is_within_limit or far.effective_draws < EFFECTIVE_DRAWS_MIN
    assert far.pareto_k > pareto_limit(N)


@pytest.mark.parametrize(("n_draw", "limit"), [(100, 0.5), (1000, 0.667), (2800, 0.7)])
def test_the_limit_grows_with_the_draws(n_draw, limit):
    assert pareto_limit(n_draw) == pytest.approx(limit, abs=0.01)


def test_each_draw_comes_as_often_as_its_share_says_to_within_one():
    shares = np.random.default_rng(3).dirichlet(np.full(N, 0.3))
    counts = np.bincount(resampled(shares, np.random.default_rng(4)), minlength=N)
    assert counts.sum() == N
    assert np.abs(counts - N * shares).max() <= 1


def test_no_draw_is_favoured_by_where_it_stands():
    shares = np.array([0.5, 0.25, 0.15, 0.1])
    rng = np.random.default_rng(5)
    counts = sum(np.bincount(resampled(shares, rng), minlength=4) for _ in range(4000))
    assert counts / counts.sum() == pytest.approx(shares, abs=0.01)


def test_a_tail_of_copies_of_one_draw_cannot_be_told_anything_from():
    """Resampled draws hold copies: where they are the whole tail there is nothing to smooth."""
    log_ratio = np.random.default_rng(1).normal(size=N)
    log_ratio[:300] = 5.0
    found = smoothed_weights(log_ratio)
    assert not found.is_within_limit
    assert found.shares.sum() == pytest.approx(1)
