"""Leave-one-out probability integral transform: where each pull fell in what the others expected.

Of a right model the shares are spread evenly from 0 to 1. What is left out is a whole pull; what
is looked at is the load of its first bite, given what the camera showed of it. An ending is a
range of loads, so a share is drawn evenly within it, as for any discrete outcome; of a pull that
was held or stopped, from the load it had reached to the end.
"""

from collections.abc import Mapping, Sequence
from math import log, pi, tan
from typing import Any, Final

import numpy as np
import xarray as xr
from arviz_stats.base.array import array_stats
from numpy.typing import NDArray

from model.checks.check import Check, Status, chance_words, status_at
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
    """

    pull: str
    pull_words: str
    lower: float
    upper: float
    chance: float


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

    By POT-C, a test made for shares that are not quite independent (Tesso and Vehtari 2026), over
    many drawings of the shares within their ranges, put together by Cauchy's combination; and by
    the strangest pull alone, counted over all pulls. Each at half the level.
    """
    places, lower, upper = pull_shares(bites, arrays, pulls, endings, left_out)
    rows = [
        PullShare(
            pull=left_out.pulls[place],
            pull_words=pull_name(campaign, pulls[left_out.pulls[place]]),
            lower=float(low),
            upper=float(high),
            chance=float(min(1.0, 2 * min(high, 1 - low))),
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
    """Chance that even shares look as uneven; 1 where there are too few to tell."""
    if lower.size < LEAST_PULLS:
        return 1.0
    rng = np.random.default_rng(SEED)
    found = []
    for _ in range(REPEATS):
        drawn = lower + (upper - lower) * rng.random(lower.size)
        p, _, _ = _statistics.uniformity_test(drawn, method="pot_c")
        # One drawing that happens to be all too even must not outweigh all the others.
        found.append(min(max(float(p), 1e-12), 0.99))
    mean = np.mean([tan((0.5 - p) * pi) for p in found])
    return float(0.5 - np.arctan(mean) / pi)


def _check(rows: Sequence[PullShare], lower: Array, upper: Array) -> Check:
    even = uniform_p(lower, upper)
    strangest = 1 - (1 - rows[0].chance) ** len(rows) if rows else 1.0
    status = status_at(min(1.0, 2 * min(even, strangest)))
    head = f"{len(rows)} pulls, each against what the others expect:"
    if status is Status.PASSED and len(rows) < LEAST_PULLS:
        reason = f"Only {len(rows)} pulls set: too few to tell a pattern from chance."
    elif status is Status.PASSED:
        reason = (
            f"{head} their places look even (chance alone makes them as uneven "
            f"{chance_words(even)})."
        )
    elif strangest < even:
        reason = f"{head} {_strangest_words(rows[0])}"
    else:
        reason = (
            f"{head} chance alone makes their places as uneven {chance_words(even)}. "
            f"{_shape_words(lower, upper)}"
        )
    return Check(
        name=NAME,
        title=TITLE,
        status=status,
        reason=reason,
        remedy="" if status is Status.PASSED else REMEDY,
    )


def _strangest_words(row: PullShare) -> str:
    way = "low" if row.upper < 0.5 else "high"
    rare = "less than one in 1000" if row.chance < 0.001 else f"one in {round(1 / row.chance)}"
    return f"the strangest is {row.pull_words}: {rare} ends as far out on the {way} side."


REMEDY: Final = (
    "Look at the strangest pulls first: a slip of the pen shows so. Where many are strange, the "
    "scatter of these pulls is not what the model takes it for: intervals of loads are too narrow "
    "or too wide, and chances near 95 % are not to be leaned on."
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
