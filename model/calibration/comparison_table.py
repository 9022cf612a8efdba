"""The table of three-pull-a-side comparisons, from the kept results alone."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from model.calibration.files import Rows
from model.calibration.limits import Share, clustered_share
from model.calibration.result import (
    CENSORED_LOGNORMAL,
    ESTIMATORS,
    SPREADSHEET,
    THIS_MODEL,
    CampaignResult,
    Estimate,
    QuestionResult,
)
from model.calibration.scenario import TablePlan

LABELS: Final = {
    SPREADSHEET: "spreadsheet: mean of step values, held = top step, Welch",
    CENSORED_LOGNORMAL: "censored log-normal, one anchor alone",
    THIS_MODEL: "this model",
}


@dataclass(frozen=True, kw_only=True)
class Case:
    """One comparison of one campaign."""

    campaign: int
    is_prior: bool
    result: QuestionResult


@dataclass(frozen=True, kw_only=True)
class Row:
    """What one estimator does over one group of comparisons.

    Parameters
    ----------
    coverage90, coverage50 : Share or None
        Truth within the interval; a refused fit counts as a miss.
    coverage90_answered : Share or None
        The same, of what was answered.
    answered : int
        Comparisons with an answer.
    width90, rmse, median_error : float or None
        Mean log width of the 90 % interval, root mean square and median absolute
        error of the log ratio, over the comparisons that every estimator answers.
    claims, wrong_claims : Share or None
        Directions claimed at 95 %, and those that are wrong: of the other sign, or
        any at all where the truth is exactly 0. Shares of all comparisons.
    """

    group: str
    estimator: str
    count: int
    answered: int
    coverage90: Share | None
    coverage90_answered: Share | None
    coverage50: Share | None
    width90: float | None
    rmse: float | None
    median_error: float | None
    claims: Share | None
    wrong_claims: Share | None


GROUPS: Final[dict[str, Callable[[Case], bool]]] = {
    "all": lambda _: True,
    "truths from the priors": lambda case: case.is_prior,
    "truths off the priors": lambda case: not case.is_prior,
    "off the priors, no effect": lambda case: not case.is_prior and case.result.truth == 0,
    "off the priors, an effect": lambda case: not case.is_prior and case.result.truth != 0,
    "a side of held pulls only": lambda case: _is_all_held(case.result),
}


def _is_all_held(result: QuestionResult) -> bool:
    return (result.pulls_a > 0 and result.held_a == result.pulls_a) or (
        result.pulls_b > 0 and result.held_b == result.pulls_b
    )


def comparison_rows(results: Sequence[CampaignResult]) -> tuple[Row, ...]:
    """Every group by every estimator."""
    cases = [
        Case(
            campaign=result.scenario.number,
            is_prior=result.scenario.truth == "prior",
            result=comparison,
        )
        for result in results
        for comparison in result.comparisons
    ]
    return tuple(
        _row(group, estimator, [case for case in cases if belongs(case)])
        for group, belongs in GROUPS.items()
        for estimator in ESTIMATORS
    )


def _row(group: str, estimator: str, cases: Sequence[Case]) -> Row:
    # A refused fit is this model's failure; a spreadsheet without two pulls a side says nothing.
    counted = [
        case for case in cases if estimator == THIS_MODEL or case.result.estimates[estimator]
    ]
    shared = [case for case in cases if all(case.result.estimates.values())]
    errors = np.array([_estimate(case, estimator).value - case.result.truth for case in shared])
    widths = [_width(_estimate(case, estimator)) for case in shared]
    return Row(
        group=group,
        estimator=estimator,
        count=len(cases),
        answered=sum(case.result.estimates[estimator] is not None for case in cases),
        coverage90=_share(counted, lambda case: _covers(case, estimator, is_wide=True)),
        coverage90_answered=_share(
            [case for case in cases if case.result.estimates[estimator]],
            lambda case: _covers(case, estimator, is_wide=True),
        ),
        coverage50=_share(counted, lambda case: _covers(case, estimator, is_wide=False)),
        width90=float(np.mean(widths)) if shared else None,
        rmse=float(np.sqrt(np.mean(errors**2))) if shared else None,
        median_error=float(np.median(np.abs(errors))) if shared else None,
        claims=_share(counted, lambda case: _claim(case, estimator) != 0),
        wrong_claims=_share(counted, lambda case: _is_wrong(case, estimator)),
    )


def _share(cases: Sequence[Case], is_hit: Callable[[Case], bool]) -> Share | None:
    return clustered_share([is_hit(case) for case in cases], [case.campaign for case in cases])


def _estimate(case: Case, estimator: str) -> Estimate:
    estimate = case.result.estimates[estimator]
    if estimate is None:
        raise LookupError(f"{estimator} gave no answer in campaign {case.campaign}")
    return estimate


def _width(estimate: Estimate) -> float:
    return estimate.upper90 - estimate.lower90


def _covers(case: Case, estimator: str, *, is_wide: bool) -> bool:
    estimate = case.result.estimates[estimator]
    return estimate is not None and estimate.covers(case.result.truth, is_wide=is_wide)


def _claim(case: Case, estimator: str) -> int:
    """The direction claimed; see :attr:`Estimate.claim`. None without an answer."""
    estimate = case.result.estimates[estimator]
    return 0 if estimate is None else estimate.claim


def _is_wrong(case: Case, estimator: str) -> bool:
    claim = _claim(case, estimator)
    return claim != 0 and claim * case.result.truth <= 0


HEADING: Final = (
    "| truths | estimator | comparisons | answered | 90 % interval covers "
    "| the same, of the answered | 50 % covers "
    "| log width | RMSE | median error | claims at 95 % | wrong claims |\n"
    "|---|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|\n"
)


def table_text(rows: Sequence[Row], results: Sequence[CampaignResult], planned: int) -> str:
    """The table as Markdown, with what stands behind it."""
    refused = sum(bool(result.refusal) for result in results)
    return (
        f"{len(results)} of {planned} planned campaigns; this model refused {refused} of them "
        "(counted as misses).\n"
        "Limits: 95 % Clopper-Pearson at the effective number of cases, clustered by campaign.\n\n"
        + HEADING
        + "".join(_line(row) for row in rows if row.count)
    )


def _line(row: Row) -> str:
    cells = [
        row.group,
        LABELS[row.estimator],
        str(row.count),
        str(row.answered),
        _percent(row.coverage90),
        _percent(row.coverage90_answered),
        _percent(row.coverage50),
        _number(row.width90),
        _number(row.rmse),
        _number(row.median_error),
        _percent(row.claims),
        _percent(row.wrong_claims),
    ]
    return "| " + " | ".join(cells) + " |\n"


def _percent(share: Share | None) -> str:
    return "–" if share is None else str(share)


def _number(value: float | None) -> str:
    return "–" if value is None else f"{value:.3f}"


def rows_and_text(results: Sequence[CampaignResult], plan: TablePlan) -> tuple[Rows, str]:
    """The rows, and the table as it is read, of the results that are there."""
    rows = comparison_rows(results)
    return rows, table_text(rows, results, len(plan.scenarios))
