"""Whether ranks are uniform, and how large a fault would have been found."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.stats import chi2, chisquare, ncx2, norm

Array = NDArray[np.float64]

BINS: Final = 10
"""Of the ranks, equally likely each; fixed before the first run."""
POWER: Final = 0.8
"""Chance with which a fault of the stated size is found."""


@dataclass(frozen=True, kw_only=True)
class RankRow:
    """Whether the ranks of one number are uniform.

    Parameters
    ----------
    mean : float
        Of the share of draws below the truth; 0.5 if calibrated.
    in_tails : float
        Of campaigns whose truth was among the outer tenth.
    p_value : float
        Pearson's chi-square of ten equally likely bins.
    """

    name: str
    campaigns: int
    mean: float
    in_tails: float
    p_value: float


def rank_row(name: str, ranks: Array) -> RankRow:
    """Test some ranks, each as a share of 1."""
    counts, _ = np.histogram(ranks, bins=BINS, range=(0, 1))
    return RankRow(
        name=name,
        campaigns=ranks.size,
        mean=float(ranks.mean()),
        in_tails=float(np.mean(np.abs(ranks - 0.5) > 0.45)),
        p_value=float(chisquare(counts).pvalue),
    )


def rank_rows_of(ranks: Mapping[str, Sequence[float]]) -> tuple[RankRow, ...]:
    """Test the ranks of every name, the least likely first."""
    rows = [rank_row(name, np.array(found)) for name, found in ranks.items()]
    return tuple(sorted(rows, key=lambda row: row.p_value))


def not_uniform(rows: Sequence[RankRow], error: float) -> tuple[RankRow, ...]:
    """Rows whose ranks are called off, by Holm's steps.

    Parameters
    ----------
    rows : sequence of RankRow
        The least likely first.
    error : float
        Chance, at most, that any is called off though all are uniform.
    """
    count = len(rows)
    passed = (place for place, row in enumerate(rows) if row.p_value > error / (count - place))
    return tuple(rows[: next(passed, count)])


@dataclass(frozen=True, kw_only=True)
class Detectable:
    """Faults that are found with four chances in five.

    Parameters
    ----------
    shift : float
        Truths off the middle of their draws, in standard deviations of the draws.
    mean_rank : float
        Mean rank at that shift; 0.5 if calibrated.
    spread : float
        Truths further apart than their draws, as a ratio of standard deviations.
    """

    shift: float
    mean_rank: float
    spread: float


def detectable(campaigns: int, error: float) -> Detectable:
    """What the test of one number can find, its draws and truths being normal.

    Parameters
    ----------
    campaigns : int
        Ranks of that number.
    error : float
        Chance of a false alarm of that one test.
    """
    edges = norm.ppf(np.arange(BINS + 1) / BINS)
    shift = _first_found(lambda by: norm.cdf(edges - by), 0.0, 5.0, campaigns, error)
    spread = _first_found(lambda by: norm.cdf(edges / by), 1.0, 50.0, campaigns, error)
    return Detectable(shift=shift, mean_rank=float(norm.cdf(-shift / np.sqrt(2))), spread=spread)


def _first_found(
    below: Callable[[float], Array], least: float, most: float, campaigns: int, error: float
) -> float:
    """The size at which the power is enough; infinite where even the most is not found."""
    limit = chi2.isf(error, BINS - 1)

    def lacking(size: float) -> float:
        chances = np.diff(below(size))
        away = campaigns * float(np.sum((chances - 1 / BINS) ** 2)) * BINS
        return float(ncx2.sf(limit, BINS - 1, max(away, 1e-12))) - POWER

    return float("inf") if lacking(most) < 0 else float(brentq(lacking, least, most))


RANK_HEADING: Final = (
    "| least uniform ranks | campaigns | mean rank | in the outer tenth | chi-square's p |\n"
    "|---|---:|---:|---:|---:|\n"
)


def rank_line(row: RankRow) -> str:
    """A row of a Markdown table under ``RANK_HEADING``."""
    return (
        f"| {row.name} | {row.campaigns} | {row.mean:.3f} | {100 * row.in_tails:.1f} % | "
        f"{row.p_value:.2g} |\n"
    )
