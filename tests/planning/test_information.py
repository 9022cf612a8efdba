"""Information against values from outside, brute force, and what no information can be."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import entr
from scipy.stats import norm

from model.planning import information
from model.planning.information import Regions, of_pairs, of_singles, regions
from model.planning.outcome_table import outcome_table
from model.planning.water import Luck, Truths

N = 512
THETA = norm.ppf((np.arange(N) + 0.5) / N)
"""A standard normal in equal shares."""


def themselves(count=N):
    """Every draw in a group of its own: what is told of the draws."""
    return [Regions(place=np.arange(count), is_drawn=False)]


# Derived, by quadrature: hold or release at a threshold, theta ~ N(0, 1). With noise of sd 1 and
# the threshold at 0 it is ln 2 - 1/2 exactly.
@pytest.mark.parametrize(
    ("threshold", "noise", "nats"),
    [
        (0.0, 1.0, np.log(2) - 0.5),
        (0.0, 0.5, 0.373262),
        (0.0, 0.25, 0.518745),
        (1.0, 0.5, 0.263983),
    ],
)
def test_hold_or_release_at_one_step(known_draws, space, threshold, noise, nats):
    draws = known_draws(THETA[None, :], noise)
    table = outcome_table(draws, np.array([0]), space(np.array([threshold])))
    assert of_singles(table, themselves()) == pytest.approx(nats, abs=2e-4)


def test_a_fine_ladder_reads_a_normal_and_a_pair_reads_it_twice(known_draws, space):
    """Of a normal mean n repeats tell ln(1 + n t^2 / s^2) / 2 nats (a normal's entropy)."""
    prior_sd, noise = 1.0, 0.8
    draws = known_draws(prior_sd * THETA[None, :], noise)
    fine = space(np.linspace(-5, 5, 120))
    table = outcome_table(draws, np.array([0]), fine)
    once, twice = (0.5 * np.log(1 + n * prior_sd**2 / noise**2) for n in (1, 2))
    assert of_singles(table, themselves()) == pytest.approx(once, abs=0.005)
    assert of_pairs(table, [(0, 0)], themselves()) == pytest.approx(twice, abs=0.008)


def test_two_pulls_of_one_number_and_one_of_another(known_draws, space):
    """Prior sds 1 and 1.5, noise 1, rows (1,0), (0,1), (0,1): 1.1989476 nats in all (derived).

    The two numbers being independent, the pull of one and the pair of the other add up.
    """
    first = outcome_table(
        known_draws(THETA[None, :], 1.0), np.array([0]), space(np.linspace(-6, 6, 120))
    )
    second = outcome_table(
        known_draws(1.5 * THETA[None, :], 1.0), np.array([0]), space(np.linspace(-6.5, 6.5, 140))
    )
    told = of_singles(first, themselves())[0] + of_pairs(second, [(0, 0)], themselves())[0]
    assert told == pytest.approx(1.1989476, abs=0.012)


def test_a_brute_force_estimate_agrees(begun):
    """Pulls drawn step by step, counted: no table of chances is used."""
    n = 400_000
    rng = np.random.default_rng(3)
    which = rng.integers(begun.draws.n_draw, size=n)
    drawn = begun.draws.chosen(which)
    truths = Truths(draws=drawn, luck=Luck.draw(n, 2, 1, rng))
    asked = begun.main.regions(begun.draws)
    table = outcome_table(begun.draws, begun.rows, begun.space)
    pair = (0, len(begun.candidates) - 1)
    everyone = np.arange(n)
    seen = [
        truths.pull(everyone, np.full(n, begun.rows[index]), pull, 0, begun.space)
        for pull, index in enumerate(pair)
    ]
    place = asked.place[which]
    single = counted(place, seen[0])
    both = counted(place, seen[0] * begun.space.size + seen[1])
    as_drawn = [replace(asked, is_drawn=False)]  # the same draws are counted, luck included
    assert single == pytest.approx(of_singles(table, as_drawn)[0], abs=4e-4)
    assert both == pytest.approx(of_pairs(table, [pair], as_drawn)[0], abs=1.5e-3)


def counted(place, outcome):
    """Information by counting, less what counting finds where there is none (Miller, Madow)."""
    names, outcome = np.unique(outcome, return_inverse=True)
    counts = np.zeros((3, names.size))
    np.add.at(counts, (place, outcome), 1.0)
    shares = counts / counts.sum()
    told = entr(shares.sum(0)).sum() + entr(shares.sum(1)).sum() - entr(shares).sum()
    spare = np.sum(counts > 0) - np.sum(counts.sum(0) > 0) - np.sum(counts.sum(1) > 0) + 1
    return told - spare / (2 * counts.sum())


tables = st.integers(2, 6).flatmap(
    lambda n_outcome: st.tuples(
        st.lists(
            st.lists(st.floats(0.0, 1.0), min_size=n_outcome, max_size=n_outcome),
            min_size=4,
            max_size=30,
        ),
        st.integers(0, 2**31),
    )
)


@given(tables)
@settings(max_examples=80, deadline=None)
def test_never_negative_and_never_more_than_either_entropy(made):
    rows, seed = made
    chances = np.array(rows) + 1e-6
    chances /= chances.sum(axis=1, keepdims=True)
    table = np.stack([chances.T, chances[::-1].T]).astype(np.float32)
    place = np.random.default_rng(seed).integers(3, size=len(chances))
    asked = Regions(place=place, is_drawn=False)
    told, both = of_singles(table, [asked]), of_pairs(table, [(0, 1)], [asked])[0]
    entropy = entr(table.astype(float).mean(axis=2)).sum(axis=1)
    assert (told >= 0).all()
    assert (told <= asked.doubt_nats + 1e-6).all()
    assert (told <= entropy + 1e-6).all()
    assert both >= told.max() - 1e-5  # a second look never takes anything away
    assert both <= min(asked.doubt_nats, entropy.sum()) + 1e-6


def test_regions_drawn_by_lot_tell_nothing(begun, monkeypatch):
    """Without what luck adds taken off, they would seem to."""
    table = outcome_table(begun.draws, begun.rows, begun.space)
    place = begun.main.regions(begun.draws).place
    pairs = [(0, index) for index in range(1, 6)]
    lots = [np.random.default_rng(seed).permutation(place) for seed in range(12)]

    def told():
        singles = [of_singles(table, [Regions(place=lot)]).mean() for lot in lots]
        both = [of_pairs(table, pairs, [Regions(place=lot)]).mean() for lot in lots]
        return np.mean(singles), np.mean(both)

    mended = told()
    monkeypatch.setattr(information, "_luck", lambda *_: 0.0)
    as_counted = told()
    assert mended[0] < 0.35 * as_counted[0]  # never below 0, so not 0 on average
    assert mended[1] < 0.35 * as_counted[1]
    assert as_counted[1] > 1e-3


def test_weights_add_up(begun):
    table = outcome_table(begun.draws, begun.rows, begun.space)
    asked = begun.main.regions(begun.draws)
    once = of_singles(table, [asked])
    half = Regions(place=asked.place, weight=0.25)
    assert of_singles(table, [asked, half]) == pytest.approx(1.25 * once)


def test_an_effect_on_the_band_is_inside():
    assert regions(np.array([-0.2, -0.1, 0.0, 0.1, 0.2]), (-0.1, 0.1)).place.tolist() == [
        0, 1, 1, 1, 2
    ]  # fmt: skip


def test_without_a_difference_between_draws_nothing_is_told(known_draws, space):
    draws = known_draws(np.zeros((1, 200)), 0.3)
    table = outcome_table(draws, np.array([0]), space(np.array([-0.1, 0.1])))
    asked = Regions(place=np.arange(200) % 3)
    assert of_singles(table, [asked])[0] == pytest.approx(0.0, abs=1e-6)
