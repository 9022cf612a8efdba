"""Draws taken step by step through pulls that leave too few of them at once.

An outcome that nobody expected can leave a handful of two thousand draws with any weight, and
a move that begins on a handful ends near it. So the chances of the pulls since the last move are
brought in by powers that grow from 0 to 1 (annealed importance sampling: Neal 2001; sequential
Monte Carlo samplers: Del Moral, Doucet, Jasra 2006), each as large as leaves draws enough, and
the draws are moved after each.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from model.planning.moves import moved
from model.planning.outcome_table import OutcomeSpace
from model.planning.past import Past, PastChance
from model.planning.reduced import Reduced
from model.planning.reference import Reference
from model.planning.standard import Standard
from model.questions.weights import effective_draws

Array = NDArray[np.float64]

WORTH_MOVED: Final = 100.0
"""Effective draws that a move begins on, at least."""
MOST_STAGES: Final = 30
"""Moves after which it is given up: draws that lose all their weight again and again."""


@dataclass(frozen=True, kw_only=True)
class Annealed:
    """Draws of what is believed after some pulls.

    Parameters
    ----------
    has_moved : bool
        Whether every move moved the draws' effect; if not, they tell no more.
    lowest_worth : float
        Least effective draws that a move began on.
    stages : int
        How many moves it took.
    """

    standard: Standard
    has_moved: bool
    lowest_worth: float
    stages: int


def annealed(
    reference: Reference,
    weighted: tuple[Standard, Array],
    before: Past,
    since: Past,
    space: OutcomeSpace,
    effect: Callable[[Reduced], Array],
    n_draw: int,
    rng: np.random.Generator,
) -> Annealed:
    """Move weighted draws to what is believed after all pulls, in as many stages as it takes.

    Parameters
    ----------
    weighted : Standard and (draw,) array
        Draws that count alike after the pulls `before`, and the log of their chance of those
        `since`, up to a constant.
    before, since : Past
        Pulls up to the last move, and after it.
    effect, n_draw
        As of :func:`model.planning.moves.moved`.
    """
    standard, log_chance = weighted
    of_since = PastChance(reference, since, space)
    power = 0.0
    worths: list[float] = []
    while power < 1.0 and len(worths) < MOST_STAGES:
        step = _step(log_chance, 1.0 - power)
        shares = _shares(step * log_chance)
        power = 1.0 if step == 1.0 - power else power + step
        worths.append(effective_draws(shares))
        chance = PastChance(reference, before.and_then(since.raised(power)), space)
        found = moved(reference, (standard, shares), chance, effect, n_draw, rng)
        standard = found.standard
        if found.has_stood_still:
            break
        if power < 1.0:
            log_chance = of_since.log_chance(standard)
    return Annealed(
        standard=standard,
        has_moved=power == 1.0 and not found.has_stood_still,
        lowest_worth=min(worths),
        stages=len(worths),
    )


def _shares(log_weights: Array) -> Array:
    shares = np.exp(log_weights - log_weights.max())
    found: Array = shares / shares.sum()
    return found


def _step(log_chance: Array, most: float) -> float:
    """The largest power, `most` at most, that leaves draws enough."""
    least = min(WORTH_MOVED, log_chance.size - 1.0)

    def spare(power: float) -> float:
        return effective_draws(_shares(power * log_chance)) - least

    if spare(most) >= 0:
        return most
    return float(brentq(spare, 0.0, most, xtol=1e-4 * most))
