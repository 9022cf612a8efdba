"""The values of a spreadsheet workbook (.xlsx) as the rows of a table.

Values alone: what a formula last gave, and never the formula. What cannot be
told as rows below one header (merged cells, a title above it, totals) is a fault.
"""

import datetime as dt
import io
import re
import zipfile
from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from openpyxl import load_workbook
from openpyxl.cell.cell import Cell, MergedCell
from openpyxl.utils.exceptions import InvalidFileException
from openpyxl.worksheet.worksheet import Worksheet

from model.base.errors import Fault, FaultyFile
from model.ingest.known_names import shown

WORKBOOK_MARK: Final = b"PK\x03\x04"
"""How a workbook begins: it is a zip archive."""
MOST_UNPACKED_BYTES: Final = 60_000_000
"""A year of pulls unpacks to well below 2 MB; far above it lies what would fill the memory."""
MOST_ROWS: Final = 20_000
SAVE: Final = "Save it again as a workbook (.xlsx), or as CSV UTF-8, and import that"

_DECIMALS: Final = re.compile(r"[#,]*0(?:\.(0+))?")
_BROKEN: Final = (
    *(zipfile.BadZipFile, InvalidFileException, SyntaxError),  # XML that is none is a SyntaxError
    *(KeyError, ValueError, TypeError, AttributeError, IndexError, EOFError, OSError),
)
"""What the library ends in on a damaged workbook."""


def read_workbook(
    content: bytes, source: str, *, has_decimal_comma: bool = False
) -> list[tuple[int, tuple[str, ...]]]:
    """Rows of the first sheet that hold anything: their number, and their cells as text.

    Parameters
    ----------
    content : bytes
        Of the file.
    source : str
        Its name, for the faults.
    has_decimal_comma : bool
        Whether numbers are to be written so, as the sheet's texts have them.

    Raises
    ------
    FaultyFile
        If it is no workbook, or not one header with rows below it.
    """
    values, formulas = _sheets(content, source)
    faults = list(_merged(values, source))
    if values.max_row > MOST_ROWS:
        found = f"a sheet of {values.max_row} rows"
        faults.append(_fault(source, None, found, f"Up to {MOST_ROWS} are read: split it"))
        raise FaultyFile(faults)
    rows: list[tuple[int, tuple[str, ...]]] = []
    for cells, behind in zip(values.iter_rows(), formulas.iter_rows(), strict=False):
        texts = []
        for cell, written in zip(cells, behind, strict=False):
            faults += _cell_faults(cell, written, source)
            texts.append(_text(cell, has_decimal_comma=has_decimal_comma))
        if any(text.strip() for text in texts):
            rows.append((cells[0].row or 0, tuple(texts)))
    faults += _title(rows, source)
    if faults:
        raise FaultyFile(faults)
    return _without_empty_columns(rows)


def _sheets(content: bytes, source: str) -> tuple[Worksheet, Worksheet]:
    """The first sheet twice: with the values that formulas gave, and with the formulas."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            size = sum(info.file_size for info in archive.infolist())
        if size <= MOST_UNPACKED_BYTES:
            books = [load_workbook(io.BytesIO(content), data_only=only) for only in (True, False)]
            sheets = [book.worksheets[0] for book in books]
            return sheets[0], sheets[1]
    except _BROKEN as error:
        found = "a spreadsheet workbook or archive that cannot be read"
        raise FaultyFile([_fault(source, None, found, SAVE)]) from error
    found = f"a workbook that unpacks to {size / 1e6:.0f} MB"
    remedy = f"Up to {MOST_UNPACKED_BYTES / 1e6:.0f} MB are read: check that it is the log"
    raise FaultyFile([_fault(source, None, found, remedy)])


def _merged(sheet: Worksheet, source: str) -> Iterator[Fault]:
    for merged in sheet.merged_cells.ranges:
        found = f"merged cells {merged.coord}"
        remedy = "Unmerge them, and write the value into each row that it is of"
        yield _fault(source, merged.min_row, found, remedy)


def _title(rows: list[tuple[int, tuple[str, ...]]], source: str) -> Iterator[Fault]:
    """A line with one cell above lines with many is no header."""
    if len(rows) < 2 or not rows[0][1]:
        return
    filled = [[text for text in cells if text.strip()] for _, cells in rows[:2]]
    if len(filled[0]) == 1 and len(filled[1]) > 1:
        found = f"{shown(filled[0][0])} stands alone above the header"
        yield _fault(source, rows[0][0], found, "The first line must be the header: take it out")


def _cell_faults(cell: Cell | MergedCell, written: Cell | MergedCell, source: str) -> list[Fault]:
    """Formulas whose value was never stored, and values that are errors."""
    if written.data_type == "f" and cell.value is None:
        found = f"a formula without its value ({written.coordinate})"
        remedy = "Open the workbook in a spreadsheet and save it, or write the value"
        return [_fault(source, cell.row, found, remedy)]
    if cell.data_type == "e":
        found = f"the error {cell.value} ({cell.coordinate})"
        return [_fault(source, cell.row, found, "Write the value, or nothing")]
    return []


def _text(cell: Cell | MergedCell, *, has_decimal_comma: bool) -> str:
    """A value as it would stand in a text file."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        text = _digits(value, str(cell.number_format))
        return text.replace(".", ",") if has_decimal_comma else text
    if isinstance(value, dt.datetime):
        is_day = value.time() == dt.time()
        return value.date().isoformat() if is_day else value.isoformat(" ", "minutes")
    if isinstance(value, dt.time):
        return value.isoformat("seconds" if value.second else "minutes")
    return str(value)


def _digits(value: float, number_format: str) -> str:
    """Every digit, and the zeros that the sheet shows: 3.20 was read to a hundredth."""
    plain = format(Decimal(repr(value)), "f").removesuffix(".0")
    match = _DECIMALS.fullmatch(number_format)
    decimals = len(match.group(1) or "") if match else 0
    if decimals > len(plain.partition(".")[2]):
        return f"{value:.{decimals}f}"
    return plain


def _without_empty_columns(
    rows: list[tuple[int, tuple[str, ...]]],
) -> list[tuple[int, tuple[str, ...]]]:
    """What was once formatted and is empty in every row is no column."""
    used = [any(texts) for texts in zip(*(cells for _, cells in rows), strict=True)]
    return [
        (row, tuple(text for text, is_used in zip(cells, used, strict=True) if is_used))
        for row, cells in rows
    ]


def _fault(source: str, line: int | None, found: str, remedy: str) -> Fault:
    return Fault(source=source, line=line, column=None, found=found, remedy=remedy)
