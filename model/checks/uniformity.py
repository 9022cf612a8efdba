"""Leave-one-out probability integral transform: where each pull fell in what the others expected.

What the others expect is what the draws say without the pull: no fit is made without it.

Of a right model the shares are spread evenly from 0 to 1. What is left out is a whole pull; what
is looked at is the load of its first bite, given what the camera showed of it. An ending is a
range of loads, so a share is drawn evenly within it, as for any discrete outcome; of a pull that
was held or stopped, from the load it had reached to the end.
"""

from collections.abc import Mapping, Sequence
from functools import cache
from math import log
from typing import Any, Final

import numpy as np
import xarray as xr
from arviz_stats.base.array import array_stats
from numpy.typing import NDArray

from model.checks.check import NO_PULL, Check, Status, chance_words, not_checked, status_at, worst
from model.checks.endings import LEFT_OUT, Endings, first_rows
from model.checks.first_bites import FirstBites
from model.checks.leave_one_out import LeftOut
from model.checks.pull_names import pull_name
from model.records.base import Record
from model.records.campaign import Campaign
from model.records.pull import Ending, Pull

Array = NDArray[np.float64]

_statistics: Any = array_stats  # ships no types

NAME: Final = "uniformity"
TITLE: Final = "do loads fall where the other pulls expect them"
SEED: Final = 20_261_129
REPEATS: Final = 100
"""Times that shares are drawn within their ranges, so that the verdict hangs on no single draw."""
RANGE: Final = ("lower_kn", "upper_kn", "lower_log_hold", "upper_log_hold", "spoilt_share")
"""What the arrays hold of a bite's range."""
NULLS: Final = 4000
"""Sets of even places by which the test is calibrated: 1 in 1000 is still told."""
LEAST_PULLS: Final = 10
"""With fewer no pattern can be told from chance."""


class PullShare(Record):
    """Where one pull fell.

    Parameters
    ----------
    lower, upper : float
        Share of the loads that the others expected below its range, and up to its end.
    chance : float
        Chance of an ending as far out, either way.
    is_known : bool
        Whether the draws can tell: the weights without it are within the limit of Pareto's k.
        Where they are not, the pull may be stranger than it looks.
    """

    pull: str
    pull_words: str
    lower: float
    upper: float
    chance: float
    is_known: bool = True


class Uniformity(Record):
    """The check with where each pull fell, the strangest first."""

    check: Check
    rows: tuple[PullShare, ...]


def check_uniformity(
    campaign: Campaign,
    pulls: Mapping[str, Pull],
    bites: FirstBites,
    arrays: xr.Dataset,
    endings: Endings,
    left_out: LeftOut,
) -> Uniformity:
    """Work out where each pull fell, and test whether that is even.

    By POT-C, a test made for shares that are not quite independent (Tesso and Vehtari 2026), with
    the middle one of many drawings of the shares within their ranges; and by the strangest pull
    alone, counted over all pulls. Each at half the level.
    """
    places, lower, upper = pull_shares(bites, arrays, pulls, endings, left_out)
    rows = [
        PullShare(
            pull=left_out.pulls[place],
            pull_words=pull_name(campaign, pulls[left_out.pulls[place]]),
            lower=float(low),
            upper=float(high),
            chance=float(min(1.0, 2 * min(high, 1 - low))),
            is_known=left_out.weights[place].is_within_limit,
        )
        for place, low, high in zip(places, lower, upper, strict=True)
    ]
    rows.sort(key=lambda row: row.chance)
    return Uniformity(check=_check(rows, lower, upper), rows=tuple(rows))


def pull_shares(
    bites: FirstBites,
    arrays: xr.Dataset,
    pulls: Mapping[str, Pull],
    endings: Endings,
    left_out: LeftOut,
) -> tuple[NDArray[np.int64], Array, Array]:
    """Pulls that set, and the ends of the range of each one's share, each ``(set pull,)``."""
    places, rows = first_rows(arrays)
    data = {name: arrays[name].to_numpy()[rows] for name in RANGE}
    spoilt = np.array(
        [
            _spoilt_below(pulls[left_out.pulls[place]], endings, place, data, row)
            for row, place in enumerate(places)
        ]
    )
    seen = endings.seen
    by_seen = np.where(seen != LEFT_OUT, bites.seen[:, seen].transpose(0, 2, 1), 1.0)
    known = left_out.shares * (bites.p_mode * by_seen)  # (mode, draw, pull), of what was seen
    known /= known.sum(axis=(0, 1))
    with np.errstate(divide="ignore"):
        lower, upper = np.log(data["lower_kn"]), np.log(data["upper_kn"])
    low = _below(bites, known, places, (lower, data["lower_log_hold"], spoilt))
    flat = spoilt + data["spoilt_share"]
    high = _below(bites, known, places, (upper, data["upper_log_hold"], flat))
    high = np.where(np.isposinf(upper), 1.0, high)
    return places, np.clip(low, 0, 1), np.clip(high, 0, 1)


def _below(
    bites: FirstBites, known: Array, places: NDArray[np.int64], end: tuple[Array, Array, Array]
) -> Array:
    """Chance of less than one end of each range, ``(set pull,)``.

    Parameters
    ----------
    known : (mode, draw, pull) array
        Weights that sum to 1 for each pull.
    end : tuple of array
        Log load, log of the dwells held there, and share of spoilt bites below, by set pull.
    """
    n_pull = bites.p_sets.shape[1]
    log_kn, log_hold, flat = (np.zeros(n_pull) for _ in end)
    for whole, told in zip((log_kn, log_hold, flat), end, strict=True):
        whole[places] = told
    spoilt = bites.spoilt[:, None]
    below = (1 - spoilt) * bites.below(log_kn, log_hold) + spoilt * flat
    found: Array = (known * below).sum(axis=(0, 1))[places]
    return found


def _spoilt_below(
    pull: Pull, endings: Endings, place: int, data: Mapping[str, Array], row: int
) -> float:
    """Share of spoilt bites that let go below the lower end of a pull's range."""
    share, low, high = (data[name][row] for name in ("spoilt_share", "lower_kn", "upper_kn"))
    bite, ladder = pull.bites[0], endings.ladders[place]
    if bite.ending in {Ending.HELD, Ending.STOPPED}:
        return float(1 - share)
    if high > low and (ladder is None or bite.reading == "peak"):
        return float(min(low * share / (high - low), 1 - share))
    if ladder is None:
        return float(1 - share)
    longer = max(0.0, log(ladder.final_hold_s / ladder.steps[-1].dwell_s))
    cells = len(ladder.steps) + (longer > 0)
    return float(min(sum(step <= low for step in ladder.loads_kn) / cells, 1 - share))


def uniform_p(lower: Array, upper: Array) -> float:
    """Chance that even shares look as uneven; 1 where there are too few to tell.

    What the test says of so many even places is drawn, not taken from its formula: of 40 it calls
    7 % uneven at a level of 5 %, and 9 % with its drawings put together by Cauchy's combination.
    """
    if lower.size < LEAST_PULLS:
        return 1.0
    rng = np.random.default_rng(SEED)
    drawn = (lower + (upper - lower) * rng.random(lower.size) for _ in range(REPEATS))
    middle = float(np.median([_pot_c(places) for places in drawn]))
    return float((1 + np.searchsorted(_even(lower.size), middle, side="right")) / (1 + NULLS))


@cache
def _even(count: int) -> Array:
    """What the test says of sets of so many even places, ascending."""
    rng = np.random.default_rng(SEED)
    return np.sort([_pot_c(rng.random(count)) for _ in range(NULLS)])


def _pot_c(places: Array) -> float:
    p, _, _ = _statistics.uniformity_test(places, method="pot_c")
    return float(p)


def _check(rows: Sequence[PullShare], lower: Array, upper: Array) -> Check:
    if not rows:
        return not_checked(NAME, TITLE, NO_PULL)
    even = uniform_p(lower, upper)
    strangest = 1 - (1 - rows[0].chance) ** len(rows)
    by_chance = status_at(min(1.0, 2 * min(even, strangest)))
    status = worst([by_chance, Status.PASSED if rows[0].is_known else Status.LOOK])
    pulls = "one pull" if len(rows) == 1 else f"{len(rows)} pulls"
    head = f"{pulls[0].upper()}{pulls[1:]}, each against what the others expect:"
    if by_chance is Status.PASSED and len(rows) < LEAST_PULLS:
        reason = f"Only {pulls} set, none strangely far out: too few to tell a pattern from chance."
    elif by_chance is Status.PASSED:
        reason = (
            f"{head} their places look even (chance alone makes them as uneven "
            f"{chance_words(even)})."
        )
    elif strangest < even:
        reason = f"{head} {_strangest_words(rows[0])}"
        if status_at(min(1.0, 2 * even)) is not Status.PASSED:
            reason = f"{reason} {_shape_words(lower, upper)}"
    else:
        reason = (
            f"{head} chance alone makes their places as uneven {chance_words(even)}. "
            f"{_shape_words(lower, upper)}"
        )
    return Check(
        name=NAME,
        title=TITLE,
        status=status,
        reason=" ".join([reason, *_unknown_words(rows)]),
        remedy=_remedy(status, by_chance),
    )


def _remedy(status: Status, by_chance: Status) -> str:
    if by_chance is not Status.PASSED:
        return REMEDY
    return "" if status is Status.PASSED else UNKNOWN_REMEDY


def _unknown_words(rows: Sequence[PullShare]) -> list[str]:
    """Of how many places the draws tell little, and whether the strangest is among them."""
    count = sum(not row.is_known for row in rows)
    if not count:
        return []
    of_places = "one place" if count == 1 else f"{count} places"
    told = [f"Of {of_places} the draws tell little (Pareto k beyond its limit)."]
    if not rows[0].is_known:
        told.append(f"Among them is the strangest, {rows[0].pull_words}: it may be stranger still.")
    return told


def _strangest_words(row: PullShare) -> str:
    way = "low" if row.upper < 0.5 else "high"
    rare = "less than one in 1000" if row.chance < 0.001 else f"one in {round(1 / row.chance)}"
    return f"the strangest is {row.pull_words}: {rare} ends as far out on the {way} side."


REMEDY: Final = (
    "Look at the strangest pulls first: a slip of the pen shows so. Where many are strange, the "
    "scatter of these pulls is not what the model takes it for: intervals of loads are too narrow "
    "or too wide, and chances near 95 % are not to be leaned on."
)


UNKNOWN_REMEDY: Final = (
    "Look at the strangest pull on the film and in the log: a slip of the pen may be behind it. "
    "`kedgewise check --refit` says what the answers would be without it."
)


def _shape_words(lower: Array, upper: Array) -> str:
    """How the places differ from even ones, in words."""
    mean = float(((lower + upper) / 2).mean())
    if abs(mean - 0.5) > 0.1:
        return f"Loads are {'lower' if mean < 0.5 else 'higher'} than expected."
    within = np.linspace(0, 1, 101)[:, None]
    from_middle = float(np.abs(lower + (upper - lower) * within - 0.5).mean())
    if from_middle > 0.25:  # of even places a quarter
        return "More pulls than expected lie far out: the model is too sure."
    return "More pulls than expected lie near the middle: the model is not sure enough."
