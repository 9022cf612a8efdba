"""What refits say beside what the rehearsals said, from the kept results alone."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta

from model.calibration.files import read_whole
from model.calibration.limits import Share, clustered_share
from model.planning.settled_rule import NONE

LEVEL: Final = 0.95

Places = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Paired:
    """The same campaigns as rehearsed and as fitted.

    Parameters
    ----------
    region : (campaign,) int
        Where the truth lies.
    rehearsed, fitted : (campaign,) int
        The finding of each; ``NONE`` where it is not settled.
    chance : (campaign,) array
        The fit's chance of the region that the rehearsal found; NaN where it found none.
    """

    region: Places
    rehearsed: Places
    fitted: Places
    chance: NDArray[np.float64]

    @classmethod
    def of(cls, results: Sequence[dict[str, Any]]) -> "Paired":
        """From the kept results of fits that did not break off."""
        rehearsed = np.array([one["rehearsed"] for one in results], dtype=np.int64)
        shares = [(one["shares"], one["rehearsed"]) for one in results]
        return cls(
            region=np.array([one["region"] for one in results], dtype=np.int64),
            rehearsed=rehearsed,
            fitted=np.array([one["finding"] for one in results], dtype=np.int64),
            chance=np.array([np.nan if at == NONE else three[at] for three, at in shares]),
        )


def excess(rehearsed: NDArray[np.bool_], fitted: NDArray[np.bool_]) -> tuple[float, float, float]:
    """Share by the rehearsal less share by the fit, and its limits.

    Exact (Clopper-Pearson) among the campaigns in which the two differ, as in McNemar's test.
    """
    more, less = int(np.sum(rehearsed & ~fitted)), int(np.sum(fitted & ~rehearsed))
    differ, tail = more + less, (1 - LEVEL) / 2
    low = 0.0 if more == 0 else float(beta.ppf(tail, more, less + 1))
    high = 1.0 if less == 0 else float(beta.ppf(1 - tail, more + 1, less))
    ends = [(2 * share - 1) * max(differ, 1) / rehearsed.size for share in (low, high)]
    return (more - less) / rehearsed.size, ends[0], ends[1]


def table_text(folder: Path, names: Sequence[str]) -> str:
    """One row a scenario."""
    head = (
        "| scenario | rehearsals | fits broke off | settled by the rehearsal | by the fit at "
        "that pull (or at the end) | more settled by the rehearsal, points | wrong of settled, "
        "rehearsed | wrong of settled, fitted | more wrong by the rehearsal, points | fit's mean "
        "chance of what was found | settled the other way |\n"
        "|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|\n"
    )
    return head + "".join(_row(folder, name) for name in names)


def _row(folder: Path, name: str) -> str:
    every = [read_whole(path, json.loads) for path in sorted(folder.glob(f"{name}-*.json"))]
    fitted = [one for one in every if "shares" in one]
    if not fitted:
        return f"| {name} | {len(every)} | {len(every)} | | | | | | | | |\n"
    both = Paired.of(fitted)
    settled = [both.rehearsed != NONE, both.fitted != NONE]
    wrong = [
        is_settled & (finding != both.region)
        for is_settled, finding in zip(settled, (both.rehearsed, both.fitted), strict=True)
    ]
    otherwise = int(np.sum(settled[0] & settled[1] & (both.rehearsed != both.fitted)))
    chance = f"{np.nanmean(both.chance):.3f}" if settled[0].any() else "–"
    return (
        f"| {name} | {len(every)} | {len(every) - len(fitted)} | {_count(settled[0])} | "
        f"{_count(settled[1])} | {_points(excess(*settled))} | {_of(wrong[0], settled[0])} | "
        f"{_of(wrong[1], settled[1])} | {_points(excess(*wrong))} | {chance} | {otherwise} |\n"
    )


def _count(those: NDArray[np.bool_]) -> str:
    return f"{int(those.sum())} ({100 * those.mean():.1f} %)"


def _points(found: tuple[float, float, float]) -> str:
    mean, low, high = (100 * share for share in found)
    return f"{mean:+.1f} ({low:+.1f} to {high:+.1f})"


def _of(some: NDArray[np.bool_], all_of: NDArray[np.bool_]) -> str:
    share: Share | None = clustered_share(
        some[all_of].tolist(), range(int(all_of.sum())), level=LEVEL
    )
    if share is None:
        return "–"
    limits = f"{100 * share.lower:.1f} to {100 * share.upper:.1f} %"
    return f"{int(some.sum())} of {int(all_of.sum())} ({limits})"
