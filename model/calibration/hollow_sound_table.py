"""The table of the demo's standing questions over seeds, from the kept results alone."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp
from typing import Final

from model.calibration.files import Rows
from model.calibration.limits import Share, clustered_share
from model.calibration.result import (
    THIS_MODEL,
    CampaignResult,
    QuestionResult,
)
from model.calibration.scenario import TablePlan

NOMINAL: Final = 0.90
"""Share of its truths that a 90 % interval is meant to hold."""

OVERALL_ERROR: Final = 0.05
"""Chance, at most, that any limit of the table leaves 90 % out by luck; split over its rows."""

ALL: Final = "all questions"


@dataclass(frozen=True, kw_only=True)
class CoverageRow:
    """One question, or all of them.

    Parameters
    ----------
    truth : float or None
        As asked: ratio or difference; None for all questions.
    covered : int
        Seeds (or questions of seeds) whose 90 % interval holds the truth.
    share : Share
        The same as a share; a refused fit counts as a miss.
    is_within : bool
        Whether 90 % lies within the limits of the share.
    mean_width : float or None
        Of the 90 % interval, log ratio or difference; None for all, and without answers.
    """

    question: str
    scale: str
    truth: float | None
    covered: int
    answered: int
    share: Share
    is_within: bool
    mean_width: float | None


def coverage_rows(results: Sequence[CampaignResult]) -> tuple[CoverageRow, ...]:
    """Every question in the campaign's order of results, then all of them."""
    cases = [
        (result.scenario.number, question)
        for result in results
        for question in (*result.general, *result.comparisons)
    ]
    names = list(dict.fromkeys(question.question for _, question in cases))
    if not names:
        return ()
    level = 1 - OVERALL_ERROR / (len(names) + 1)
    rows = [
        _row(name, [case for case in cases if case[1].question == name], level) for name in names
    ]
    return (*rows, _row(ALL, cases, level))


def _row(name: str, cases: Sequence[tuple[int, QuestionResult]], level: float) -> CoverageRow:
    hits = [question.is_covered for _, question in cases]
    share = clustered_share(hits, [number for number, _ in cases], level=level)
    if share is None:
        raise LookupError(f"no results of {name}")
    kept = [one for _, question in cases if (one := question.estimates[THIS_MODEL]) is not None]
    is_one = name != ALL
    return CoverageRow(
        question=name,
        scale=cases[0][1].scale if is_one else "",
        truth=cases[0][1].truth if is_one else None,
        covered=sum(hits),
        answered=len(kept),
        share=share,
        is_within=share.lower <= NOMINAL <= share.upper,
        mean_width=sum(one.upper90 - one.lower90 for one in kept) / len(kept)
        if is_one and kept
        else None,
    )


HEADING: Final = (
    "| question | truth | answered | covered | 90 % interval covers | 90 % within the limits "
    "| mean width |\n|---|---:|---:|---:|---:|---|---:|\n"
)


def table_text(rows: Sequence[CoverageRow], results: Sequence[CampaignResult], planned: int) -> str:
    """The table as Markdown, its verdict first."""
    refused = sum(bool(result.refusal) for result in results)
    divergences = sum(result.divergences for result in results)
    with_some = sum(result.divergences > 0 for result in results)
    level = 1 - OVERALL_ERROR / max(len(rows), 1)
    return (
        f"{len(results)} of {planned} planned seeds; {refused} fits refused (counted as misses); "
        f"{divergences} divergences, in {with_some} fits.\n"
        f"{_verdict(rows)}\n"
        f"Limits: exact binomial (Clopper-Pearson), {1 - OVERALL_ERROR:.0%} over all rows at once "
        f"({100 * level:.2f} % each); all questions together at the effective number of cases, "
        "clustered by seed.\n"
        "The truth is fixed and not drawn from the priors: an interval that leans on its prior may "
        "cover more or less often than 90 %.\n"
        "Width: of the log for ratios, plain for differences.\n\n"
        + HEADING
        + "".join(_line(row) for row in rows)
    )


def _verdict(rows: Sequence[CoverageRow]) -> str:
    outside = [
        f"{row.question} ({'covers too seldom' if row.share.upper < NOMINAL else 'too often'})"
        for row in rows
        if not row.is_within
    ]
    if not rows:
        return "No results yet: no verdict."
    if outside:
        return f"Verdict: 90 % is OUTSIDE the limits of: {'; '.join(outside)}."
    return f"Verdict: 90 % is within the limits in all {len(rows)} rows."


def _line(row: CoverageRow) -> str:
    share = row.share
    cells = [
        row.question,
        _truth(row),
        str(row.answered),
        f"{row.covered} of {share.count}",
        str(share),
        "yes" if row.is_within else "NO",
        "–" if row.mean_width is None else f"{row.mean_width:.3f}",
    ]
    return "| " + " | ".join(cells) + " |\n"


def _truth(row: CoverageRow) -> str:
    if row.truth is None:
        return "–"
    return f"× {exp(row.truth):.3f}" if row.scale == "log ratio" else f"{row.truth:+.3f}"


def rows_and_text(results: Sequence[CampaignResult], plan: TablePlan) -> tuple[Rows, str]:
    """The rows, and the table as it is read, of the results that are there."""
    rows = coverage_rows(results)
    return rows, table_text(rows, results, len(plan.scenarios))
