"""The table of wrong worlds: how far each misleads the answers, in figures and a sentence."""

from collections.abc import Sequence
from math import exp
from pathlib import Path
from typing import Final

from model.calibration.files import write_table
from model.calibration.limits import Mean, Share
from model.calibration.result import CampaignResult, read_results
from model.calibration.scenario import RIGHT_WORLD, read_plan
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
        f"misses, and as no claim).\n{_verdict(rows)}\n\n"
        + "".join(f"- {sentence(row)}\n" for row in rows)
        + f"\nChanges are from the model's own world to this one on the same seeds, each campaign "
        f"counting once: {1 - OVERALL_ERROR:.0%} limits over all worlds at once by Student's t "
        f"({100 * CHANGE_LEVEL:.2f} % each; in the second table {SHARE_LEVEL:.0%} each). Limits "
        f"of shares: exact binomial (Clopper-Pearson) at the effective number of cases, clustered "
        f"by campaign, {SHARE_LEVEL:.0%}.\n\n"
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
    if row.world == RIGHT_WORLD:
        return (
            f"**{_named(row)}** is the yardstick: 90 % intervals hold {row.cover90} of the truths."
        )
    if row.cover_change is None:
        return f"**{_named(row)}**: too few campaigns so far."
    parts = [_of_cover(row.cover_change), _of_claims(row), _of_load(row.load_shift)]
    return f"**{_named(row)}**: {' '.join(part for part in parts if part)}"


def _named(row: WorldRow) -> str:
    return row.world[0].upper() + row.world[1:]


def _of_cover(change: Mean) -> str:
    points = f"{abs(100 * change.value):.1f} points"
    limits = f"limits of the change {_points(change)}"
    if change.upper < 0:
        return f"an answer is surer than it may be: {points} fewer intervals hold ({limits})."
    if change.lower > 0:
        return f"an answer is less sure than it might be: {points} more intervals hold ({limits})."
    most = 100 * max(-change.lower, change.upper)
    return (
        f"no change is found in how often intervals hold; it is at most {most:.1f} points "
        f"({limits})."
    )


def _of_claims(row: WorldRow) -> str:
    change = row.wrong_change
    if change is None or change.lower <= 0 <= change.upper:
        said = "No change is found in how many claims are wrong."
    else:
        direction = "more" if change.value > 0 else "fewer"
        said = (
            f"Of 100 questions {abs(100 * change.value):.1f} {direction} are claimed wrongly "
            f"({_points(change)})."
        )
    if row.false_claims is not None:
        said += f" Where there is no effect, one is claimed in {row.false_claims}."
    return said


def _of_load(shift: Mean | None) -> str:
    if shift is None or shift.lower <= 0 <= shift.upper:
        return ""
    direction = "high" if shift.value > 0 else "low"
    return f"A treatment's load is told {100 * abs(exp(shift.value) - 1):.1f} % too {direction}."


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


def write_wrong_world_table(folder: Path) -> Path:
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
    results = read_results(folder)
    rows, by_measure = world_rows(results), measure_rows(results)
    text = table_text(rows, by_measure, results, planned)
    return write_table(folder, (*rows, *by_measure), text)
