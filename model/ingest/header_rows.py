"""Headings where a pull should be: a title above the header, units below it, the header again.

Read as pulls they would be a puzzle of faults; each is one, and its row is no pull.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from model.base.errors import Fault
from model.base.units import LENGTH_UNITS, LOAD_UNITS
from model.ingest.columns import LOG_HEADINGS
from model.ingest.table import Table, column_key

LEAST_HEADINGS: Final = 2
"""Headings in a row that make it a header: one may be a note that is called like a column."""
_UNITS: Final = frozenset({*LOAD_UNITS, *LENGTH_UNITS, "s", "sec", "min", "kts", "x:1", "-"})


def without_headers(
    table: Table, own_headings: Mapping[str, str], treatments: Sequence[str] = ()
) -> tuple[Table, list[Fault]]:
    """The table without rows that are headers, and a fault for each of them.

    Where the true header stands below the first line, that is the only fault.

    Parameters
    ----------
    own_headings : mapping of str to str
        The tester's own headings, each with the log's for it.
    treatments : sequence of str
        Names of the campaign's, each a heading.
    """
    known = {column_key(each) for each in (*LOG_HEADINGS, *own_headings, *treatments)}
    first = _headings_in(table.headings, known)
    again = known | {column_key(heading) for heading in table.headings if heading}
    faults = []
    rows = []
    for place, row in enumerate(table.rows):
        filled = [cell.strip() for cell in row.cells if cell.strip()]
        if place == 0 and _headings_in(filled, known) > max(first, LEAST_HEADINGS - 1):
            found = f"the headings stand on line {row.line}"
            remedy = "The header must be the first line, and the only one: take out what is above"
            return table, [_fault(table, table.header_line, found, remedy)]
        if place == 0 and filled and all(_is_unit(cell) for cell in filled):
            found, remedy = "a second header, of units", "Write each into its heading, as load_kn"
        elif 2 * _headings_in(filled, again) > max(len(filled), 2 * LEAST_HEADINGS - 1):
            found, remedy = "the header once more", "Take that row out"
        else:
            rows.append(row)
            continue
        faults.append(_fault(table, row.line, found, remedy))
    return replace(table, rows=tuple(rows)), faults


def _headings_in(cells: Sequence[str], known: set[str]) -> int:
    return sum(column_key(cell) in known for cell in cells if cell.strip())


def _is_unit(cell: str) -> bool:
    return cell.strip("()[] ").casefold() in _UNITS


def _fault(table: Table, line: int, found: str, remedy: str) -> Fault:
    return Fault(source=table.source, line=line, column=None, found=found, remedy=remedy)
