"""Whole pulls as they would go on the water: first release, slips, re-sets, how they end."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.outcomes.measures import of_bites
from model.outcomes.prediction import Prediction, sigmoid
from model.questions.readings import Readings, as_read
from model.records.campaign import Ladder

Array = NDArray[np.float64]

MOST_BITES: Final = 6
"""Bites after which a course is broken off: so many slips in one pull are all but unheard of."""

HELD: Final = -1
"""In the place of a step's number: held to the end of the final hold."""
NO_BITE: Final = -2
"""In the place of a step's number: no such bite."""

SHOWN_COURSES: Final = 4


@dataclass(frozen=True, kw_only=True)
class Course:
    """One way a pull can go, step by step.

    Parameters
    ----------
    steps_kn : tuple of float
        Where each bite let go, kN; the last is left out where it held.
    is_held : bool
        Whether the last bite held to the end; with no steps and not held, it never set.
    chance : float
        Of all pulls, 0 to 1.
    """

    steps_kn: tuple[float, ...]
    is_held: bool
    chance: float


@dataclass(frozen=True, kw_only=True)
class WholePulls:
    """How the next pull of a set-up would go, on a day like any other; chances of all pulls.

    Parameters
    ----------
    ladder, boat : str
        Names of the ladder that it would climb, and of the boat, which reads its steps.
    p_never_sets, p_holds_at_first : float
        It drags without biting; its first bite holds to the end.
    p_slips : float
        It lets go and digs in again, once or more.
    p_slips_and_holds : float
        It slips, and a later bite holds to the end.
    p_gone : float
        It lets go in the end and does not dig in again.
    courses : tuple of Course
        The likeliest courses, step by step.
    """

    ladder: str
    boat: str
    p_never_sets: float
    p_holds_at_first: float
    p_slips: float
    p_slips_and_holds: float
    p_gone: float
    courses: tuple[Course, ...]

    @property
    def p_holds(self) -> float:
        """Chance that it holds to the end, at once or after slips."""
        return self.p_holds_at_first + self.p_slips_and_holds

    @property
    def p_resets(self) -> float | None:
        """Chance that a pull that lets go re-sets: digs in again and stands the thrust that is on.

        Rarer than digging in again, which the model's own re-set chance is about. None
        where it never lets go under any draw.
        """
        p_lets_go = 1 - self.p_never_sets - self.p_holds_at_first
        return self.p_slips / p_lets_go if p_lets_go > 0 else None


def whole_pulls(
    prediction: Prediction,
    readings: Readings | None,
    hold_exponent: Array,
    rng: np.random.Generator,
) -> tuple[WholePulls | None, ...]:
    """One pull of each set-up under every draw, up the campaign's newest ladder.

    Parameters
    ----------
    prediction : Prediction
        Of the set-ups, ``(draw, row)``, in true loads.
    readings : Readings or None
        Ladder and boat of the pull; see :func:`model.questions.readings.newest_readings`.
    hold_exponent : (draw,)
        By which a final hold is harder than one dwell.

    Returns
    -------
    tuple of WholePulls or None
        One a row; None where the campaign knows no ladder.
    """
    n_row: int = prediction.logit_upright.shape[1]
    if readings is None:
        return (None,) * n_row
    # A pull's scatter holds its patch as well, which its bites share; a gauge's shift is a bite's.
    seen = of_bites(as_read(prediction, readings))
    courses = _courses(seen, readings.ladder, hold_exponent, rng)
    return tuple(_summary(readings, courses[:, row]) for row in range(n_row))


def _courses(
    prediction: Prediction, ladder: Ladder, hold_exponent: Array, rng: np.random.Generator
) -> NDArray[np.int64]:
    """``(draw, row, bite)``: the step at which each bite let go, ``HELD`` or ``NO_BITE``."""
    shape = prediction.logit_upright.shape
    log_steps = np.log(np.array(ladder.loads_kn))
    log_final = log_steps[-1] + hold_exponent * _log_final_hold(ladder)
    # One day and one patch a draw, shared by the pull's bites.
    day = rng.standard_normal((shape[0], 1)) * prediction.day_load[:, None]
    day_logit = rng.standard_normal((shape[0], 1)) * prediction.day_logit[:, None]
    ground = day + rng.standard_normal(shape) * prediction.pull_load[:, None]
    found = np.full((*shape, MOST_BITES), NO_BITE, dtype=np.int64)
    is_on = rng.random(shape) < prediction.p_sets
    thrust = np.full(shape, -np.inf)
    for bite in range(MOST_BITES):
        is_later = bite > 0
        if is_later:
            is_on &= rng.random(shape) < prediction.p_resets
        load = ground + _log_capacity(prediction, day_logit, rng, is_later=is_later)
        is_on &= load > thrust
        is_held = load > log_final[:, None]
        # What stands the top's dwell and not its final hold lets go at the top as well.
        last = log_steps.size - 1
        step = np.minimum(np.searchsorted(log_steps, load, side="left"), last)
        step = np.where(is_held, HELD, step)
        found[..., bite] = np.where(is_on, step, NO_BITE)
        thrust = np.where(is_on & ~is_held, log_steps[np.maximum(step, 0)], thrust)
        is_on &= ~is_held
    return found


def _log_final_hold(ladder: Ladder) -> float:
    """Log of the final hold in dwells of the top step; 0 where it is no longer than one."""
    return max(0.0, log(ladder.final_hold_s / ladder.steps[-1].dwell_s))


def _log_capacity(
    prediction: Prediction, day_logit: Array, rng: np.random.Generator, *, is_later: bool
) -> Array:
    """Log capacity of one bite of each pull as it is read, its ground left out, log kN."""
    shape = prediction.logit_upright.shape
    logit = prediction.logit_upright + day_logit + is_later * prediction.later_logit[:, None]
    is_upright = rng.random(shape) < sigmoid(logit)
    sd = np.where(is_upright, prediction.sd_upright, prediction.sd_on_side)
    mean = np.where(is_upright, prediction.log_upright, prediction.log_on_side)
    mean = mean + is_later * prediction.later_load[:, None]
    found: Array = mean + sd * rng.standard_normal(shape)
    return found


def _summary(readings: Readings, courses: NDArray[np.int64]) -> WholePulls:
    """Chances of one row from its courses ``(draw, bite)``."""
    first, second = courses[:, 0], courses[:, 1]
    holds = (courses == HELD).any(axis=1)
    slips = second != NO_BITE
    return WholePulls(
        ladder=readings.ladder.name,
        boat=readings.boat,
        p_never_sets=float(np.mean(first == NO_BITE)),
        p_holds_at_first=float(np.mean(first == HELD)),
        p_slips=float(np.mean(slips)),
        p_slips_and_holds=float(np.mean(slips & holds)),
        p_gone=float(np.mean((first != NO_BITE) & ~holds)),
        courses=_likeliest(readings.ladder.loads_kn, courses),
    )


def _likeliest(loads_kn: Sequence[float], courses: NDArray[np.int64]) -> tuple[Course, ...]:
    found, counts = np.unique(courses, axis=0, return_counts=True)
    likeliest = np.argsort(-counts, kind="stable")[:SHOWN_COURSES]
    return tuple(
        Course(
            steps_kn=tuple(loads_kn[step] for step in found[index] if step not in (HELD, NO_BITE)),
            is_held=bool((found[index] == HELD).any()),
            chance=float(counts[index] / len(courses)),
        )
        for index in likeliest
    )
