"""The table of findings at fixed truths, from the kept results alone."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from scipy.stats import beta

from model.calibration.files import read_whole
from model.planning.information import ABOVE, BELOW, INSIDE
from model.planning.settled_rule import NONE
from model.planning.sweep import LANDMARKS

LEVEL: Final = 0.95
MOST_WRONG, MOST_OTHER_SIGN = 0.05, 0.01
"""Of the campaigns at truths within half the band, at most so many ever settled wrongly; and of all
at truths that are not nil, settled on the other side."""


@dataclass(frozen=True, kw_only=True)
class TruthRow:
    """All campaigns of one scenario at one truth.

    Parameters
    ----------
    share_of_band : float
        Where the truth lies: 0 no difference, 1 the upper end of the band, -1 the lower.
    lower, inside, higher : int
        Campaigns that were ever settled as that.
    median_pulls : float
        Of those settled; NaN where none is.
    """

    scenario: str
    share_of_band: float
    campaigns: int
    lower: int
    inside: int
    higher: int
    not_known: int
    median_pulls: float

    @classmethod
    def of(cls, result: dict[str, Any]) -> "TruthRow":
        """From a kept result."""
        finding, at = np.array(result["finding"]), np.array(result["settled_at"])
        settled = finding != NONE
        return cls(
            scenario=result["scenario"],
            share_of_band=result["share_of_band"],
            campaigns=finding.size,
            lower=int(np.sum(finding == BELOW)),
            inside=int(np.sum(finding == INSIDE)),
            higher=int(np.sum(finding == ABOVE)),
            not_known=result["not_known"],
            median_pulls=float(np.median(at[settled])) if settled.any() else float("nan"),
        )

    @property
    def wrong(self) -> int | None:
        """Settled as what it is not; None at an end of the band, where two findings are as true."""
        if abs(self.share_of_band) == 1.0:
            return None
        if abs(self.share_of_band) < 1.0:
            return self.lower + self.higher
        return self.inside + self.other_sign

    @property
    def wrong_at_most(self) -> int:
        """Settled as what it is not, and those whose end is not known: they may be as well."""
        return (self.wrong or 0) + self.not_known

    @property
    def other_sign(self) -> int:
        """Settled on the side of no difference on which the truth is not; none at no difference."""
        if self.share_of_band == 0.0:
            return 0
        return self.lower if self.share_of_band > 0 else self.higher


HEAD: Final = (
    "| scenario | true effect, of the way to the band's end | campaigns | ever settled lower | no "
    "practical difference | higher | not settled | not known | median pulls to settle | wrong | "
    "on the other side |\n|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|\n"
)


def truth_rows(folder: Path, names: Sequence[str]) -> tuple[TruthRow, ...]:
    """All truths that have a result, scenario by scenario."""
    found = [
        read_whole(path, lambda text: TruthRow.of(json.loads(text)))
        for name in names
        for path in sorted(folder.glob(f"{name}-[0-9].json"))
    ]
    return tuple(found)


def table_text(folder: Path, names: Sequence[str]) -> str:
    """The table as Markdown, its verdict first."""
    rows = truth_rows(folder, names)
    return f"{verdict(rows)}\n\n" + HEAD + "".join(_line(row) for row in rows)


def verdict(rows: Sequence[TruthRow]) -> str:
    """Which truths are settled wrongly more often than may be."""
    there = {(row.scenario, row.share_of_band) for row in rows}
    names = {row.scenario for row in rows}
    if not rows or there != {(name, share) for name in names for share in LANDMARKS}:
        return "No verdict: there are truths without a result."
    outside = []
    for row in rows:
        at = f"{row.scenario} at {row.share_of_band:+g}"
        if abs(row.share_of_band) <= 0.5 and row.wrong_at_most / row.campaigns > MOST_WRONG:
            outside.append(f"{at} (settled wrongly, or not known)")
        if row.other_sign / max(row.campaigns - row.not_known, 1) > MOST_OTHER_SIGN:
            outside.append(f"{at} (on the other side)")
    if outside:
        return f"Verdict: OUTSIDE: {'; '.join(outside)}."
    return (
        f"Verdict: at no difference and at half the band at most {MOST_WRONG:.0%} of campaigns are "
        "ever settled wrongly, those whose end is not known counted among them, and nowhere more "
        f"than {MOST_OTHER_SIGN:.0%} of those known are settled on the other side."
    )


def _line(row: TruthRow) -> str:
    settled = row.lower + row.inside + row.higher
    median = "–" if np.isnan(row.median_pulls) else f"{row.median_pulls:.0f}"
    return (
        f"| {row.scenario} | {row.share_of_band:+g} | {row.campaigns} | {row.lower} | {row.inside} "
        f"| {row.higher} | {row.campaigns - settled} | {row.not_known} | {median} | "
        f"{_share(row.wrong, row.campaigns)} | {_share(row.other_sign, row.campaigns)} |\n"
    )


def _share(count: int | None, of: int) -> str:
    """A share with its exact binomial limits (Clopper-Pearson)."""
    if count is None:
        return "–"
    tail = (1 - LEVEL) / 2
    low = 0.0 if count == 0 else float(beta.ppf(tail, count, of - count + 1))
    high = 1.0 if count == of else float(beta.ppf(1 - tail, count + 1, of - count))
    return f"{100 * count / of:.1f} % ({100 * low:.1f} to {100 * high:.1f})"
