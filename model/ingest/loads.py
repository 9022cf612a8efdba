"""A row's loads in kN, by how the bite ended and how its load was read."""

import re
from dataclasses import dataclass
from typing import Final

from model.base.units import LOAD_UNITS
from model.ingest.cells import CellFault, Measured, Style, read_load
from model.ingest.ladder_steps import find_label, find_step, no_label, show_load
from model.ingest.rows import LogRow
from model.records.campaign import MOST_THRUST_SHARE, Gauge, Ladder
from model.records.pull import LEAST_RESOLUTION_KN, Ending, Reading

HELD_PEAK_SHARE: Final = 0.8
"""A held pull's peak below this share of the top step was read at some other step: a load cell
and the thrust by engine speed agree better than that."""
_NUMBER_AND_UNIT: Final = re.compile(r"([0-9.,]+)\s*([A-Za-z]+)")
_ROUNDING: Final = 1e-9
"""Relative slack for unit conversions; far below any digit that is written."""


@dataclass(frozen=True, kw_only=True)
class Protocol:
    """What an outing says about its rows; `unit` is the campaign's load unit.

    `top_thrust_kn` is the most that its boat pulls, kN.
    """

    ladder: Ladder | None
    gauge: Gauge | None
    unit: str
    top_thrust_kn: float

    def reading_of(self, row: LogRow) -> Reading:
        """How the row's load was read: as written, else a step where there is a ladder."""
        return row.reading or (Reading.PEAK if self.ladder is None else Reading.STEP)


@dataclass(frozen=True, kw_only=True)
class Loads:
    """Loads of one bite, kN, as its record holds them."""

    load_kn: float | None = None
    last_held_kn: float | None = None
    resolution_kn: float | None = None


class LoadFault(Exception):
    """A fault in one of the load columns."""

    def __init__(self, column: str, fault: CellFault) -> None:
        super().__init__(fault.found)
        self.column = column
        self.found = fault.found
        self.remedy = fault.remedy


def read_loads(row: LogRow, ending: Ending, protocol: Protocol) -> Loads:
    """Loads of a bite that set.

    Raises
    ------
    LoadFault
        If a load is missing, cannot be, or is not on the ladder.
    """
    reading = protocol.reading_of(row)
    if ending is Ending.VOID:
        return Loads(load_kn=_void_load(row, protocol))
    if reading is Reading.PEAK:
        return _peak_loads(row, ending, protocol)
    if protocol.ladder is None:
        raise LoadFault(
            "reading",
            CellFault(
                "a step, but the outing has no known ladder",
                "Write peak, or give the outing its ladder in the campaign",
            ),
        )
    if row.resolution is not None:
        fault = CellFault("a resolution beside a step", "Leave it empty, or write reading = peak")
        raise LoadFault("resolution", fault)
    return _step_loads(row, ending, protocol.ladder, protocol.unit)


def _step_loads(row: LogRow, ending: Ending, ladder: Ladder, unit: str) -> Loads:
    load_kn, column = _step_of(row, ending, ladder, unit)
    if ending is Ending.HELD and load_kn != ladder.top_kn:
        shown = show_load(load_kn, unit)
        top = show_load(ladder.top_kn, unit)
        fault = CellFault(
            f"held at {shown}, below the top step {top}",
            f"Write stopped and a reason if the crew ended it there, else the step {top}",
        )
        raise LoadFault(column, fault)
    last_kn = None
    if row.last_held is not None:
        last_kn = _at("last_held", row.last_held, ladder, is_zero_allowed=True)
    if ending.is_release:
        _check_below(last_kn, load_kn, unit)
        return Loads(load_kn=load_kn, last_held_kn=last_kn)
    if last_kn is not None and last_kn != load_kn:
        raise LoadFault("last_held", _two_loads(last_kn, load_kn, unit))
    return Loads(load_kn=load_kn or None)


def _step_of(row: LogRow, ending: Ending, ladder: Ladder, unit: str) -> tuple[float, str]:
    """The step a row names, kN, and the column that names it."""
    is_stopped = ending is Ending.STOPPED
    if row.step:
        step_kn = _named_step(row, ladder, unit, is_zero_allowed=is_stopped)
        if row.load and abs(row.load.value - step_kn) > 0.5 * row.load.last_digit * (1 + 1e-9):
            raise LoadFault("load", _two_loads(row.load.value, step_kn, row.load.unit))
        return step_kn, "step"
    if row.load is not None:
        return _at("load", row.load, ladder, is_zero_allowed=is_stopped), "load"
    if row.last_held is not None and not ending.is_release:
        found = _at("last_held", row.last_held, ladder, is_zero_allowed=is_stopped)
        return found, "last_held"
    raise _missing(row, ending)


def _named_step(row: LogRow, ladder: Ladder, unit: str, *, is_zero_allowed: bool) -> float:
    labelled = find_label(row.step, ladder)
    if labelled is not None:
        return labelled
    number, own_unit = _with_its_unit(row.step, unit)
    style = Style(unit=own_unit, has_decimal_comma=row.has_decimal_comma)
    try:
        written = read_load(number, style)
    except CellFault as fault:
        raise LoadFault("step", no_label(row.step, ladder, unit)) from fault
    return _at("step", written, ladder, is_zero_allowed=is_zero_allowed)


def _with_its_unit(step: str, unit: str) -> tuple[str, str]:
    """A step's number and unit: its own where it names one, as ``3.2 kN``, else the ladder's."""
    match = _NUMBER_AND_UNIT.fullmatch(step.strip())
    named = match.group(2).lower() if match else ""
    return (match.group(1), named) if match and named in LOAD_UNITS else (step, unit)


def _peak_loads(row: LogRow, ending: Ending, protocol: Protocol) -> Loads:
    written = _peak_of(row, ending, protocol)
    load_kn = written.value
    if load_kn == 0 and ending is Ending.STOPPED:
        return Loads()
    if load_kn == 0:
        raise LoadFault("load", _zero())
    _check_peak(row, written, ending, protocol)
    last_kn = None if row.last_held is None else row.last_held.value
    if not ending.is_release:
        if last_kn is not None and last_kn != load_kn:
            raise LoadFault("last_held", _two_loads(last_kn, load_kn, written.unit))
        given = None if row.resolution is None else _resolution(row, written, protocol)
        return Loads(load_kn=load_kn, resolution_kn=given)
    _check_below(last_kn, load_kn, written.unit)
    resolution_kn = _resolution(row, written, protocol)
    return Loads(load_kn=load_kn, last_held_kn=last_kn, resolution_kn=resolution_kn)


def _check_peak(row: LogRow, written: Measured, ending: Ending, protocol: Protocol) -> None:
    """Refuse a peak that this boat cannot have pulled, or that is no hold of the top step."""
    column = "load" if row.load is not None else "step" if row.step else "last_held"
    shown = show_load(written.value, written.unit)
    if written.value > MOST_THRUST_SHARE * protocol.top_thrust_kn:
        boat = show_load(protocol.top_thrust_kn, written.unit)
        remedy = "Look for a lost decimal point, or for another unit than the column's"
        raise LoadFault(column, CellFault(f"{shown} on a boat of {boat}", remedy))
    top_kn = 0.0 if protocol.ladder is None else protocol.ladder.top_kn
    if ending is Ending.HELD and written.value < HELD_PEAK_SHARE * top_kn:
        top = show_load(top_kn, written.unit)
        remedy = "Write stopped and a reason if the crew ended it there, else the load in full"
        raise LoadFault(
            column, CellFault(f"held at {shown}, well below the top step {top}", remedy)
        )


def _peak_of(row: LogRow, ending: Ending, protocol: Protocol) -> Measured:
    if row.load is not None:
        return row.load
    if row.step and protocol.ladder is None:
        style = Style(unit=protocol.unit, has_decimal_comma=row.has_decimal_comma)
        try:
            return read_load(row.step, style)
        except CellFault as fault:
            raise LoadFault("step", fault) from fault
    if row.last_held is not None and not ending.is_release:
        return row.last_held
    raise _missing(row, ending)


def _resolution(row: LogRow, written: Measured, protocol: Protocol) -> float:
    """Width of a peak: as written in the row, else the gauge's, else the last digit.

    A reading of more digits than any cell is good for is taken to the least width.
    """
    gauge_kn = protocol.gauge.resolution_kn if protocol.gauge else None
    digit_kn = max(written.last_digit, LEAST_RESOLUTION_KN)
    width_kn = row.resolution.value if row.resolution else gauge_kn or digit_kn
    if not LEAST_RESOLUTION_KN * (1 - _ROUNDING) <= width_kn < 2 * written.value:
        shown, least = (show_load(kn, written.unit) for kn in (width_kn, LEAST_RESOLUTION_KN))
        remedy = f"Write the width of one reading, from {least} to below its load"
        raise LoadFault("resolution", CellFault(f"a resolution of {shown}", remedy))
    return max(width_kn, LEAST_RESOLUTION_KN)


def _void_load(row: LogRow, protocol: Protocol) -> float | None:
    """A void bite's load as it was noted: kept, not used, so no ladder judges it."""
    if row.load is not None:
        return row.load.value or None
    if not row.step:
        return None
    labelled = find_label(row.step, protocol.ladder) if protocol.ladder else None
    if labelled is not None:
        return labelled
    style = Style(unit=protocol.unit, has_decimal_comma=row.has_decimal_comma)
    try:
        return read_load(row.step, style).value or None
    except CellFault as fault:
        raise LoadFault("step", fault) from fault


def _at(column: str, written: Measured, ladder: Ladder, *, is_zero_allowed: bool) -> float:
    if written.value == 0 and not is_zero_allowed:
        raise LoadFault(column, _zero())
    try:
        return find_step(written, ladder, is_zero_allowed=is_zero_allowed)
    except CellFault as fault:
        raise LoadFault(column, fault) from fault


def _check_below(last_kn: float | None, load_kn: float, unit: str) -> None:
    if last_kn is not None and last_kn >= load_kn:
        last, load = show_load(last_kn, unit), show_load(load_kn, unit)
        fault = CellFault(
            f"last held at {last}, yet let go at {load}",
            "Write the highest step that this bite held, below the one at which it let go",
        )
        raise LoadFault("last_held", fault)


def _missing(row: LogRow, ending: Ending) -> LoadFault:
    words = ending.value.replace("_", " ")
    remedy = {
        Ending.HELD: "Write the load that it held: the top step",
        Ending.STOPPED: "Write the last step that it held, or 0 if it held none",
    }.get(ending, "Write the step, or the peak, at which it let go")
    column = "load" if "load" in row.headings else "step"
    return LoadFault(column, CellFault(f"{words}, and no load", remedy))


def _zero() -> CellFault:
    return CellFault("a load of 0", "Write never set if it never bit, else the load in full")


def _two_loads(one_kn: float, other_kn: float, unit: str) -> CellFault:
    one, other = show_load(one_kn, unit), show_load(other_kn, unit)
    return CellFault(
        f"{one}, where the row also says {other}",
        "Keep the right one, or write reading = peak where the load comes from a load cell",
    )
