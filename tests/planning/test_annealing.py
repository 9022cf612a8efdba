"""Draws taken through an outcome that nobody expected, where the end is known in closed form."""

import numpy as np
import pytest

from model.planning import annealing, moves
from model.planning.annealing import MOST_STAGES, annealed
from model.planning.past import Past, PastChance
from model.planning.reference import Reference
from model.planning.standard import Standard

N = 2000
PRIOR_SD, NOISE, LOADS = 0.6, 0.5, np.linspace(-4, 4, 161)
READ, CELL, TIMES = 1.5, 1.475, 20
"""Far above what was believed, and the middle of the cell it falls in; so often."""


@pytest.fixture
def far(known_draws, space):
    """One row, its load believed to be N(0, 0.6), read twice at 0 and then often far above."""
    rng = np.random.default_rng(1)
    reference = Reference.of(known_draws(PRIOR_SD * rng.standard_normal((1, 20_000)), NOISE))
    return reference, past_of(0.0, 2), past_of(READ, TIMES), space(LOADS)


def past_of(read, count):
    outcome = 1 + int(np.searchsorted(LOADS, read))
    return Past.of(np.zeros(count, int), np.full(count, outcome), np.zeros(count, int))


def load_of(draws):
    return draws.by_row["log_upright"][0]


def run(reference, before, since, fine):
    """Draws of what is believed after the first two, weighed by the others and taken on."""
    rng = np.random.default_rng(5)
    flat = reference.draw(60_000, rng)
    begun = Standard(of_reference=flat, of_days=np.zeros((len(flat), 0, 2), np.float32))
    log_chance = PastChance(reference, before, fine).log_chance(begun)
    shares = np.exp(log_chance - log_chance.max())
    begun = begun.chosen(rng.choice(len(flat), N, p=shares / shares.sum()))
    log_chance = PastChance(reference, since, fine).log_chance(begun)
    found = annealed(reference, (begun, log_chance), before, since, fine, load_of, N, rng)
    return load_of(reference.reduced(found.standard.of_reference)), found


def test_they_come_to_the_conjugate_posterior(far):
    """Mean and sd of a normal mean after all readings (conjugate normal)."""
    precision = 1 / PRIOR_SD**2 + (2 + TIMES) / NOISE**2
    load, found = run(*far)
    assert found.has_moved
    assert found.stages > 1
    assert found.lowest_worth == pytest.approx(annealing.WORTH_MOVED, rel=0.01)
    mean = (2 * -0.025 + TIMES * CELL) / NOISE**2 / precision
    assert load.mean() == pytest.approx(mean, abs=0.03)
    assert load.std() == pytest.approx(precision**-0.5, rel=0.12)


def test_in_one_stage_they_would_begin_on_a_handful(far, monkeypatch):
    monkeypatch.setattr(annealing, "WORTH_MOVED", 0.0)
    _, found = run(*far)
    assert found.stages == 1
    assert found.lowest_worth < 20


def test_draws_that_stand_still_are_told(far, monkeypatch):
    monkeypatch.setattr(moves, "STILL", -2.0)
    _, found = run(*far)
    assert (found.has_moved, found.stages) == (False, 1)


def test_it_ends_where_every_stage_leads_nowhere(far, monkeypatch):
    monkeypatch.setattr(annealing, "WORTH_MOVED", N - 1.0)  # hardly a power leaves that many
    _, found = run(*far)
    assert (found.has_moved, found.stages) == (False, MOST_STAGES)


def test_a_chance_to_a_power_is_that_power_of_it(far):
    reference, before, since, fine = far
    rng = np.random.default_rng(2)
    begun = Standard(of_reference=reference.draw(50, rng), of_days=np.zeros((50, 0, 2), np.float32))

    def log_chance(past):
        return PastChance(reference, past, fine).log_chance(begun)

    both = log_chance(before.and_then(since.raised(0.25)))
    assert both == pytest.approx(log_chance(before) + 0.25 * log_chance(since))
