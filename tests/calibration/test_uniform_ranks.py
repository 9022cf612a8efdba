"""Ranks: where a truth stands among thinned draws, and when many of them are called off."""

import numpy as np
import pytest
from scipy.stats import chisquare, norm

from model.calibration.thinned_rank import DRAWS, RANKS, least_ess, thinned_rank
from model.calibration.uniform_ranks import RankRow, detectable, not_uniform, rank_row, rank_rows_of

COUNT = 4000


def ranks_of(truth, draws):
    rng = np.random.default_rng(3)
    return np.array([thinned_rank(truth(rng), draws(rng), rng) for _ in range(COUNT)])


def uniformity(ranks):
    return float(chisquare(np.bincount(ranks, minlength=RANKS)).pvalue)


def test_a_truth_like_its_draws_has_every_rank_alike_often():
    ranks = ranks_of(lambda rng: rng.normal(), lambda rng: rng.normal(size=700))
    assert ranks.min() == 0
    assert ranks.max() == DRAWS
    assert uniformity(ranks) > 0.01


def test_ties_are_broken_by_chance():
    """Three values in all: as of a next pull that never sets."""
    ranks = ranks_of(lambda rng: rng.integers(3), lambda rng: rng.integers(3, size=700) + 0.0)
    assert uniformity(ranks) > 0.01


def test_ties_that_always_count_above_would_be_seen():
    ranks = ranks_of(
        lambda rng: rng.integers(3) - 1e-9, lambda rng: rng.integers(3, size=700) + 0.0
    )
    assert uniformity(ranks) < 1e-6


def in_spells(rng):
    """Draws of which 20 in a row are the same: 2,800 of them, worth 140."""
    return np.repeat(rng.normal(size=140), 20)


def test_draws_that_hang_together_are_thinned_until_they_do_not():
    assert uniformity(ranks_of(lambda rng: rng.normal(), in_spells)) > 0.01


def test_the_first_draws_alone_would_not_do():
    ranks = ranks_of(lambda rng: rng.normal(), lambda rng: in_spells(rng)[:DRAWS])
    assert uniformity(ranks) < 1e-6


def test_the_least_effective_size_is_that_of_the_slowest_quantity():
    rng = np.random.default_rng(2)
    free = rng.normal(size=2800)
    slow = np.repeat(rng.normal(size=140), 20)
    same = np.ones(2800)
    assert least_ess(np.column_stack([free]), 4) > 2000
    assert least_ess(np.column_stack([free, slow, same]), 4) < 400


def row(p_value):
    return RankRow(name="made up", campaigns=100, mean=0.5, in_tails=0.1, p_value=p_value)


@pytest.mark.parametrize(
    ("p_values", "called_off"),
    [
        ([0.004, 0.2, 0.5], 0),  # one in 250, of three: no alarm at 1 % overall
        ([0.003, 0.2, 0.5], 1),
        ([0.003, 0.004, 0.5], 2),  # the second is held against a half, not a third
    ],
)
def test_holms_steps(p_values, called_off):
    rows = [row(value) for value in p_values]
    assert len(not_uniform(rows, 0.01)) == called_off


def test_right_ranks_raise_an_alarm_no_oftener_than_was_said():
    rng = np.random.default_rng(5)
    alarms = sum(
        bool(not_uniform(rank_rows_of({str(k): rng.random(300) for k in range(20)}), 0.05))
        for _ in range(200)
    )
    assert alarms <= 20  # ten are expected; more than twenty has a chance under 0.002


@pytest.mark.parametrize("kind", ["shift", "spread"])
def test_the_detectable_fault_is_found_as_often_as_is_said(kind):
    campaigns, error = 400, 0.001
    found = detectable(campaigns, error)
    rng = np.random.default_rng(6)
    truths = rng.normal(size=(500, campaigns))
    truths = truths + found.shift if kind == "shift" else truths * found.spread
    hits = [rank_row("one", norm.cdf(truth)).p_value < error for truth in truths]
    assert np.mean(hits) == pytest.approx(0.8, abs=0.07)
    if kind == "shift":
        assert 1 - norm.cdf(truths).mean() == pytest.approx(found.mean_rank, abs=0.005)


def test_more_campaigns_find_smaller_faults():
    few, many = detectable(100, 1e-4), detectable(1500, 1e-4)
    assert many.shift < few.shift / 3
    assert 1 < many.spread < few.spread
