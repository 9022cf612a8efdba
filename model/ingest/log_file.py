"""A pull log from its file: records with notes, or every fault at once."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from model.base.errors import Fault, FaultyFile
from model.ingest.columns import Place, is_measured, place_columns
from model.ingest.header_rows import without_headers
from model.ingest.log_notes import notes_on
from model.ingest.pulls import read_pulls
from model.ingest.row_names import name_row
from model.ingest.rows import LogRow, read_row
from model.ingest.table import Row, Table, read_table, table_of
from model.ingest.text_file import decoded, printable, read_content
from model.ingest.workbook import WORKBOOK_MARK, naming_others, read_workbook
from model.records.campaign import Campaign
from model.records.pull import Pull

logger = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class LogReading:
    """What a log holds.

    Parameters
    ----------
    pulls : tuple of Pull
        In the order of the file.
    notes : tuple of str
        What was taken for granted or looks odd, to be said aloud.
    rows : int
        Rows below the header.
    lines : mapping of str to int
        Line on which each pull begins, by the pull's identity.
    load_unit, length_unit : str
        Units that the file writes in; the campaign's own where no column names one.
    """

    pulls: tuple[Pull, ...]
    notes: tuple[str, ...]
    rows: int
    lines: Mapping[str, int]
    load_unit: str
    length_unit: str


def read_log(path: Path, campaign: Campaign) -> LogReading:
    """Read a pull log.

    Parameters
    ----------
    path : pathlib.Path
        A workbook (.xlsx), or CSV in UTF-8, commas or semicolons between the cells.
    campaign : Campaign
        Names everything the log refers to.

    Raises
    ------
    FaultyFile
        With every fault of the file, each by line and column.
    InputError
        If the file cannot be read at all.
    """
    return read_log_content(read_content(path), printable(path), campaign)


def read_log_content(content: bytes, source: str, campaign: Campaign) -> LogReading:
    """Read a pull log, text or workbook, from what is in its file; see :func:`read_log`."""
    if not content.startswith(WORKBOOK_MARK):
        return read_log_text(decoded(source, content), source, campaign)
    columns = campaign.columns
    sheet = read_workbook(
        content,
        source,
        lambda heading: is_measured(heading, columns.headings),
        has_decimal_comma=columns.has_decimal_comma,
    )
    table, faults = table_of(
        [Row(line=line, cells=cells) for line, cells in sheet.rows], [], source, columns
    )
    with naming_others(sheet.others):
        reading = _read_table_rows(table, faults, source, campaign)
    return replace(reading, notes=(*reading.notes, *sheet.notes))


def read_log_text(text: str, source: str, campaign: Campaign) -> LogReading:
    """Read a pull log from its text; see :func:`read_log`."""
    table, faults = read_table(text, source, campaign.columns)
    return _read_table_rows(table, faults, source, campaign)


def _read_table_rows(
    table: Table | None, faults: list[Fault], source: str, campaign: Campaign
) -> LogReading:
    if table is None:
        raise FaultyFile(faults)
    names = [treatment.name for treatment in campaign.treatments]
    table, headers = without_headers(table, campaign.columns.headings, names)
    if any(fault.line == table.header_line for fault in headers):
        raise FaultyFile(headers)
    faults += headers
    places, found = place_columns(table, campaign.treatments, campaign.columns.headings)
    faults += found
    if found:
        # Below a header that is not understood every row would be at fault, to no one's use.
        raise FaultyFile(faults)
    rows: list[LogRow] = []
    for raw in table.rows:
        row, cell_faults = read_row(table, places, raw)
        named, name_faults = name_row(row, campaign)
        rows.append(named)
        faults += [*cell_faults, *name_faults]
    pulls, pull_faults = read_pulls(rows, campaign)
    faults += pull_faults
    if faults:
        raise FaultyFile(sorted(faults, key=lambda fault: fault.line or 0))
    notes = notes_on(rows, pulls, places, campaign)
    logger.info("%s: %d rows, %d pulls, %d notes", source, len(rows), len(pulls), len(notes))
    return LogReading(
        pulls=tuple(pulls),
        notes=tuple(notes),
        rows=len(rows),
        lines=_lines(rows),
        load_unit=_unit(places, ("load", "last_held", "start_load")) or campaign.load_unit,
        length_unit=_unit(places, ("buried", "rode", "depth")) or campaign.length_unit,
    )


def _lines(rows: Sequence[LogRow]) -> dict[str, int]:
    """The first line of each pull."""
    return {f"{row.outing}/{row.pull}": row.line for row in reversed(rows)}


def _unit(places: Sequence[Place], columns: Sequence[str]) -> str:
    """Unit of the first of some columns that the file has; empty where it has none."""
    units = {place.column.name: place.unit for place in places if place.column}
    return next((units[column] for column in columns if column in units), "")
