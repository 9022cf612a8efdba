"""Rehearsed campaigns: honest by construction, the same again, and each policy what it says."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import kstest

from model.planning import moves, rehearsal, settled_rule
from model.planning.policies import Alternate, Follow, Informative, Rotate
from model.planning.ranking import best_pairs, rank
from model.planning.rehearsal import Settings, rehearse
from model.planning.water import Truths

SMALL = Settings(n_campaign=6, most_pulls=8, pulls_a_day=4, n_draw=20_000, seed=4)


@pytest.fixture
def paired(begun):
    return best_pairs(begun, rank(begun), 3)


def chosen(paired):
    start, pairs = paired
    return Informative(start=start, pairs=pairs)


def test_the_same_seed_rehearses_the_same(paired):
    first, second = (rehearse(paired[0], chosen(paired), SMALL) for _ in range(2))
    assert np.array_equal(first.pulled, second.pulled)
    assert np.array_equal(first.seen, second.seen)
    other = rehearse(paired[0], chosen(paired), replace(SMALL, seed=5))
    assert not np.array_equal(first.seen, other.seen)


def ranks(start, policy, settings, monkeypatch):
    """Where each truth stands among its campaign's weighted draws, after the last pull."""
    found = {}
    look = rehearsal._Fleet._look

    def watched(fleet, particles, weights, members, n_pulled):
        main = fleet.start.main
        drawn = main.effect(particles.reference.reduced(particles.standard.of_reference))
        truth = main.effect(fleet.truths.draws)
        for place, member in enumerate(members):
            below = weights[place][drawn < truth[member]].sum()
            found[int(member)] = float(below)
        return np.ones_like(look(fleet, particles, weights, members, n_pulled))  # none stops

    monkeypatch.setattr(rehearsal._Fleet, "_look", watched)
    result = rehearse(start, policy, settings)
    return np.array([found[member] for member in sorted(found)]), result


@pytest.mark.calibration
def test_truths_stand_anywhere_among_the_weighted_draws(paired, monkeypatch):
    settings = replace(SMALL, n_campaign=100)
    found, result = ranks(paired[0], chosen(paired), settings, monkeypatch)
    assert len(found) == 100
    assert kstest(found, "uniform").pvalue > 1e-3
    assert result.lowest_worth.min() < rehearsal.WORTH_SHARED  # some were moved


@pytest.mark.calibration
def test_so_they_do_once_draws_were_moved(paired, monkeypatch):
    settings = replace(SMALL, n_campaign=60, n_draw=2000)
    found, result = ranks(paired[0], chosen(paired), settings, monkeypatch)
    assert result.n_moves.sum() > 60  # most were moved more than once
    assert kstest(found, "uniform").pvalue > 1e-3


@pytest.mark.calibration
def test_a_shifted_truth_is_found_out(paired, monkeypatch):
    """The check has teeth: pulls that go as if every anchor held twice as much with the wire."""
    pull, start = Truths.pull, paired[0].narrowed()

    def stronger(truths, members, rows, number, day, space):
        by_row = dict(truths.draws.by_row)
        for mode in ("log_upright", "log_on_side"):
            by_row[mode] = by_row[mode].copy()
            by_row[mode][start.main.a_rows] += 0.8
        drawn = type(truths.draws)(by_row=by_row, by_draw=truths.draws.by_draw)
        return pull(Truths(draws=drawn, luck=truths.luck), members, rows, number, day, space)

    monkeypatch.setattr(Truths, "pull", stronger)
    settings = replace(SMALL, n_campaign=60)
    found, _ = ranks(paired[0], Alternate(first=0, second=1), settings, monkeypatch)
    assert kstest(found, "uniform").pvalue < 1e-3


def test_nobody_is_settled_before_six_pulls_a_side(paired, monkeypatch):
    monkeypatch.setattr(settled_rule, "SETTLED_PROB", 0.5)  # so that six would be enough
    wide = replace(SMALL, n_campaign=12, most_pulls=16, pulls_a_day=16)
    found = rehearse(paired[0], Alternate(first=0, second=1), wide)
    assert found.is_settled.any()
    assert found.settled_at[found.is_settled].min() >= 12
    assert found.settled_by(11) == 0.0
    assert found.settled_by(16) == pytest.approx(found.is_settled.mean())


def test_true_effects_that_are_asked_for_are_the_truths(paired):
    for effect in (-0.1, 0.0, 0.15):
        found = rehearse(paired[0], chosen(paired), replace(SMALL, true_effect=effect))
        assert found.effect == pytest.approx(effect, abs=0.02)


def test_policies_pull_what_they_say(paired):
    start, pairs = paired
    n = len(start.candidates)
    rotated = rehearse(start, Rotate(candidates=range(n)), SMALL).pulled
    pairs_in_turn = [sorted(((2 * k) % n, (2 * k + 1) % n)) for k in range(4)]
    whole = rotated[(rotated >= 0).all(axis=1)]
    assert [sorted(pair) for pair in whole[0].reshape(4, 2).tolist()] == pairs_in_turn
    planned = [0, 1, 1, 0, 0, 0, 1, 1]
    followed = rehearse(start, Follow(candidates=planned), SMALL).pulled
    assert followed[(followed >= 0).all(axis=1)][0].tolist() == planned
    among = {tuple(sorted(pair)) for pair in pairs.tolist()}
    made = rehearse(start, chosen(paired), SMALL).pulled
    made = made[(made >= 0).all(axis=1)].reshape(-1, 2)
    assert {tuple(sorted(pair)) for pair in made.tolist()} <= among


def test_a_plan_of_an_odd_number_of_pulls_is_pulled_to_its_end(paired):
    """As of a day that goes on after the first of a pair."""
    odd = replace(SMALL, most_pulls=3, pulls_a_day=3)
    found = rehearse(paired[0], Follow(candidates=[1, 0, 1]), odd).pulled
    assert found[(found >= 0).all(axis=1)].tolist()[0] == [1, 0, 1]


def test_minutes_count_the_change_of_rig(paired):
    start, _ = paired
    minutes = start.campaign.minutes
    twins = rehearse(start, Follow(candidates=[0] * 8), SMALL)
    whole = (twins.pulled >= 0).all(axis=1)
    assert twins.minutes[whole] == pytest.approx(8 * minutes.pull + 2 * minutes.rig_change)


def test_draws_that_tell_no_more_end_as_not_known(paired, monkeypatch):
    monkeypatch.setattr(rehearsal, "WORTH_SHARED", 1e9)
    monkeypatch.setattr(moves, "STILL", -2.0)  # whatever moves, it is not enough
    found = rehearse(paired[0], chosen(paired), SMALL)
    assert (found.unknown_at == 1).all()
    assert not found.is_settled.any()


def watched_worths(monkeypatch):
    """Effective draws behind every look that is then taken."""
    look, worths = rehearsal._Fleet._look, []

    def watched(fleet, particles, weights, members, n_pulled):
        worths.extend(1 / (np.square(weights).sum(axis=1)))
        return look(fleet, particles, weights, members, n_pulled)

    monkeypatch.setattr(rehearsal._Fleet, "_look", watched)
    return worths


def test_no_look_is_taken_on_few_draws(paired, monkeypatch):
    """Weights that a pull has left on few draws are drawn anew before they are looked at."""
    worths = watched_worths(monkeypatch)
    found = rehearse(paired[0], chosen(paired), replace(SMALL, n_draw=3000))
    assert found.n_moves.sum() > 0
    assert min(worths) >= rehearsal.WORTH_OWN
    assert (found.unknown_at == 0).all()


def test_if_draws_stayed_looks_would_rest_on_few(paired, monkeypatch):
    monkeypatch.setattr(rehearsal, "WORTH_SHARED", 0.0)
    worths = watched_worths(monkeypatch)
    rehearse(paired[0], chosen(paired), replace(SMALL, n_draw=3000))
    assert min(worths) < rehearsal.WORTH_OWN
