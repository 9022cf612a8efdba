"""The table of what is seen, from the kept results alone.

Whether the chance of a mode that nobody saw is what it says, whether effects on
load, setting and burial are covered, by how much burial and signs narrow the
chance to set upright, and what a lost camera does where it counts as nothing.
"""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import log, sqrt
from pathlib import Path
from typing import Final

import numpy as np
from scipy.stats import t as student

from model.calibration.files import write_table
from model.calibration.limits import Share, clustered_share
from model.calibration.result import THIS_MODEL, QuestionResult, read_results_as
from model.calibration.scenario import BURIAL_AND_SIGNS, NOT_SEEN_TERM, read_plan
from model.calibration.seen_result import Chance, SeenResult, SetUpChance

NOMINAL: Final = 0.90
OVERALL_ERROR: Final = 0.01
"""Chance, at most, that any limit of the table leaves its nominal value out by luck."""

EDGES: Final = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)
"""Of the chances that are put together; fixed before the first run."""


@dataclass(frozen=True, kw_only=True)
class SeenRow:
    """One share with what it should be.

    Parameters
    ----------
    expected : float
        Mean chance that was stated, or 0.90 of an interval's cover.
    is_within : bool
        Whether it lies within the limits of the share.
    """

    name: str
    expected: float
    share: Share
    is_within: bool


@dataclass(frozen=True, kw_only=True)
class Mean:
    """A mean over campaigns with its limits, each campaign counting once."""

    name: str
    value: float
    lower: float
    upper: float
    campaigns: int


def _share_row(
    name: str,
    expected: float,
    hits: Sequence[bool],
    clusters: Sequence[int],
    level: float,
) -> SeenRow:
    share = clustered_share(hits, clusters, level=level)
    if share is None:
        raise LookupError(f"no cases of {name}")
    return SeenRow(
        name=name,
        expected=expected,
        share=share,
        is_within=share.lower <= expected <= share.upper,
    )


def seen_rows(results: Sequence[SeenResult]) -> tuple[SeenRow, ...]:
    """Unseen modes by stated chance, then each question's cover; truths from the priors."""
    ours = [result for result in results if result.scenario.truth == "prior"]
    bites: dict[str, list[tuple[int, float, bool]]] = defaultdict(list)
    for result in ours:
        for bite in result.bites:
            place = int(np.searchsorted(EDGES[1:-1], bite.p_upright, side="right"))
            name = f"unseen, stated {EDGES[place]:.2f} to {EDGES[place + 1]:.2f}"
            bites[name].append((result.scenario.number, bite.p_upright, bite.is_upright))
    asked: dict[str, list[tuple[int, bool]]] = defaultdict(list)
    for result in ours:
        for question in result.questions:
            name = f"effect, {question.question}"
            asked[name].append((result.scenario.number, _covers(question)))
    level = 1 - OVERALL_ERROR / max(len(bites) + len(asked), 1)
    of_bites = [
        _share_row(
            name,
            float(np.mean([stated for _, stated, _ in cases])),
            [is_upright for _, _, is_upright in cases],
            [number for number, _, _ in cases],
            level,
        )
        for name, cases in sorted(bites.items())
    ]
    of_questions = [
        _share_row(name, NOMINAL, [hit for _, hit in cases], [number for number, _ in cases], level)
        for name, cases in asked.items()
    ]
    return (*of_bites, *of_questions)


def _covers(question: QuestionResult) -> bool:
    estimate = question.estimates[THIS_MODEL]
    return estimate is not None and estimate.lower90 <= question.truth <= estimate.upper90


def seen_means(results: Sequence[SeenResult]) -> tuple[Mean, ...]:
    """What burial and signs narrow, and what is off where the camera is lost."""
    narrowed = _second_fits(results, BURIAL_AND_SIGNS)
    lost = _second_fits(results, NOT_SEEN_TERM)
    found = [
        _mean("factor of the chance's sd with burial and signs", narrowed, _log_narrowing),
        _mean("camera lost: stated minus true, upright", lost, lambda one: _error(one, one.known)),
        _mean(
            "camera lost: the same, not seen counted as nothing",
            lost,
            lambda one: _error(one, one.without),
        ),
    ]
    means = [mean for mean in found if mean is not None]
    return tuple(_as_factor(mean) if mean.name.startswith("factor") else mean for mean in means)


def _second_fits(results: Sequence[SeenResult], without: str) -> list[SeenResult]:
    return [
        result
        for result in results
        if result.scenario.without == without
        and result.chances
        and all(one.without is not None for one in result.chances)
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
    name: str, results: Sequence[SeenResult], value: Callable[[SetUpChance], float]
) -> Mean | None:
    """Mean over campaigns of their set-ups' mean; 99 % limits by Student's t."""
    by_campaign = [float(np.mean([value(one) for one in result.chances])) for result in results]
    count = len(by_campaign)
    if count < 2:
        return None
    middle, error = float(np.mean(by_campaign)), float(np.std(by_campaign, ddof=1)) / sqrt(count)
    half = float(student.ppf(1 - OVERALL_ERROR / 2, count - 1)) * error
    return Mean(name=name, value=middle, lower=middle - half, upper=middle + half, campaigns=count)


def _as_factor(mean: Mean) -> Mean:
    value, lower, upper = (float(np.exp(log_)) for log_ in (mean.value, mean.lower, mean.upper))
    return Mean(name=mean.name, value=value, lower=lower, upper=upper, campaigns=mean.campaigns)


HEADING: Final = (
    "| what | cases | should be | is | within the limits | would show a fault of |\n"
    "|---|---:|---:|---:|---|---:|\n"
)
MEANS_HEADING: Final = "| mean over campaigns | campaigns | is |\n|---|---:|---:|\n"


def table_text(
    rows: Sequence[SeenRow], means: Sequence[Mean], results: Sequence[SeenResult], planned: int
) -> str:
    """The table as Markdown, its verdict first."""
    refused = sum(bool(result.refusal) for result in results)
    divergences = sum(result.divergences for result in results)
    level = 1 - OVERALL_ERROR / max(len(rows), 1)
    return (
        f"{len(results)} of {planned} planned campaigns; {refused} fits refused (counted as misses "
        f"in the effects; their bites have no chance); {divergences} divergences.\n"
        f"{_verdict(rows)}\n"
        f"Limits of shares: exact binomial (Clopper-Pearson) at the effective number of cases, "
        f"clustered by campaign, {1 - OVERALL_ERROR:.0%} over all rows at once "
        f"({100 * level:.2f} % each). A fault is shown from half the limits' width on.\n\n"
        + HEADING
        + "".join(_line(row) for row in rows)
        + f"\n99 % limits by Student's t, each campaign counting once.\n\n{MEANS_HEADING}"
        + "".join(_mean_line(mean) for mean in means)
    )


def _verdict(rows: Sequence[SeenRow]) -> str:
    outside = [row.name for row in rows if not row.is_within]
    if not rows:
        return "No results yet: no verdict."
    if outside:
        return f"Verdict: OUTSIDE the limits: {'; '.join(outside)}."
    return f"Verdict: within the limits in all {len(rows)} rows."


def _line(row: SeenRow) -> str:
    share = row.share
    cells = [
        row.name,
        str(share.count),
        f"{100 * row.expected:.1f} %",
        f"{100 * share.value:.1f} % ({100 * share.lower:.1f}–{100 * share.upper:.1f})",
        "yes" if row.is_within else "NO",
        f"{50 * (share.upper - share.lower):.1f} points",
    ]
    return "| " + " | ".join(cells) + " |\n"


def _mean_line(mean: Mean) -> str:
    return (
        f"| {mean.name} | {mean.campaigns} | {mean.value:+.3f} "
        f"({mean.lower:+.3f} to {mean.upper:+.3f}) |\n"
    )


def write_seen_table(folder: Path) -> Path:
    """Write ``table.md`` and ``table.json`` from the results that are there.

    Returns
    -------
    Path
        Of ``table.md``.

    Raises
    ------
    InputError
        If the results come from more than one version of the model.
    """
    planned = len(read_plan(folder).scenarios)
    results = read_results_as(SeenResult, folder)
    rows, means = seen_rows(results), seen_means(results)
    return write_table(folder, (*rows, *means), table_text(rows, means, results, planned))
