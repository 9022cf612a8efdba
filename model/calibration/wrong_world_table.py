"""The table of wrong worlds: how far each misleads the answers, in figures and a sentence."""

from collections.abc import Sequence
from math import exp
from typing import Final

from model.calibration.files import Rows
from model.calibration.limits import Mean, Share
from model.calibration.result import CampaignResult
from model.calibration.scenario import RIGHT_WORLD, TablePlan
from model.calibration.wrong_world_rows import (
    CHANGE_LEVEL,
    OVERALL_ERROR,
    SHARE_LEVEL,
    MeasureRow,
    WorldRow,
    measure_rows,
    world_rows,
)

NOMINAL: Final = 0.90
OF_CHANGES: Final = f"{100 * CHANGE_LEVEL:.2f} %"
OF_SHARES: Final = f"{100 * SHARE_LEVEL:.0f} %"

HEADING: Final = (
    "| world | campaigns | refused | 90 % interval covers | change, points | the same, of the "
    "answered | 50 % covers | claims at 95 % | wrong sign | claims where there is no effect "
    "| a treatment's load told |\n|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|\n"
)
MEASURE_HEADING: Final = (
    "| world | measure | 90 % interval covers | change, points | median error "
    "| in the model's own world |\n|---|---|---:|---:|---:|---:|\n"
)


def table_text(
    rows: Sequence[WorldRow],
    by_measure: Sequence[MeasureRow],
    results: Sequence[CampaignResult],
    planned: int,
) -> str:
    """The table as Markdown: its verdict, a sentence for each world, then the figures."""
    refused = sum(bool(result.refusal) for result in results)
    return (
        f"{len(results)} of {planned} planned campaigns; {refused} fits refused (counted as "
        f"misses and as no claim, and left out of all changes).\n{_verdict(rows)}\n\n"
        + "".join(f"- {sentence(row)}\n" for row in rows)
        + "\nChanges are from the model's own world to this one on the same seeds, each campaign "
        f"counting once, with limits by Student's t: {100 * (1 - OVERALL_ERROR):.0f} % over all "
        f"worlds at once ({OF_CHANGES} each), in the second table {OF_SHARES} each. Limits of "
        "shares: exact binomial (Clopper-Pearson) at the effective number of cases, clustered by "
        f"campaign, {OF_SHARES}.\n\n"
        + HEADING
        + "".join(_line(row) for row in rows)
        + "\nErrors are of the log ratio for the typical load, of the chance for the others, and "
        "medians over the questions that both worlds answer.\n\n"
        + MEASURE_HEADING
        + "".join(_measure_line(row) for row in by_measure)
    )


def _verdict(rows: Sequence[WorldRow]) -> str:
    right = next((row for row in rows if row.world == RIGHT_WORLD), None)
    changed = [row for row in rows if row.cover_change is not None]
    if right is None or not changed:
        return "No results yet: no verdict."
    held = right.cover90.lower <= NOMINAL <= right.cover90.upper
    fewer = [row.world for row in changed if row.cover_change and row.cover_change.upper < 0]
    found = f"Fewer in: {'; '.join(fewer)}." if fewer else "Fewer are found in no other world."
    return (
        f"Verdict: in the model's own world 90 % intervals hold {right.cover90} of the truths, "
        f"{'as they should' if held else 'which is NOT 90 %'}. {found}"
    )


def sentence(row: WorldRow) -> str:
    """What a world does to an answer, in plain words."""
    name = f"**{row.world[0].upper()}{row.world[1:]}**"
    if row.world == RIGHT_WORLD:
        return f"{name} is the yardstick: 90 % intervals hold {row.cover90} of the truths."
    if row.cover_change is None:
        return f"{name}: too few campaigns so far."
    parts = (_of_cover(row.cover_change), _of_claims(row), _of_load(row.load_shift), _of_fits(row))
    return f"{name}: {' '.join(part for part in parts if part)}"


def _of_cover(change: Mean) -> str:
    if change.upper < 0:
        fewer = _span(-100 * change.value, -100 * change.upper, -100 * change.lower)
        return (
            f"an answer is surer than it may be: {fewer} points fewer of the 90 % intervals hold "
            "the truth."
        )
    if change.lower > 0:
        more = _span(100 * change.value, 100 * change.lower, 100 * change.upper)
        return (
            f"an answer is less sure than it might be: {more} points more of the 90 % intervals "
            "hold the truth."
        )
    return (
        "no change is found in how many of the 90 % intervals hold the truth; "
        f"{100 * max(0.0, -change.lower):.1f} points fewer could hide."
    )


def _of_claims(row: WorldRow) -> str:
    change = row.wrong_change
    if change is None or change.lower <= 0 <= change.upper:
        said = "No change is found in how many claims are wrong"
        hidden = (
            "" if change is None else f"; {100 * change.upper:.1f} more of 100 questions could be"
        )
        said += f"{hidden}."
    else:
        sign = 1 if change.value > 0 else -1
        ends = sorted(100 * sign * end for end in (change.lower, change.upper))
        of_100 = _span(100 * abs(change.value), *ends)
        said = f"Of 100 questions {of_100} {'more' if sign > 0 else 'fewer'} are claimed wrongly."
    if row.false_claims is not None:
        said += f" Where there is no effect, one is claimed in {row.false_claims}."
    return said


def _of_load(shift: Mean | None) -> str:
    if shift is None or shift.lower <= 0 <= shift.upper:
        return ""
    value, *ends = (100 * (exp(one) - 1) for one in (shift.value, shift.lower, shift.upper))
    off = _span(abs(value), *sorted(abs(end) for end in ends))
    return f"A treatment's load is told {off} % too {'high' if value > 0 else 'low'}."


def _of_fits(row: WorldRow) -> str:
    return f"{row.refused} of {row.campaigns} fits are refused." if row.refused else ""


def _span(value: float, lower: float, upper: float) -> str:
    return f"{value:.1f} ({lower:.1f} to {upper:.1f})"


def _line(row: WorldRow) -> str:
    return _cells(
        row.world,
        str(row.campaigns),
        str(row.refused),
        str(row.cover90),
        _points(row.cover_change),
        _share(row.cover90_answered),
        str(row.cover50),
        str(row.claims),
        _share(row.sign_errors),
        _share(row.false_claims),
        _factor(row.load_shift),
    )


def _measure_line(row: MeasureRow) -> str:
    return _cells(
        row.world,
        row.measure,
        str(row.cover90),
        _points(row.cover_change),
        _number(row.median_error),
        _number(row.median_error_right),
    )


def _cells(*cells: str) -> str:
    return "| " + " | ".join(cells) + " |\n"


def _share(share: Share | None) -> str:
    return "–" if share is None else str(share)


def _number(value: float | None) -> str:
    return "–" if value is None else f"{value:.3f}"


def _points(change: Mean | None) -> str:
    if change is None:
        return "–"
    value, lower, upper = (100 * one for one in (change.value, change.lower, change.upper))
    return f"{value:+.1f} ({lower:+.1f} to {upper:+.1f})"


def _factor(shift: Mean | None) -> str:
    if shift is None:
        return "–"
    value, lower, upper = (exp(one) for one in (shift.value, shift.lower, shift.upper))
    return f"× {value:.3f} ({lower:.3f} to {upper:.3f})"


def rows_and_text(results: Sequence[CampaignResult], plan: TablePlan) -> tuple[Rows, str]:
    """The rows, and the table as it is read, of the results that are there."""
    rows, by_measure = world_rows(results), measure_rows(results)
    return (*rows, *by_measure), table_text(rows, by_measure, results, len(plan.scenarios))
