"""Draws moved to where pulls have put what is believed, where that is known in closed form."""

import numpy as np
import pytest

from model.planning.moves import moved
from model.planning.past import Past, PastChance
from model.planning.reference import Reference
from model.planning.standard import Standard

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


def run(reference, past, space, *, n_begin):
    """Weigh so many draws by the readings, draw again by their weights, and move."""
    rng = np.random.default_rng(5)
    begun = Standard(
        of_reference=reference.draw(n_begin, rng), of_days=np.zeros((n_begin, 0, 2), np.float32)
    )
    chance = PastChance(reference, past, space)
    log_chance = chance.log_chance(begun)
    weights = np.exp(log_chance - log_chance.max())
    found = moved(reference, (begun, weights / weights.sum()), chance, load_of, N, rng)
    load = reference.reduced(found.standard.of_reference).by_row["log_upright"][0]
    assert found.correlation < 0.5
    return load.mean(), load.std()


@pytest.mark.parametrize("n_begin", [100, 20_000])  # 25 effective draws, and thousands
def test_they_come_to_the_conjugate_posterior(reading, n_begin):
    mean, sd = posterior()
    found = run(*reading, n_begin=n_begin)
    # Moved once, draws still lean on where they began: half the few draws' own luck is left.
    luck = sd / np.sqrt(min(n_begin / 4, N))
    assert found[0] == pytest.approx(mean, abs=3 * luck)
    assert found[1] == pytest.approx(sd, rel=0.06 + 2 / np.sqrt(n_begin))


def test_slopes_are_those_of_the_log_chance(reading):
    reference, past, fine = reading
    rng = np.random.default_rng(3)
    begun = Standard(of_reference=reference.draw(40, rng), of_days=np.zeros((40, 0, 2), np.float32))
    chance = PastChance(reference, past, fine)
    along = rng.standard_normal((1, reference.n_direction)).astype(np.float32)
    along /= np.linalg.norm(along)
    near, far = (chance.log_chance(begun.like(begun.flat + h * along)) for h in (-0.02, 0.02))
    plain = (far - near) / 0.04
    is_possible = np.minimum(near, far) > -60  # at the least chance there is no slope
    assert is_possible.sum() > 20
    found = (chance.slopes(begun) @ along[0])[is_possible]
    assert found == pytest.approx(plain[is_possible], rel=0.1, abs=0.3)


def test_steps_that_are_all_taken_are_found_out(reading, monkeypatch):
    """The check has teeth: with no heed to what was seen, draws wander back to the prior."""
    reference, past, fine = reading
    begun = reference, past, fine
    real = PastChance.log_chance
    calls = []

    def once(chance, standard):
        calls.append(1)
        return real(chance, standard) if len(calls) == 1 else np.zeros(standard.n_draw)

    monkeypatch.setattr(PastChance, "log_chance", once)
    mean, sd = posterior()
    found = run(*begun, n_begin=20_000)
    assert found[1] > 1.15 * sd or abs(found[0] - mean) > 0.05


def test_a_day_is_weighed_with_what_was_seen_on_it(known_draws, space):
    """Two days' pulls of one set-up: what they share is the set-up, not the day."""
    rng = np.random.default_rng(2)
    draws = known_draws(rng.standard_normal((1, 500)), 0.05, log_day_load=np.log(0.5))
    reference = Reference.of(draws)
    past = Past.of(np.zeros(2, dtype=int), np.array([3, 1]), np.array([0, 1]))
    day = np.zeros((2, 1, 2), dtype=np.float32)
    day[1, 0, 0] = -2.0  # a day on which anchors hold e to the minus 1
    standard = Standard(of_reference=np.zeros((2, reference.n_direction), np.float32), of_days=day)
    chance = PastChance(reference, past, space(np.array([-0.5, -0.2, 0.3])))
    even, low = chance.log_chance(standard)
    assert low > even + 3
