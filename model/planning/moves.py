"""Draws moved to where the pulls so far have put what is believed, exactly.

Once weights rest on few draws, these are drawn again by their weights and each is moved by a
Markov chain that leaves "the density before, times the chance of all that was seen" as it is:
preconditioned Crank-Nicolson steps (Cotter, Roberts, Stuart, White 2013), which propose
``c z + sqrt(1 - c^2) xi`` of standard normals z and accept by the ratio of chances alone.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.planning.outcome_table import OutcomeSpace
from model.planning.pull_chance import pull_chances
from model.planning.reduced import Reduced
from model.planning.reference import Reference

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Places = NDArray[np.int64]

STEPS: Final = (8, 60)
"""Least and most steps of a move."""
FIRST_STEP: Final = 0.3
"""Share of a fresh normal in the first proposal; later ones are made to be taken three in ten."""
TAKEN: Final = 0.3
LEAST_STEP: Final = 0.02
MOVED_ENOUGH: Final = 0.5
"""Correlation of the draws' effect before and after a move below which it has moved."""
LEAST_CHANCE: Final = 1e-30


@dataclass(frozen=True, kw_only=True)
class Past:
    """Pulls made so far.

    Parameters
    ----------
    rows, outcomes, days : (kind,) int
        Row of the reduced draws, what was seen, and day counted from 0.
    counts : (kind,) array
        How many pulls were like that.
    """

    rows: Places
    outcomes: Places
    days: Places
    counts: Array

    @classmethod
    def of(cls, rows: Places, outcomes: Places, days: Places) -> "Past":
        """Pulls one by one, those that are alike counted."""
        kinds, counts = np.unique(np.stack([rows, outcomes, days]), axis=1, return_counts=True)
        return cls(rows=kinds[0], outcomes=kinds[1], days=kinds[2], counts=counts.astype(float))


@dataclass(frozen=True, kw_only=True)
class Standard:
    """Draws as standard normals.

    Parameters
    ----------
    of_reference : (draw, direction) array
    of_days : (draw, day, 2) array
        Of each day after the first: on log load, on the logit of upright.
    """

    of_reference: Single
    of_days: Single

    @property
    def n_draw(self) -> int:
        """How many draws."""
        return len(self.of_reference)

    def chosen(self, which: Places) -> "Standard":
        """Some of the draws."""
        return Standard(of_reference=self.of_reference[which], of_days=self.of_days[which])

    def with_day(self, rng: np.random.Generator) -> "Standard":
        """The same with one more day."""
        news = rng.standard_normal((self.n_draw, 1, 2), dtype=np.float32)
        return Standard(
            of_reference=self.of_reference, of_days=np.concatenate([self.of_days, news], axis=1)
        )

    def stepped(self, kept: float, rng: np.random.Generator) -> "Standard":
        """A Crank-Nicolson proposal."""
        size = np.float32(np.sqrt(1 - kept**2))

        def step(values: Single) -> Single:
            news = rng.standard_normal(values.shape, dtype=np.float32)
            found: Single = np.float32(kept) * values + size * news
            return found

        return Standard(of_reference=step(self.of_reference), of_days=step(self.of_days))

    def where(self, is_taken: NDArray[np.bool_], other: "Standard") -> "Standard":
        """The other's draws where they are taken."""
        return Standard(
            of_reference=np.where(is_taken[:, None], other.of_reference, self.of_reference),
            of_days=np.where(is_taken[:, None, None], other.of_days, self.of_days),
        )


def day_effects(draws: Reduced, standard: Standard, day: int) -> tuple[Array, Array]:
    """Effects of a day under each draw, ``(draw,)`` each; the first day's stand in the draws."""
    if day == 0:
        return draws.by_draw["today_load"], draws.by_draw["today_logit"]
    load, logit = standard.of_days[:, day - 1].T
    return (
        np.exp(draws.by_draw["log_day_load"]) * load,
        np.exp(draws.by_draw["log_day_logit"]) * logit,
    )


def log_chance(reference: Reference, standard: Standard, past: Past, space: OutcomeSpace) -> Array:
    """Log chance of all that was seen, ``(draw,)``."""
    draws = reference.reduced(standard.of_reference)
    by_day = [day_effects(draws, standard, day) for day in range(int(past.days.max()) + 1)]
    load, logit = (np.stack([effects[i] for effects in by_day])[past.days] for i in range(2))
    chances = pull_chances(draws, past.rows, past.outcomes, (load, logit), space)
    found: Array = past.counts @ np.log(np.maximum(chances, LEAST_CHANCE))
    return found


@dataclass(frozen=True, kw_only=True)
class Moved:
    """Draws after a move.

    Parameters
    ----------
    correlation : float
        Of what is asked, before and after, -1 to 1: near 1 the draws stand where they stood,
        copies beside each other, and are worth no more than before.
    """

    standard: Standard
    correlation: float


def moved(
    reference: Reference,
    standard: Standard,
    past: Past,
    space: OutcomeSpace,
    effect: Callable[[Reduced], Array],
    rng: np.random.Generator,
) -> Moved:
    """Move draws that follow what is believed after some pulls; they follow it afterwards.

    Parameters
    ----------
    effect : callable
        What is asked, of draws: moves go on until it has moved, but not for ever.
    """
    before = effect(reference.reduced(standard.of_reference))
    found, now = standard, log_chance(reference, standard, past, space)
    step, correlation = FIRST_STEP, 1.0
    least, most = STEPS
    for number in range(1, most + 1):
        other = found.stepped(float(np.sqrt(1 - step**2)), rng)
        then = log_chance(reference, other, past, space)
        is_taken = np.log(rng.random(now.size)) < then - now
        found, now = found.where(is_taken, other), np.where(is_taken, then, now)
        step = float(np.clip(step * np.exp(is_taken.mean() - TAKEN), LEAST_STEP, 1.0))
        if number % least == 0:
            correlation = _correlation(before, effect(reference.reduced(found.of_reference)))
            if correlation < MOVED_ENOUGH:
                break
    return Moved(standard=found, correlation=correlation)


def _correlation(before: Array, after: Array) -> float:
    if not (np.ptp(before) and np.ptp(after)):
        return 0.0
    return float(np.corrcoef(before, after)[0, 1])
