"""The table of what is seen, from the kept results alone.

Whether the chance of a mode that nobody saw is what it says, whether effects on
load, setting and burial are covered, by how much burial and signs narrow the
chance to set upright, and what a lost camera does where it counts as nothing.
"""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import exp, log
from typing import Final

import numpy as np

from model.calibration.files import Rows
from model.calibration.limits import (
    Mean,
    ShareRow,
    mean_over_campaigns,
    share_cells,
    share_row,
    stated_words,
)
from model.calibration.scenario import BURIAL_AND_SIGNS, NOT_SEEN_TERM, TablePlan
from model.calibration.seen_result import Chance, SeenResult, SetUpChance

NOMINAL: Final = 0.90
OVERALL_ERROR: Final = 0.01
"""Chance, at most, that any limit of a share leaves its nominal value out by luck; and that of
each mean, beside them."""

BY_CAMERA: Final = {
    True: "unseen, though a camera was used",
    False: "unseen, for want of a camera",
    None: "unseen, and nothing written of a camera",
}


@dataclass(frozen=True, kw_only=True)
class MeanRow:
    """A mean over campaigns: a geometric one of ratios if `is_factor`, else one of differences."""

    name: str
    is_factor: bool
    mean: Mean


def seen_rows(results: Sequence[SeenResult]) -> tuple[ShareRow, ...]:
    """Unseen modes by stated chance and by camera, then each question's cover.

    Truths from the priors. A camera that shows nothing is evidence, so what it leaves
    unseen must be right by itself and not only together with what no camera looked at.
    """
    ours = [result for result in results if result.scenario.truth == "prior"]
    bites: dict[str, list[tuple[int, float, bool]]] = defaultdict(list)
    for result in ours:
        for bite in result.bites:
            for name in (
                f"unseen, {stated_words(bite.p_upright)}",
                BY_CAMERA[bite.had_camera],
            ):
                bites[name].append((result.scenario.number, bite.p_upright, bite.is_upright))
    asked: dict[str, list[tuple[int, bool]]] = defaultdict(list)
    for result in ours:
        for question in result.questions:
            name = f"effect, {question.question}"
            asked[name].append((result.scenario.number, question.is_covered))
    level = 1 - OVERALL_ERROR / max(len(bites) + len(asked), 1)
    of_bites = [
        share_row(
            name,
            float(np.mean([stated for _, stated, _ in cases])),
            [is_upright for _, _, is_upright in cases],
            [number for number, _, _ in cases],
            level,
        )
        for name, cases in sorted(bites.items())
    ]
    of_questions = [
        share_row(name, NOMINAL, [hit for _, hit in cases], [number for number, _ in cases], level)
        for name, cases in asked.items()
    ]
    return (*of_bites, *of_questions)


def seen_means(results: Sequence[SeenResult]) -> tuple[MeanRow, ...]:
    """What burial and signs narrow, and what is off where the camera is lost."""
    narrowed = _fitted(results, BURIAL_AND_SIGNS, is_twice=True)
    lost = _fitted(results, NOT_SEEN_TERM, is_twice=False)
    lost_twice = _fitted(results, NOT_SEEN_TERM, is_twice=True)
    found = [
        _mean("sd of the chance of upright, over that without burial and signs", narrowed,
              _log_narrowing, is_factor=True),
        _mean("camera lost: stated minus true chance", lost, lambda one: _error(one, one.known)),
        _mean("camera lost: the same where not seen counts as nothing", lost_twice,
              lambda one: _error(one, one.without)),
        _mean("camera lost: what counting it as nothing changes", lost_twice,
              lambda one: _error(one, one.without) - _error(one, one.known)),
    ]  # fmt: skip
    return tuple(row for row in found if row is not None)


def _fitted(results: Sequence[SeenResult], without: str, *, is_twice: bool) -> list[SeenResult]:
    """Campaigns of a kind whose first fit passed; and the second one, if asked for."""
    return [
        result
        for result in results
        if result.scenario.without == without
        and result.chances
        and not (is_twice and any(one.without is None for one in result.chances))
    ]


def _log_narrowing(one: SetUpChance) -> float:
    if one.without is None:
        raise LookupError(f"no second fit of {one.set_up}")
    return log(one.known.sd / one.without.sd)


def _error(one: SetUpChance, said: Chance | None) -> float:
    if said is None:
        raise LookupError(f"no second fit of {one.set_up}")
    return said.mean - one.truth


def _mean(
    name: str,
    results: Sequence[SeenResult],
    value: Callable[[SetUpChance], float],
    *,
    is_factor: bool = False,
) -> MeanRow | None:
    """Mean over campaigns of their set-ups' mean; 99 % limits by Student's t.

    `value` of a factor is its log.
    """
    by_campaign = [float(np.mean([value(one) for one in result.chances])) for result in results]
    if len(by_campaign) < 2:
        return None
    mean = mean_over_campaigns(by_campaign, level=1 - OVERALL_ERROR)
    if is_factor:
        mean = replace(mean, value=exp(mean.value), lower=exp(mean.lower), upper=exp(mean.upper))
    return MeanRow(name=name, is_factor=is_factor, mean=mean)


HEADING: Final = (
    "| what | cases | should be | is | within the limits | would show a fault of |\n"
    "|---|---:|---:|---:|---|---:|\n"
)
MEANS_HEADING: Final = "| mean over campaigns | campaigns | is |\n|---|---:|---:|\n"


def table_text(
    rows: Sequence[ShareRow], means: Sequence[MeanRow], results: Sequence[SeenResult], planned: int
) -> str:
    """The table as Markdown, its verdict first."""
    refused = sum(bool(result.refusal) for result in results)
    twice = sum(bool(result.refusal_without) for result in results)
    divergences = sum(result.divergences for result in results)
    level = 1 - OVERALL_ERROR / max(len(rows), 1)
    return (
        f"{len(results)} of {planned} planned campaigns; {refused} fits refused (counted as misses "
        f"in the effects; their bites have no chance) and {twice} second fits (left out of the "
        f"means that need them); {divergences} divergences.\n"
        f"{_verdict(rows)}\n"
        f"Limits of shares: exact binomial (Clopper-Pearson) at the effective number of cases, "
        f"clustered by campaign, {1 - OVERALL_ERROR:.0%} over all rows at once "
        f"({100 * level:.2f} % each). A fault is shown from half the limits' width on.\n\n"
        + HEADING
        + "".join(share_cells(row.name, row.share, row.expected) for row in rows)
        + "\n99 % limits by Student's t, each campaign counting once. Where the camera is lost its "
        "loss lies 2.5 standard deviations out in its prior, so that some error is expected.\n\n"
        + MEANS_HEADING
        + "".join(_mean_line(row) for row in means)
    )


def _verdict(rows: Sequence[ShareRow]) -> str:
    outside = [row.name for row in rows if not row.is_within]
    if not rows:
        return "No results yet: no verdict."
    if outside:
        return f"Verdict: OUTSIDE the limits: {'; '.join(outside)}."
    return f"Verdict: within the limits in all {len(rows)} rows."


def _mean_line(row: MeanRow) -> str:
    shown = "× {:.2f}" if row.is_factor else "{:+.3f}"
    mean = row.mean
    value, lower, upper = (shown.format(end) for end in (mean.value, mean.lower, mean.upper))
    return f"| {row.name} | {mean.campaigns} | {value} ({lower} to {upper}) |\n"


def rows_and_text(results: Sequence[SeenResult], plan: TablePlan) -> tuple[Rows, str]:
    """The rows, and the table as it is read, of the results that are there."""
    rows, means = seen_rows(results), seen_means(results)
    return (*rows, *means), table_text(rows, means, results, len(plan.scenarios))
