"""The table of quick answers, from the kept results alone."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from model.calibration.files import Rows
from model.calibration.quick_result import QuickResult, TwoAnswers
from model.calibration.scenario import NEW_PULLS, TablePlan

MOST_MEDIAN_DIFFERENCE: Final = 0.02
"""Of the chances that A is higher, quick against full, in the middle of all that are shown."""
MOST_ERRORS: Final = 4.0
"""Combined Monte Carlo standard errors that no shown answer may be off by."""


@dataclass(frozen=True, kw_only=True)
class QuickRow:
    """Quick answers of some campaigns, those withheld counted only.

    Parameters
    ----------
    median_difference, largest_difference : float
        Of the chances that A is higher, without sign; NaN where none was shown.
    largest_errors : float
        The largest difference in combined Monte Carlo standard errors.
    rms_errors : float
        Their root mean square: 1 where the standard errors are what they say.
    """

    name: str
    campaigns: int
    withheld: int
    answers: int
    median_difference: float
    largest_difference: float
    largest_errors: float
    rms_errors: float

    @property
    def is_within(self) -> bool:
        """Whether what is shown is as near to the full fit as it must be."""
        is_near = self.median_difference <= MOST_MEDIAN_DIFFERENCE
        return is_near and self.largest_errors <= MOST_ERRORS


def quick_row(
    name: str,
    results: Sequence[QuickResult],
    shown: Callable[[QuickResult], bool] = lambda result: not result.withheld,
) -> QuickRow:
    """One row; `shown` says of which campaigns the answers count."""
    chosen = [result for result in results if shown(result)]
    answers: list[TwoAnswers] = [answer for result in chosen for answer in result.answers]
    off = np.array([abs(answer.difference) for answer in answers])
    errors = np.array([abs(answer.in_errors) for answer in answers])
    is_empty = off.size == 0
    return QuickRow(
        name=name,
        campaigns=len(results),
        withheld=sum(bool(result.withheld) for result in results),
        answers=len(answers),
        median_difference=np.nan if is_empty else float(np.median(off)),
        largest_difference=np.nan if is_empty else float(off.max()),
        largest_errors=np.nan if is_empty else float(errors.max()),
        rms_errors=np.nan if is_empty else float(np.sqrt(np.mean(errors**2))),
    )


def quick_rows(results: Sequence[QuickResult]) -> tuple[QuickRow, ...]:
    """All together, by how many pulls are new, by whether their day is, and what was withheld."""
    fitted = [result for result in results if not result.refusal]
    by_count = [
        quick_row(
            f"{count} new pull{'' if count == 1 else 's'}, {day}",
            [
                result
                for result in fitted
                if result.scenario.new_pulls == count and result.scenario.is_new_day is is_new
            ],
        )
        for count in NEW_PULLS
        for is_new, day in ((False, "on a day that was begun"), (True, "on a day of their own"))
    ]
    hidden = quick_row("what was withheld would have said", fitted, lambda one: bool(one.withheld))
    return (quick_row("all", fitted), *by_count, hidden)


def rows_and_text(results: Sequence[QuickResult], plan: TablePlan) -> tuple[Rows, str]:
    """The rows, and the table as it is read, of the results that are there."""
    refused = sum(bool(result.refusal) for result in results)
    rows = quick_rows(results)
    head = (
        f"{len(results)} of {len(plan.scenarios)} planned campaigns; in {refused} of them one of "
        "the two fits was refused, and nothing is compared.\n"
        f"Wanted: a median difference of at most {MOST_MEDIAN_DIFFERENCE}, and none beyond "
        f"{MOST_ERRORS:g} combined Monte Carlo standard errors.\n\n"
        "| new pulls | campaigns | withheld | answers | median difference | largest | "
        "largest, in errors | rms, in errors |\n|---|---:|---:|---:|---:|---:|---:|---:|\n"
    )
    return rows, head + "".join(_line(row) for row in rows)


def _line(row: QuickRow) -> str:
    figures = " | ".join(
        f"{value:.{digits}f}" if np.isfinite(value) else "–"
        for value, digits in (
            (row.median_difference, 4),
            (row.largest_difference, 3),
            (row.largest_errors, 2),
            (row.rms_errors, 2),
        )
    )
    return f"| {row.name} | {row.campaigns} | {row.withheld} | {row.answers} | {figures} |\n"
