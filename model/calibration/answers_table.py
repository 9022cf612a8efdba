"""The table of answers over the whole way, its verdict first."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Final

from model.calibration.answers_result import AnswersResult
from model.calibration.answers_rows import (
    LEVEL,
    OVERALL_ERROR,
    FindingRow,
    RivalRow,
    campaign_of,
    finding_rows,
    rank_rows,
    rival_rows,
    share_rows,
)
from model.calibration.files import Rows
from model.calibration.limits import Share, ShareRow, clustered_share, share_cells
from model.calibration.result import (
    CENSORED_LOGNORMAL,
    POOLED_NORMAL,
    SPREADSHEET,
    THIS_MODEL,
)
from model.calibration.scenario import TablePlan
from model.calibration.thinned_rank import DRAWS
from model.calibration.uniform_ranks import (
    BINS,
    POWER,
    RANK_HEADING,
    Detectable,
    RankRow,
    detectable,
    not_uniform,
    rank_line,
)

MOST_REFUSED: Final = 0.01
MOST_WRONG: Final = 0.05
MOST_OTHER_SIGN: Final = 0.01
"""Of settled differences; beyond it is what has its lower limit there, since a calibrated model
that calls nothing but 0.95 settled comes near it where bands are narrow."""
SHOWN: Final = 8

NAMES: Final = {
    SPREADSHEET: "spreadsheet: mean of step values, held = top step, Welch",
    CENSORED_LOGNORMAL: "censored log-normal, one anchor alone",
    POOLED_NORMAL: "hierarchical normal, no modes, held = top step",
    THIS_MODEL: "this model",
}


@dataclass(frozen=True, kw_only=True)
class AnswersTable:
    """All rows of the table."""

    results: Sequence[AnswersResult]
    planned: int
    ranks: tuple[RankRow, ...]
    shares: tuple[ShareRow, ...]
    findings: tuple[FindingRow, ...]
    rivals: tuple[RivalRow, ...]
    refused: Share | None


def table_of(results: Sequence[AnswersResult], planned: int, table: str) -> AnswersTable:
    """Work the table out.

    Parameters
    ----------
    planned : int
        Campaigns of the plan.
    table : str
        Whose campaign the results are of.
    """
    campaign = campaign_of(table)
    numbers = [result.scenario.number for result in results]
    return AnswersTable(
        results=results,
        planned=planned,
        ranks=rank_rows(results, campaign),
        shares=share_rows(results, campaign),
        findings=finding_rows(results, campaign),
        rivals=rival_rows(results, campaign),
        refused=clustered_share([bool(result.refusal) for result in results], numbers),
    )


def faults_of(table: AnswersTable) -> list[str]:
    """Everything that is outside its limits, in words."""
    found = [f"ranks of {row.name}" for row in not_uniform(table.ranks, OVERALL_ERROR)]
    found += [row.name for row in table.shares if not row.is_within]
    if table.refused is not None and table.refused.value > MOST_REFUSED:
        found.append(f"{100 * table.refused.value:.1f} % of fits refused")
    rule = table.findings[0]
    if rule.wrong is not None and rule.wrong.value > MOST_WRONG:
        found.append(f"{100 * rule.wrong.value:.1f} % of settled findings wrong")
    if rule.other_sign is not None and rule.other_sign.lower > MOST_OTHER_SIGN:
        found.append(
            f"{100 * rule.other_sign.value:.1f} % of settled differences of the other sign"
        )
    return found


def _verdict(table: AnswersTable) -> str:
    if not table.results:
        return "No results yet: no verdict."
    if not table.ranks:
        return "Verdict: OUTSIDE the limits: every fit was refused."
    faults = faults_of(table)
    if faults:
        return f"Verdict: OUTSIDE the limits: {'; '.join(faults)}."
    return (
        f"Verdict: within the limits: no rank of {len(table.ranks)} answers and parameters is off, "
        f"{len(table.shares)} shares are what they should be, at most {_percent(MOST_REFUSED)} of "
        f"fits refused, at most {_percent(MOST_WRONG)} of settled findings wrong and not "
        f"surely more than {_percent(MOST_OTHER_SIGN)} of settled differences of the other sign."
    )


def _said_of_ranks(table: AnswersTable) -> str:
    if not table.ranks:
        return ""
    campaigns = min(row.campaigns for row in table.ranks)
    found = detectable(campaigns, OVERALL_ERROR / len(table.ranks))
    answered = [result for result in table.results if result.answers]
    few = sum(min(one.least_ess_answers, one.least_ess_parameters) < DRAWS for one in answered)
    tails = sum(row.in_tails for row in table.ranks) / len(table.ranks)
    return (
        f"Ranks: among {DRAWS} thinned draws, Pearson's chi-square of {BINS} equally likely bins, "
        f"Holm's steps at {_percent(OVERALL_ERROR)} over all {len(table.ranks)}. "
        f"{_power_words(found)} On average {100 * tails:.1f} % of ranks are in the "
        f"outer tenth. In {few} campaigns something had fewer than {DRAWS} effective draws before "
        "thinning. Refused fits have no ranks.\n"
    )


def _power_words(found: Detectable) -> str:
    if not isfinite(found.shift * found.spread):
        return "So few campaigns find no fault for sure, however large."
    return (
        f"In one of them a fault is found with a chance of {_percent(POWER)} if truths are "
        f"{found.shift:.2f} standard deviations of their draws off the middle (mean rank "
        f"{found.mean_rank:.3f} for 0.500), or {found.spread:.2f} times as far apart "
        "as their draws."
    )


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"


HEADING: Final = (
    "| share | cases | should be | is | within the limits | would show a fault of |\n"
    "|---|---:|---:|---:|---|---:|\n"
)
FINDING_HEADING: Final = (
    "| finding | answers | findings | wrong | differences | of the other sign |\n"
    "|---|---:|---:|---:|---:|---:|\n"
)
RIVAL_HEADING: Final = (
    "| typical load of one anchor by | campaigns | answered | 90 % interval covers | 50 % covers | "
    "mean rank | chi-square's p | claims at 95 % | wrong of these |\n"
    "|---|---:|---:|---:|---:|---:|---:|---:|---:|\n"
)


def table_text(table: AnswersTable) -> str:
    """The table as Markdown."""
    refused = sum(bool(result.refusal) for result in table.results)
    level = 1 - OVERALL_ERROR / max(len(table.shares), 1)
    return (
        f"{len(table.results)} of {table.planned} planned campaigns; {refused} fits refused, "
        f"{_cell(table.refused)} (misses of every interval){_not_passed(table)}.\n"
        f"{_verdict(table)}\n"
        f"{_said_of_ranks(table)}"
        "Limits of shares: exact binomial (Clopper-Pearson) at the effective number of cases, "
        f"clustered by campaign, {_percent(1 - OVERALL_ERROR)} over all at once "
        f"({100 * level:.2f} % each); of findings, of refusals and of other estimators "
        f"{_percent(LEVEL)} each. A fault is shown from half the limits' width on.\n\n"
        + RANK_HEADING
        + "".join(rank_line(row) for row in table.ranks[:SHOWN])
        + "\n"
        + HEADING
        + "".join(share_cells(row.name, row.share, row.expected) for row in table.shares)
        + "\n"
        + FINDING_HEADING
        + "".join(_finding_line(row) for row in table.findings)
        + ("\n" + RIVAL_HEADING if table.rivals else "")
        + "".join(_rival_line(row) for row in table.rivals)
    )


def _not_passed(table: AnswersTable) -> str:
    """Of a table of single attempts: how many a user would have had fitted again."""
    count = sum(bool(result.not_passed) for result in table.results)
    return f"; {count} fits whose draws count though they did not pass their check" if count else ""


def _cell(share: Share | None) -> str:
    return "–" if share is None else str(share)


def _finding_line(row: FindingRow) -> str:
    found, signed = (0 if one is None else one.count for one in (row.wrong, row.other_sign))
    cells = [row.name, str(row.answers), str(found), _cell(row.wrong), str(signed)]
    return f"| {' | '.join([*cells, _cell(row.other_sign)])} |\n"


def _rival_line(row: RivalRow) -> str:
    ranks = row.ranks
    cells = [
        NAMES.get(row.name, row.name),
        str(row.covers_90.count),
        str(row.answered),
        str(row.covers_90),
        str(row.covers_50),
        "–" if ranks is None else f"{ranks.mean:.3f}",
        "–" if ranks is None else f"{ranks.p_value:.2g}",
        str(row.claims),
        _cell(row.wrong),
    ]
    return f"| {' | '.join(cells)} |\n"


def rows_and_text(results: Sequence[AnswersResult], plan: TablePlan) -> tuple[Rows, str]:
    """The rows, and the table as it is read, of the results that are there."""
    table = table_of(results, len(plan.scenarios), plan.table)
    return (*table.ranks, *table.shares, *table.findings, *table.rivals), table_text(table)
