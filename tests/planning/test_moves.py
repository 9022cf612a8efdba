"""Draws moved to where pulls have put what is believed, where that is known in closed form."""

import numpy as np
import pytest

from model.planning import moves
from model.planning.moves import Past, Standard, log_chance, moved
from model.planning.reference import Reference

N = 4000
PRIOR_SD, NOISE = 0.6, 0.3


@pytest.fixture
def reading(known_draws, space):
    """One row, its load believed to be N(0, 0.6), read three times at 0.5 with noise 0.3."""
    rng = np.random.default_rng(1)
    draws = known_draws(PRIOR_SD * rng.standard_normal((1, 20_000)), NOISE)
    fine = space(np.linspace(-3, 3, 121))
    outcome = 1 + int(np.searchsorted(np.linspace(-3, 3, 121), 0.5))
    past = Past.of(np.zeros(3, dtype=int), np.full(3, outcome), np.zeros(3, dtype=int))
    return Reference.of(draws), past, fine


def posterior():
    """Mean and sd of a normal mean after three readings (conjugate normal)."""
    precision = 1 / PRIOR_SD**2 + 3 / NOISE**2
    return (3 * 0.475 / NOISE**2) / precision, precision**-0.5  # the middle of the cell read


def load_of(draws):
    return draws.by_row["log_upright"][0]


def run(reference, past, space, *, start):
    rng = np.random.default_rng(5)
    standard = Standard(
        of_reference=start(reference.draw(N, rng)), of_days=np.zeros((N, 0, 2), dtype=np.float32)
    )
    for _ in range(3):
        standard = moved(reference, standard, past, space, load_of, rng).standard
    load = reference.reduced(standard.of_reference).by_row["log_upright"][0]
    return load.mean(), load.std()


def test_they_come_to_the_conjugate_posterior_from_anywhere(reading):
    reference, past, fine = reading
    mean, sd = posterior()
    for start in (lambda z: z, lambda z: 0 * z - 1.5):
        found = run(reference, past, fine, start=start)
        assert found[0] == pytest.approx(mean, abs=4 * sd / np.sqrt(N) * 5)
        assert found[1] == pytest.approx(sd, rel=0.06)


def test_steps_that_are_all_taken_are_found_out(reading, monkeypatch):
    reference, past, fine = reading
    monkeypatch.setattr(moves, "log_chance", lambda *args: np.zeros(N))
    mean, _ = posterior()
    assert abs(run(reference, past, fine, start=lambda z: z)[0] - mean) > 0.2


def test_a_day_is_weighed_with_what_was_seen_on_it(known_draws, space):
    """Two days' pulls of one set-up: what they share is the set-up, not the day."""
    rng = np.random.default_rng(2)
    draws = known_draws(rng.standard_normal((1, 500)), 0.05, log_day_load=np.log(0.5))
    reference = Reference.of(draws)
    past = Past.of(np.zeros(2, dtype=int), np.array([3, 1]), np.array([0, 1]))
    day = np.zeros((2, 1, 2), dtype=np.float32)
    day[1, 0, 0] = -2.0  # a day on which anchors hold e to the minus 1
    standard = Standard(of_reference=np.zeros((2, reference.n_direction), np.float32), of_days=day)
    even, low = log_chance(reference, standard, past, space(np.array([-0.5, -0.2, 0.3])))
    assert low > even + 3
