"""The table of ranks, from the kept results alone."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from model.calibration.files import Rows
from model.calibration.limits import Share, clustered_share, share_cells
from model.calibration.rank_result import RankResult
from model.calibration.scenario import TablePlan
from model.calibration.uniform_ranks import (
    BINS,
    RANK_HEADING,
    RankRow,
    rank_line,
    rank_rows_of,
)

OVERALL_ERROR: Final = 0.01
"""Chance, at most, that calibrated draws are called off: half of it goes to the effects'
intervals, half to all ranks."""
INTERVALS: Final = (0.50, 0.90)


@dataclass(frozen=True, kw_only=True)
class CoverRow:
    """How often an effect's equal-tailed interval held the truth."""

    question: str
    mass: float
    share: Share
    is_within: bool


def cover_rows(results: Sequence[RankResult]) -> tuple[CoverRow, ...]:
    """Each question's 50 and 90 % intervals; a fit that broke off counts as a miss."""
    ranks: dict[str, list[float]] = defaultdict(list)
    for result in results:
        for name, rank in result.effects.items():
            ranks[name].append(rank)
    broken = sum(bool(result.refusal) for result in results)
    level = 1 - OVERALL_ERROR / 2 / max(len(ranks) * len(INTERVALS), 1)
    found = []
    for name, of_question in ranks.items():
        for mass in INTERVALS:
            hits = [abs(rank - 0.5) <= mass / 2 for rank in of_question] + [False] * broken
            share = clustered_share(hits, range(len(hits)), level=level)
            if share is None:
                raise LookupError(f"no campaigns for {name}")
            within = share.lower <= mass <= share.upper
            found.append(CoverRow(question=name, mass=mass, share=share, is_within=within))
    return tuple(found)


def rank_rows(results: Sequence[RankResult]) -> tuple[RankRow, ...]:
    """Every effect's and every parameter's ranks, the least likely first."""
    ranks: dict[str, list[float]] = defaultdict(list)
    for result in results:
        for name, rank in result.effects.items():
            ranks[f"effect, {name}"].append(rank)
        for name, rank in result.parameters.items():
            ranks[name].append(rank)
    return rank_rows_of(ranks)


COVER_HEADING: Final = (
    "| interval of the effect | campaigns | should be | is | within the limits | "
    "would show a fault of |\n|---|---:|---:|---:|---|---:|\n"
)
SHOWN: Final = 5


def table_text(
    covers: Sequence[CoverRow],
    ranks: Sequence[RankRow],
    results: Sequence[RankResult],
    planned: int,
) -> str:
    """The table as Markdown, its verdict first."""
    broken = sum(bool(result.refusal) for result in results)
    level = 1 - OVERALL_ERROR / 2 / max(len(covers), 1)
    parameters = [row for row in ranks if not row.name.startswith("effect, ")]
    tails = float(np.mean([row.in_tails for row in parameters])) if parameters else float("nan")
    return (
        f"{len(results)} of {planned} planned campaigns; {broken} fits broke off (counted as "
        f"misses).\n{_verdict(covers, ranks)}\n"
        f"Limits of shares: exact binomial (Clopper-Pearson), {100 * level:.2f} % each; a fault is "
        f"shown from half their width on. Ranks: Pearson's chi-square of {BINS} equally likely "
        f"bins, each p held against {_rank_limit(ranks):.1g}. The {len(parameters)} parameters lie "
        f"in the outer tenth in {100 * tails:.1f} % of their ranks on average.\n\n"
        + COVER_HEADING
        + "".join(
            share_cells(f"{row.question}, {row.mass:.0%}", row.share, row.mass) for row in covers
        )
        + "\n"
        + RANK_HEADING
        + "".join(rank_line(row) for row in ranks[:SHOWN])
    )


def _rank_limit(ranks: Sequence[RankRow]) -> float:
    return OVERALL_ERROR / 2 / max(len(ranks), 1)


def _verdict(covers: Sequence[CoverRow], ranks: Sequence[RankRow]) -> str:
    if not covers:
        return "No results yet: no verdict."
    outside = [f"{row.question} at {row.mass:.0%}" for row in covers if not row.is_within]
    outside += [f"ranks of {row.name}" for row in ranks if row.p_value < _rank_limit(ranks)]
    if outside:
        return f"Verdict: OUTSIDE the limits: {'; '.join(outside)}."
    return (
        f"Verdict: within the limits in all {len(covers)} intervals, and no rank of {len(ranks)} "
        "numbers is off."
    )


def rows_and_text(results: Sequence[RankResult], plan: TablePlan) -> tuple[Rows, str]:
    """The rows, and the table as it is read, of the results that are there."""
    covers, ranks = cover_rows(results), rank_rows(results)
    return (*covers, *ranks), table_text(covers, ranks, results, len(plan.scenarios))
