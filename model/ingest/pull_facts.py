"""What all rows of one pull say together: rig, place, day, words."""

from collections.abc import Callable, Iterator, Sequence
from typing import Any, Final

from model.base.errors import Fault
from model.base.units import from_m
from model.ingest.cells import Measured
from model.ingest.known_names import shown
from model.ingest.rows import LogRow
from model.records.campaign import Campaign
from model.records.pull import Ending, Reading

SCOPE_SLACK: Final = 0.1
"""A scope and the rode and depth beside it may differ by this share: depths are read roughly."""

_WORDS: Final = ("wind", "current", "sea", "video", "photo", "reason", "notes")
_AGREEING: Final = ("anchor", "seabed", "site", "date", "scope", "rode", "depth")
_AGREE: Final = "Write the same in every row of the pull, or give this row a pull of its own"


def read_facts(rows: Sequence[LogRow], campaign: Campaign) -> tuple[dict[str, Any], list[Fault]]:
    """Fields of a pull other than its bites, and what is wrong with them.

    A later row may leave a cell empty that the first one fills. Words of
    several rows are joined; a tester's own column that changes from bite to
    bite is kept under its heading and the bite's number.

    Parameters
    ----------
    rows : sequence of LogRow
        Rows of one pull in the file's order.
    campaign : Campaign
        What they refer to.
    """
    first = rows[0]
    faults = [*_needed(first), *_reason_faults(rows)]
    scope, scope_faults = _scope(rows, campaign)
    faults += scope_faults
    facts: dict[str, Any] = {
        "code": first.pull,
        "outing": first.outing,
        "anchor": first.anchor,
        "seabed": first.seabed,
        "site": _first(rows, lambda row: row.site),
        "levels": first.levels,
        "scope": scope,
        "date": _first(rows, lambda row: row.date),
        "time": _first(rows, lambda row: row.time),
        "soak_min": _first(rows, lambda row: row.soak_min),
        **{word: _joined(rows, word) for word in _WORDS},
        "extras": _extras(rows, campaign),
    }
    return facts, faults


def _first(rows: Sequence[LogRow], value: Callable[[LogRow], object]) -> object:
    return next((value(row) for row in rows if value(row) not in (None, "")), None)


def _joined(rows: Sequence[LogRow], word: str) -> str:
    texts = dict.fromkeys(getattr(row, word) for row in rows if getattr(row, word))
    return "; ".join(texts)


def _plain_value(value: object) -> object:
    return value.value if isinstance(value, Measured) else value


def disagreements(rows: Sequence[LogRow], campaign: Campaign) -> Iterator[Fault]:
    """Where rows of one pull contradict its first row."""
    first = rows[0]
    baselines = {treatment.name: treatment.baseline for treatment in campaign.treatments}
    for row in rows[1:]:
        for column in _AGREEING:
            one, other = (_plain_value(getattr(each, column)) for each in (first, row))
            if column in first.faulty | row.faulty or other in (None, "") or one in (None, ""):
                continue
            if one != other:
                found = f"{shown(str(other))}, and line {first.line} of this pull {shown(str(one))}"
                yield row.fault(column, found, _AGREE)
        for treatment, level in row.levels.items():
            one = first.levels.get(treatment, baselines[treatment])
            if "levels" not in first.faulty | row.faulty and level != one:
                found = f"{shown(level)}, and line {first.line} of this pull {shown(one)}"
                yield row.fault(treatment, found, _AGREE)


def _needed(first: LogRow) -> Iterator[Fault]:
    for column in ("anchor", "seabed"):
        if not first.says(column):
            yield first.fault(column, f"no {column}", f"Write the {column} that was pulled")


def _reason_faults(rows: Sequence[LogRow]) -> Iterator[Fault]:
    if any((row.reason + row.notes).strip() for row in rows):
        return
    for row in rows:
        if row.ending in {Ending.STOPPED, Ending.VOID}:
            remedy = {
                Ending.STOPPED: "Say why the crew stopped: nothing to do with load or anchor",
                Ending.VOID: "Say what spoilt it: fouled, bent, gear failed, wrong gear on",
            }[row.ending]
            yield row.fault("reason", f"{row.ending.value} without a reason", remedy)


def _scope(rows: Sequence[LogRow], campaign: Campaign) -> tuple[float | None, list[Fault]]:
    """Scope as written, else rode over depth and bow height; None is the usual."""
    written = _first(rows, lambda row: row.scope)
    rode = _first(rows, lambda row: row.rode)
    depth = _first(rows, lambda row: row.depth)
    first = rows[0]
    scope = float(written) if isinstance(written, float) else None
    if not isinstance(rode, Measured) or not isinstance(depth, Measured):
        if scope is None and isinstance(rode, Measured) and "depth" not in first.faulty:
            remedy = "Add the depth, or write the scope"
            return None, [first.fault("rode", "a rode without a depth", remedy)]
        return scope, []
    height_m = depth.value + campaign.boat(campaign.outing(first.outing).boat).bow_height_m
    reckoned = rode.value / height_m if height_m > 0 else 0.0
    if not 1 <= reckoned <= 100:
        found = f"a scope of {reckoned:.3g} (rode over depth and bow height)"
        return None, [first.fault("rode", found, "Write the rode that was out: at least the depth")]
    if scope is not None and abs(scope - reckoned) > SCOPE_SLACK * reckoned:
        found = f"scope {scope:g}, where rode and depth make {reckoned:.3g}"
        return None, [first.fault("scope", found, "Put one of the three right, or leave it empty")]
    return (reckoned if scope is None else scope), []


def _extras(rows: Sequence[LogRow], campaign: Campaign) -> dict[str, str]:
    """Cells that no field of a pull holds, so that nothing written is lost."""
    extras: dict[str, str] = {}
    for number, row in enumerate(rows, start=1):
        for heading, cell in (row.extras | _unfielded(row, campaign)).items():
            if number == 1:
                extras[heading] = cell
            elif extras.get(heading) != cell:
                extras[f"{heading} (bite {number})"] = cell
        for column, first in (
            ("time", _first(rows, lambda each: each.time)),
            ("soak_min", _first(rows, lambda each: each.soak_min)),
        ):
            value = getattr(row, column)
            if value not in {None, first}:
                extras[f"written {column} (bite {number})"] = str(value)
    return extras


def _unfielded(row: LogRow, campaign: Campaign) -> dict[str, str]:
    """Rode, depth and a step beside a peak, as written."""
    cells: dict[str, str] = {}
    for column, measured in (("rode", row.rode), ("depth", row.depth)):
        if measured is not None:
            shown_m = from_m(measured.value, measured.unit)
            cells[f"written {column}_{measured.unit}"] = f"{shown_m:.6g}"
    has_ladder = campaign.ladder_of(row.outing) is not None
    is_peak = row.reading is Reading.PEAK or not has_ladder
    if row.step and (is_peak and row.load is not None):
        cells["written step"] = row.step
    return cells
