"""Limits of shares and means over campaigns: exact binomial in clusters, and Student's t."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from scipy.stats import beta
from scipy.stats import t as student


@dataclass(frozen=True, kw_only=True)
class Share:
    """A share with its limits.

    Parameters
    ----------
    count : int
        How many cases.
    lower, upper : float
        Clopper-Pearson limits at the effective number of cases.
    effective : float
        Cases that would tell as much if they were independent.
    """

    value: float
    lower: float
    upper: float
    count: int
    effective: float

    def __str__(self) -> str:
        """As ``85.0 % (70.5–98.5)``: the share with its limits."""
        return f"{100 * self.value:.1f} % ({100 * self.lower:.1f}–{100 * self.upper:.1f})"


def share_cells(name: str, share: Share, expected: float) -> str:
    """A row of a Markdown table: cases, what should be, what is, within, and the fault it shows.

    Parameters
    ----------
    expected : float
        What the share should be, from 0 to 1.
    """
    cells = [
        name,
        str(share.count),
        f"{100 * expected:.1f} %",
        str(share),
        "yes" if share.lower <= expected <= share.upper else "NO",
        f"{50 * (share.upper - share.lower):.1f} points",
    ]
    return "| " + " | ".join(cells) + " |\n"


@dataclass(frozen=True, kw_only=True)
class Mean:
    """A mean over campaigns with its limits, each campaign counting once."""

    value: float
    lower: float
    upper: float
    campaigns: int


def mean_over_campaigns(values: Sequence[float], *, level: float) -> Mean:
    """The mean with limits by Student's t.

    Raises
    ------
    LookupError
        For fewer than two values: they tell no spread.
    """
    count = len(values)
    if count < 2:
        raise LookupError(f"{count} campaigns tell no limits")
    middle, error = float(np.mean(values)), float(np.std(values, ddof=1)) / sqrt(count)
    half = float(student.ppf((1 + level) / 2, count - 1)) * error
    return Mean(value=middle, lower=middle - half, upper=middle + half, campaigns=count)


def clustered_share(
    hits: Sequence[bool], clusters: Sequence[int], *, level: float = 0.95
) -> Share | None:
    """Share of hits with Clopper-Pearson limits for clustered cases.

    The way of Korn and Graubard (1998; from memory): the variance of the share
    between clusters, over that of as many independent cases, is the design effect;
    the number of cases is divided by it (never below 1) and by the squared ratio of
    Student's quantiles with as many degrees as clusters and as cases. All hits or none
    tell no variance: then each cluster counts as one case.

    Parameters
    ----------
    hits : sequence of bool
        One for each case.
    clusters : sequence of int
        Which campaign each case came from.

    Returns
    -------
    Share or None
        None without cases.
    """
    count = len(hits)
    if count == 0:
        return None
    value = float(np.mean(hits))
    effective = _effective_count(hits, clusters, value, level)
    found, tail = value * effective, (1 - level) / 2
    lower = 0.0 if value == 0 else float(beta.ppf(tail, found, effective - found + 1))
    upper = 1.0 if value == 1 else float(beta.ppf(1 - tail, found + 1, effective - found))
    return Share(value=value, lower=lower, upper=upper, count=count, effective=effective)


def _effective_count(
    hits: Sequence[bool], clusters: Sequence[int], value: float, level: float
) -> float:
    count = len(hits)
    sums: dict[int, float] = defaultdict(float)
    for hit, cluster in zip(hits, clusters, strict=True):
        sums[cluster] += float(hit) - value
    number = len(sums)
    if value in {0.0, 1.0} or number < 2:
        return float(number)
    variance = number / (number - 1) * sum(total**2 for total in sums.values()) / count**2
    design_effect = max(1.0, variance / (value * (1 - value) / (count - 1)))
    tail = (1 + level) / 2
    few = (student.ppf(tail, count - 1) / student.ppf(tail, number - 1)) ** 2
    return float(count / design_effect * few)


EDGES: Final = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)
"""Of the chances that are put together; fixed before the first run."""


def stated_words(chance: float) -> str:
    """Between which edges a chance lies that was stated."""
    place = int(np.searchsorted(EDGES[1:-1], chance, side="right"))
    return f"stated {EDGES[place]:.2f} to {EDGES[place + 1]:.2f}"


@dataclass(frozen=True, kw_only=True)
class ShareRow:
    """One share with what it should be.

    Parameters
    ----------
    expected : float
        Mean chance that was stated, or an interval's mass.
    is_within : bool
        Whether it lies within the limits of the share.
    """

    name: str
    expected: float
    share: Share
    is_within: bool


def share_row(
    name: str, expected: float, hits: Sequence[bool], clusters: Sequence[int], level: float
) -> ShareRow:
    """Hold a share against what it should be; see :func:`clustered_share`.

    Raises
    ------
    LookupError
        Without cases.
    """
    share = clustered_share(hits, clusters, level=level)
    if share is None:
        raise LookupError(f"no cases of {name}")
    return ShareRow(
        name=name,
        expected=expected,
        share=share,
        is_within=share.lower <= expected <= share.upper,
    )
