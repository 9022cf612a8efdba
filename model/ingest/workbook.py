"""The values of a spreadsheet workbook (.xlsx) as the rows of a table.

Values alone: what a formula last gave, and never the formula. What cannot be
told as rows below one header (merged cells, a title above it, totals) is a fault.
"""

import contextlib
import datetime as dt
import io
import re
import warnings
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from defusedxml.common import DefusedXmlException
from openpyxl import load_workbook
from openpyxl.cell.cell import Cell
from openpyxl.utils.cell import column_index_from_string
from openpyxl.utils.exceptions import InvalidFileException
from openpyxl.worksheet.worksheet import Worksheet

from model.base.archives import BROKEN_ARCHIVE
from model.base.errors import Fault, FaultyFile, InputError
from model.ingest.formula_guard import unguarded
from model.ingest.known_names import shown

WORKBOOK_MARK: Final = b"PK\x03\x04"
"""How a workbook begins: it is a zip archive."""
MOST_UNPACKED_BYTES: Final = 20_000_000
"""A year of pulls unpacks to well below 2 MB; far above it lies what would fill the memory."""
MOST_MARKS: Final = 1_000_000
"""Marks of XML in a workbook, four a cell: each takes the reader some ten microseconds, twice."""
MOST_ROWS: Final = 20_000
MOST_COLUMNS: Final = 500
LONGEST_CELL: Final = 32_767
"""Characters that a spreadsheet itself lets into a cell."""
MOST_CHARACTERS: Final = 20_000_000
"""Of all cells together: one text in the file may be shared by every cell of a sheet."""
SHOWN_ROWS: Final = 5
SHOWN_SHEETS: Final = 5
SAVE: Final = "Save it again as a workbook (.xlsx), or as CSV UTF-8, and import that"

_DECIMALS: Final = re.compile(r"[#,]*0(?:\.(0+))?")
_RANGE: Final = re.compile(
    r"""<(?:\w+:)?(?:mergeCell|hyperlink)\b[^>]*?\bref=["']([A-Z]+)(\d+):([A-Z]+)(\d+)["']"""
)
_ZEROS: Final = re.compile(r"0{2,20}")
_BROKEN: Final = (
    *BROKEN_ARCHIVE,
    *(InvalidFileException, DefusedXmlException, SyntaxError, LookupError, TypeError),
    *(AttributeError, ArithmeticError, MemoryError, OSError),
)
"""What the library ends in on a damaged or encrypted workbook; bad XML is a SyntaxError."""

Rows = list[tuple[int, tuple[str, ...]]]


@dataclass(frozen=True, kw_only=True)
class SheetReading:
    """Rows of a sheet, each with its number, what to say of it, and the others' names."""

    rows: Rows
    notes: tuple[str, ...]
    others: tuple[str, ...]


@contextlib.contextmanager
def naming_others(others: Sequence[str]) -> Iterator[None]:
    """Where something is at fault, say which sheets were not read: the log may stand there."""
    try:
        yield
    except InputError as error:
        if others:
            names = ", ".join(map(shown, others[:SHOWN_SHEETS]))
            more = " …" if len(others) > SHOWN_SHEETS else ""
            were = "was" if len(others) == 1 else "were"
            said = f"Only the first sheet is read; {names}{more} {were} not."
            error.hint = f"{error.hint} {said}".strip()
        raise


def read_workbook(
    content: bytes,
    source: str,
    is_measured: Callable[[str], bool],
    *,
    has_decimal_comma: bool = False,
) -> SheetReading:
    """Rows of the first visible sheet that hold anything, their cells as text.

    Parameters
    ----------
    content : bytes
        Of the file.
    source : str
        Its name, for the faults.
    is_measured : callable
        Whether numbers below a heading were measured: those have the digits that the sheet
        shows. Others are names, which no format may change.
    has_decimal_comma : bool
        Whether measured numbers are to be written so, as the sheet's texts have them.

    Raises
    ------
    FaultyFile
        If it is no workbook, or not one header with rows below it.
    """
    try:
        return _read(content, source, is_measured, has_decimal_comma=has_decimal_comma)
    except _BROKEN as error:
        found = "a spreadsheet workbook or archive that cannot be read"
        raise FaultyFile([_fault(source, None, found, SAVE)]) from error


def _read(
    content: bytes, source: str, is_measured: Callable[[str], bool], *, has_decimal_comma: bool
) -> SheetReading:
    _require_small(content, source)
    values, formulas, others = _sheets(content)
    with naming_others(others):
        rows = _rows_of(values, formulas, source, is_measured, has_decimal_comma=has_decimal_comma)
    notes = [f"The sheet {name!r} was not read: only the first is." for name in others]
    hidden = _hidden(values, [row for row, _ in rows])
    return SheetReading(rows=rows, notes=(*notes, *hidden), others=tuple(others))


def _rows_of(
    values: Worksheet,
    formulas: Worksheet,
    source: str,
    is_measured: Callable[[str], bool],
    *,
    has_decimal_comma: bool,
) -> Rows:
    """Rows of a sheet, or everything wrong with its cells."""
    # Cells that hold something alone: one formatted cell far out would make millions of others.
    filled = {(cell.row, cell.column): cell for cell in _cells(values) if cell.value is not None}
    faults = [*_merged(values, source), *_too_large(filled, source)]
    if faults:
        raise FaultyFile(faults)
    faults += _formula_faults(values, formulas, source) + _error_faults(filled.values(), source)
    rows = _rows(filled, is_measured, has_decimal_comma=has_decimal_comma)
    faults += _title(rows, source)
    if faults:
        raise FaultyFile(faults)
    return rows


def _hidden(sheet: Worksheet, rows: Sequence[int]) -> Iterator[str]:
    """Rows that are read though nobody sees them, as those that a filter leaves out."""
    said = sheet.row_dimensions
    hidden = [row for row in rows if row in said and said[row].hidden]
    if hidden:
        more = " …" if len(hidden) > SHOWN_ROWS else ""
        named = ", ".join(str(row) for row in hidden[:SHOWN_ROWS])
        yield f"Hidden rows are read like all others: line {named}{more}."


def _require_small(content: bytes, source: str) -> None:
    """Refuse what would fill the memory before anything of it is made."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        size = sum(info.file_size for info in archive.infolist())
        if size > MOST_UNPACKED_BYTES:
            found = f"a workbook that unpacks to {size / 1e6:.0f} MB"
            most = f"Up to {MOST_UNPACKED_BYTES / 1e6:.0f} MB are read: check that it is the log"
            raise FaultyFile([_fault(source, None, found, most)])
        marks = sum(archive.read(name).count(b"<") for name in archive.namelist())
        if marks > MOST_MARKS:
            found = f"a workbook of some {marks / 4e6:.1f} million cells"
            remedy = f"Up to {MOST_MARKS / 4e6:.2g} million are read: keep the log alone in it"
            raise FaultyFile([_fault(source, None, found, remedy)])
        for name in archive.namelist():
            if name.startswith("xl/worksheets/") and name.endswith(".xml"):
                _require_small_ranges(archive.read(name).decode("utf-8", "replace"), source)


def _require_small_ranges(sheet: str, source: str) -> None:
    """Merged cells and links are made one by one, however far they reach."""
    for match in _RANGE.finditer(sheet):
        left, top, right, bottom = match.groups()
        width = column_index_from_string(right) - column_index_from_string(left) + 1
        if width * (int(bottom) - int(top) + 1) > MOST_ROWS:
            found = f"merged cells or a link {left}{top}:{right}{bottom}"
            remedy = "Unmerge them, or take the link out"
            raise FaultyFile([_fault(source, int(top), found, remedy)])


def _sheets(content: bytes) -> tuple[Worksheet, Worksheet, list[str]]:
    """The first visible sheet, with the values of formulas and with formulas; others' names."""
    # The library warns of what it does not keep, and prints what it cannot find a style for.
    with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()):
        warnings.simplefilter("ignore")
        books = [load_workbook(io.BytesIO(content), data_only=is_so) for is_so in (True, False)]
    shown = [sheet.title for sheet in books[0].worksheets if sheet.sheet_state == "visible"]
    first, second = (book[shown[0]] for book in books)
    others = [sheet for sheet in books[0].worksheets if sheet is not first]
    return first, second, [sheet.title for sheet in others if _holds_any(sheet)]


def _cells(sheet: Worksheet) -> list[Cell]:
    """The cells that the file has; asking for rows would make those between them, too."""
    found = sheet._cells.values()  # there is no public way
    return [cell for cell in found if isinstance(cell, Cell)]


def _holds_any(sheet: Worksheet) -> bool:
    return any(cell.value is not None for cell in _cells(sheet))


def _too_large(filled: Mapping[tuple[int, int], Cell], source: str) -> Iterator[Fault]:
    rows, columns = len({row for row, _ in filled}), max((at for _, at in filled), default=0)
    if rows > MOST_ROWS:
        found = f"a sheet of {rows} rows"
        yield _fault(source, None, found, f"Up to {MOST_ROWS} are read: split it")
    if columns > MOST_COLUMNS:
        found = f"a sheet with a cell in column {columns}"
        yield _fault(source, None, found, f"Up to {MOST_COLUMNS} columns are read: clear the rest")
    texts = [cell for cell in filled.values() if isinstance(cell.value, str)]
    for cell in texts:
        if len(str(cell.value)) > LONGEST_CELL:
            found = f"a cell of {len(str(cell.value))} characters ({cell.coordinate})"
            yield _fault(source, cell.row, found, f"Shorten it to {LONGEST_CELL}")
    size = sum(len(str(cell.value)) for cell in texts)
    if size > MOST_CHARACTERS:
        found = f"a sheet of {size / 1e6:.0f} million characters"
        most = f"Up to {MOST_CHARACTERS / 1e6:.0f} million are read: check that it is the log"
        yield _fault(source, None, found, most)


def _rows(
    filled: Mapping[tuple[int, int], Cell],
    is_measured: Callable[[str], bool],
    *,
    has_decimal_comma: bool,
) -> Rows:
    """Rows and columns that hold anything; what was only formatted is no column."""
    columns = sorted({column for _, column in filled})
    numbers = sorted({row for row, _ in filled})
    headings = {column: str(filled[at].value) for column in columns
                if (at := (numbers[0], column)) in filled}  # fmt: skip
    measured = {column for column, heading in headings.items() if is_measured(heading)}
    texts = {
        at: _text(cell, is_measured=at[1] in measured, has_decimal_comma=has_decimal_comma)
        for at, cell in filled.items()
    }
    found = [(row, tuple(texts.get((row, at), "") for at in columns)) for row in numbers]
    return [(row, cells) for row, cells in found if any(text.strip() for text in cells)]


def _merged(sheet: Worksheet, source: str) -> Iterator[Fault]:
    for merged in sheet.merged_cells.ranges:
        found = f"merged cells {merged.coord}"
        remedy = "Unmerge them, and write the value into each row that it is of"
        yield _fault(source, merged.min_row, found, remedy)


def _title(rows: Rows, source: str) -> Iterator[Fault]:
    """A line with one cell above lines with many is no header."""
    if len(rows) < 2 or not rows[0][1]:
        return
    filled = [[text for text in cells if text.strip()] for _, cells in rows[:2]]
    if len(filled[0]) == 1 and len(filled[1]) > 1:
        found = f"{shown(filled[0][0])} stands alone above the header"
        yield _fault(source, rows[0][0], found, "The first line must be the header: take it out")


def _formula_faults(values: Worksheet, formulas: Worksheet, source: str) -> list[Fault]:
    """Formulas whose value was never stored: they would read as cells that say nothing."""
    return [
        _fault(
            source,
            written.row,
            f"a formula without its value ({written.coordinate})",
            "Open the workbook in a spreadsheet and save it, or write the value",
        )
        for written in _cells(formulas)
        if written.data_type == "f" and _has_no_value(values[written.coordinate])
    ]


def _has_no_value(cell: Cell) -> bool:
    return cell.value is None and cell.data_type != "str"  # one that gave an empty text has one


def _error_faults(cells: Iterable[Cell], source: str) -> list[Fault]:
    return [
        _fault(
            source, cell.row, f"the error {cell.value} ({cell.coordinate})",
            "Write the value, or nothing",
        )
        for cell in cells
        if cell.data_type == "e"
    ]  # fmt: skip


def _text(cell: Cell, *, is_measured: bool, has_decimal_comma: bool) -> str:
    """A value as it would stand in a text file."""
    value = cell.value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        if not is_measured:
            return _name(value, str(cell.number_format))
        text = _digits(value, str(cell.number_format))
        return text.replace(".", ",") if has_decimal_comma else text
    if isinstance(value, dt.datetime):
        is_day = value.time() == dt.time()
        return value.date().isoformat() if is_day else value.isoformat(" ", "minutes")
    if isinstance(value, dt.time):
        return value.isoformat("seconds" if value.second else "minutes")
    return unguarded(str(value))


def _name(value: float, number_format: str) -> str:
    """A number that names something: 007 is another pull than 7, but 7.00 is not."""
    plain = _plain(value)
    if _ZEROS.fullmatch(number_format) and plain.isdigit():
        return plain.zfill(len(number_format))
    return plain


def _plain(value: float) -> str:
    return format(Decimal(repr(value)), "f").removesuffix(".0")


def _digits(value: float, number_format: str) -> str:
    """Every digit, and the zeros that the sheet shows: 3.20 was read to a hundredth."""
    plain = _plain(value)
    match = _DECIMALS.fullmatch(number_format)
    decimals = len(match.group(1) or "") if match else 0
    if decimals > len(plain.partition(".")[2]):
        return f"{value:.{decimals}f}"
    return plain


def _fault(source: str, line: int | None, found: str, remedy: str) -> Fault:
    return Fault(source=source, line=line, column=None, found=found, remedy=remedy)
