"""Delimited text as rows that know their line; nothing is understood yet."""

import csv
import io
import logging
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from model.base.errors import Fault
from model.ingest.formula_guard import unguarded
from model.records.columns import PLAIN, Columns, DateOrder

logger = logging.getLogger(__name__)

MAX_COLUMNS: Final = 500
"""More headings than any log has; comparing them all with each other would take for ever."""

MAX_ROWS: Final = 20_000
"""Years of pulls; each faulty row is told of, so that a file of millions would fill the memory."""

_TOTAL: Final = re.compile(r"((sub|grand )?totals?|sum|average|mean|count):?", re.IGNORECASE)
ROW_REMEDY: Final = "Give every row as many cells as the header; quote a cell that holds a comma"


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row; `line` is the line of the file on which it begins."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Table:
    """A header and the rows below it, each as long as the header.

    Parameters
    ----------
    has_decimal_comma : bool
        Whether a comma inside a number is a decimal comma.
    date_order : str
        Of dates that are not written year first.
    """

    source: str
    headings: tuple[str, ...]
    header_line: int
    rows: tuple[Row, ...]
    has_decimal_comma: bool = False
    date_order: DateOrder = "year first"


def column_key(heading: str) -> str:
    """A heading without regard to case, and to spaces, hyphens or underscores."""
    return "_".join(heading.replace("-", " ").replace("_", " ").split()).casefold()


def read_table(
    text: str, source: str, columns: Columns = PLAIN
) -> tuple[Table | None, list[Fault]]:
    """Rows of delimited text, and everything wrong with their shape.

    Parameters
    ----------
    text : str
        Commas or semicolons between cells, told apart by the header.
    source : str
        File name, for the faults.
    columns : Columns
        How numbers and dates are written; with semicolons a comma is a decimal one anyway.
    """
    delimiter = _delimiter(text)
    rows, faults = _rows(text, source, delimiter)
    own = columns.model_copy(
        update={"has_decimal_comma": columns.has_decimal_comma or delimiter == ";"}
    )
    return table_of(rows, faults, source, own)


def table_of(
    rows: Sequence[Row], faults: list[Fault], source: str, columns: Columns
) -> tuple[Table | None, list[Fault]]:
    """A table from its rows, the header first, and everything wrong with its shape.

    Parameters
    ----------
    faults : list of Fault
        What was wrong with the rows themselves.
    """
    if not rows:
        return None, faults or [
            _fault(source, 1, "an empty file", "Write a header and a row a bite")
        ]
    header, *body = rows
    if len(header.cells) > MAX_COLUMNS:
        found = f"a header of {len(header.cells)} columns"
        remedy = f"Up to {MAX_COLUMNS} are read: the first line must be the header"
        return None, [_fault(source, header.line, found, remedy)]
    headings = tuple(heading.strip() for heading in header.cells)
    faults += _repeated(source, header.line, headings)
    if not body and not faults:
        faults.append(_fault(source, header.line, "a header and nothing below", "Add a row a bite"))
    width = len(headings)
    faults += [
        _fault(source, row.line, f"{len(row.cells)} cells where the header has {width}", ROW_REMEDY)
        for row in body
        if len(row.cells) != width
    ]
    table = Table(
        source=source,
        headings=headings,
        header_line=header.line,
        rows=tuple(row for row in body if len(row.cells) == width),
        has_decimal_comma=columns.has_decimal_comma,
        date_order=columns.date_order,
    )
    totals = _totals(table)
    lines = {fault.line for fault in totals}
    pulls = tuple(row for row in table.rows if row.line not in lines)
    return replace(table, rows=pulls), [*faults, *totals]


def _totals(table: Table) -> list[Fault]:
    """Rows that sum up those above: taken for a pull they would be a puzzle of faults."""
    return [
        _fault(table.source, row.line, f"{filled[0]!r} and not a pull", "Take that row out")
        for row in table.rows
        if (filled := [cell.strip() for cell in row.cells if cell.strip()])
        and _TOTAL.fullmatch(filled[0])
        and 2 * len(filled) <= len(table.headings)
    ]


def _delimiter(text: str) -> str:
    header = next((line for line in io.StringIO(text) if line.strip(" \t\r\n,;")), "")
    return ";" if header.count(";") > header.count(",") else ","


def _rows(text: str, source: str, delimiter: str) -> tuple[list[Row], list[Fault]]:
    """Rows that hold anything, up to the first that cannot be told apart."""
    rows: list[Row] = []
    first = 1
    # newline="" keeps line ends inside quoted cells as they came.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                if len(rows) > MAX_ROWS:
                    found = f"more than {MAX_ROWS} rows"
                    return [], [_fault(source, first, found, "Split it into several files")]
                rows.append(Row(line=first, cells=tuple(unguarded(cell) for cell in cells)))
            first = reader.line_num + 1
    except csv.Error as error:
        logger.debug("%s, line %d: %s", source, first, error)
        found = f"a row that cannot be told into cells ({error})"
        remedy = 'Close every quote, write a quote inside a quoted cell twice ("")'
        if "field limit" in str(error):
            found = f"a cell of more than {csv.field_size_limit()} characters"
            remedy = "Shorten it; where none is so long, a quote before it was never closed"
        return rows, [_fault(source, first, found, remedy)]
    return rows, []


def _repeated(source: str, line: int, headings: tuple[str, ...]) -> list[Fault]:
    keys = [column_key(heading) for heading in headings]
    return [
        Fault(
            source=source,
            line=line,
            column=heading,
            found=f"{heading!r} heads column {keys.index(key) + 1} and column {place + 1}",
            remedy="Give each column a heading of its own",
        )
        for place, (key, heading) in enumerate(zip(keys, headings, strict=True))
        if key and keys.index(key) < place
    ]


def _fault(source: str, line: int, found: str, remedy: str) -> Fault:
    return Fault(source=source, line=line, column=None, found=found, remedy=remedy)
