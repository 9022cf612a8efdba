"""One row's cells to typed values, with every cell's fault named."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from model.base.errors import Fault
from model.ingest.cells import CellFault, Measured, Style
from model.ingest.columns import Place
from model.ingest.known_names import shown
from model.ingest.table import Row, Table
from model.records.pull import BuriedRode, Ending, ModeSeen, Reading, Start


@dataclass(frozen=True, kw_only=True)
class LogRow:
    """A row as it was written, each cell with its type; None or empty where it says nothing."""

    source: str
    line: int
    headings: dict[str, str]  # field -> heading as the file has it
    faulty: frozenset[str] = frozenset()  # fields whose cell could not be read
    has_decimal_comma: bool = False
    pull: str = ""
    outing: str = ""
    date: dt.date | None = None
    time: dt.time | None = None
    seabed: str = ""
    site: str = ""
    anchor: str = ""
    scope: float | None = None
    rode: Measured | None = None
    depth: Measured | None = None
    bite: int | None = None
    start: Start | None = None
    ending: Ending | None = None
    reading: Reading | None = None
    step: str = ""
    load: Measured | None = None
    last_held: Measured | None = None
    held_s: float | None = None
    start_load: Measured | None = None
    resolution: Measured | None = None
    mode: ModeSeen | None = None
    camera: bool | None = None
    buried: BuriedRode | None = None
    signs: dict[str, bool] = field(default_factory=dict)
    soak_min: float | None = None
    wind: str = ""
    current: str = ""
    sea: str = ""
    video: str = ""
    photo: str = ""
    reason: str = ""
    notes: str = ""
    levels: dict[str, str] = field(default_factory=dict)
    extras: dict[str, str] = field(default_factory=dict)

    def says(self, column: str) -> bool:
        """Whether the cell under that column holds anything, readable or not."""
        return column in self.faulty or getattr(self, column) not in (None, "")

    def fault(self, column: str, found: str, remedy: str) -> Fault:
        """A fault in this row, under the heading that the file has for `column`."""
        heading = self.headings.get(column, column)
        return Fault(source=self.source, line=self.line, column=heading, found=found, remedy=remedy)


def read_row(table: Table, places: Sequence[Place], row: Row) -> tuple[LogRow, list[Fault]]:
    """Typed values of one row, and a fault for each cell that cannot be read."""
    values: dict[str, Any] = {}
    levels: dict[str, str] = {}
    extras: dict[str, str] = {}
    faults: list[Fault] = []
    faulty: set[str] = set()
    for place, cell in zip(places, row.cells, strict=True):
        if not cell.strip():
            continue
        if place.treatment:
            levels[place.treatment] = cell.strip()
        elif place.column is None and place.heading:
            extras[place.heading] = cell
        else:
            try:
                values |= _value(place, cell, table)
            except CellFault as fault:
                faults.append(_fault(table, row, place, fault))
                faulty.add(place.column.name if place.column else "")
    headings = {place.column.name: place.heading for place in places if place.column}
    read = LogRow(
        source=table.source,
        line=row.line,
        headings=headings,
        has_decimal_comma=table.has_decimal_comma,
        faulty=frozenset(faulty),
        levels=levels,
        extras=extras,
        **values,
    )
    return read, faults


def _value(place: Place, cell: str, table: Table) -> dict[str, Any]:
    if place.column is None:
        raise CellFault(f"{shown(cell)} stands under no heading", "Give its column a heading")
    style = Style(
        unit=place.unit,
        has_decimal_comma=table.has_decimal_comma,
        date_order=table.date_order,
    )
    text = cell if place.column.is_verbatim else cell.strip()
    return {place.column.name: place.column.read(text, style)}


def _fault(table: Table, row: Row, place: Place, fault: CellFault) -> Fault:
    return Fault(
        source=table.source,
        line=row.line,
        column=place.heading or None,
        found=fault.found,
        remedy=fault.remedy,
    )
