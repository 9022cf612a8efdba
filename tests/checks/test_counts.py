"""Counts: their predicted chances, the false-alarm rate over all of them, and what is caught."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, binomtest

from model.arrays.campaign_arrays import campaign_arrays, used_pulls
from model.base.names import PARAMETER_DIMS
from model.checks import counts
from model.checks.check import LOOK_RATE
from model.checks.counts import Count, count_chances, count_endings
from model.checks.endings import recorded_endings
from model.checks.first_bites import first_bites

CAMPAIGNS = 80


def counted(posterior, pulls, seed=0):
    arrays = campaign_arrays(posterior.campaign, pulls)
    parameters = {name: posterior.draws[name].to_numpy() for name in PARAMETER_DIMS}
    endings = recorded_endings(posterior.campaign, used_pulls(pulls), arrays)
    rng = np.random.default_rng(seed)
    return count_endings(first_bites(parameters, arrays), endings, rng, rate=LOOK_RATE)


def test_alike_chances_make_a_binomial():
    assert count_chances(np.full((3, 12), 0.3)) == pytest.approx(binom.pmf(np.arange(13), 12, 0.3))


def test_doubt_about_the_chance_is_in_the_count():
    p = np.array([0.2, 0.6])
    mixed = count_chances(np.repeat(p[:, None], 10, axis=1))
    assert mixed == pytest.approx(binom.pmf(np.arange(11)[:, None], 10, p).mean(axis=1))


@given(p=st.lists(st.floats(0, 1), min_size=1, max_size=20))
def test_counts_are_a_distribution_with_the_sum_of_chances_as_mean(p):
    chances = count_chances(np.array([p]))
    assert chances.sum() == pytest.approx(1.0)
    assert (chances >= -1e-12).all()
    one = Count(anchor=0, cell=0, pulls=len(p), recorded=0, chances=chances)
    assert one.expected == pytest.approx(sum(p), abs=1e-9)
    lower, upper = one.interval()
    assert 0 <= lower <= upper <= len(p)
    assert chances[lower : upper + 1].sum() >= 0.9 - 1e-9


def test_the_false_alarm_rate_holds_over_all_counts(make_world, make_pulls, knowing, monkeypatch):
    """Pulls made apart from the formula, under a truth that is known: 1 in 20 stands out."""
    monkeypatch.setattr(counts, "REPLICATES", 200)
    world = make_world()
    ps = []
    for seed in range(CAMPAIGNS):
        pulls = make_pulls(world, 24, seed=seed)
        ps.append(counted(knowing(world, pulls, n_draws=2), pulls, seed).p)
    alarms = int(np.sum(np.array(ps) < LOOK_RATE))
    assert binomtest(alarms, CAMPAIGNS, LOOK_RATE).pvalue > 0.005
    assert np.mean(ps) == pytest.approx(0.5, abs=0.1)


def test_a_rate_for_each_count_alone_would_not_hold(make_world, make_pulls, knowing, monkeypatch):
    """The mechanism taken away: each count against its own 5 % raises many more alarms."""
    monkeypatch.setattr(counts, "REPLICATES", 50)
    world, alarms = make_world(), 0
    for seed in range(40):
        pulls = make_pulls(world, 24, seed=seed)
        found = counted(knowing(world, pulls, n_draws=2), pulls, seed)
        alarms += any(one.surprise[one.recorded] < LOOK_RATE for one in found.counts)
    assert binomtest(alarms, 40, LOOK_RATE).pvalue < 1e-6


@pytest.mark.parametrize(
    "shift",
    [
        {"load_base": 0.4},
        {"load_base": -0.4},
        {"upright_base": -3.0},
        {"sets_base": -3.0},
    ],
    ids=str,
)
def test_draws_that_are_off_are_caught(make_world, make_pulls, knowing, shift):
    world = make_world()
    pulls = make_pulls(world, 80, seed=2)
    assert counted(knowing(world, pulls), pulls).p > LOOK_RATE
    assert counted(knowing(world, pulls, shift=shift), pulls).p < 0.001
