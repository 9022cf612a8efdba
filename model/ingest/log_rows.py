"""Pulls as rows of a log and back, to change some cells by the rules of a log.

Whoever corrects a cell by hand writes what would stand in a log; it is read by
the same reader, so that what is refused in a file is refused here.
"""

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Final

from model.ingest.formula_guard import guarded, unguarded
from model.ingest.log_file import LogReading, read_log_text
from model.ingest.log_writer import BITE_HEADINGS, FIRST_ROW_HEADINGS, IDENTITY, log_text
from model.records.campaign import Campaign
from model.records.columns import PLAIN
from model.records.pull import Pull

Row = dict[str, str]

STEP: Final = "step"
"""A step of the ladder or its label, in the place of a load in kN."""
_INSTEAD_OF_STEP: Final = ("load_kn", "last_held_kn", "reading", "resolution_kn")


def rows_of(pulls: Sequence[Pull], campaign: Campaign) -> list[Row]:
    """The rows of a log that would say these pulls, one a bite: heading to text.

    Raises
    ------
    InputError
        If a tester's own column has come to be called like one that the log knows.
    """
    reader = csv.DictReader(io.StringIO(log_text(pulls, campaign), newline=""))
    return [
        {unguarded(heading): unguarded(cell) for heading, cell in row.items()} for row in reader
    ]


def read_rows(rows: Sequence[Row], campaign: Campaign, source: str) -> LogReading:
    """Pulls from rows of a log.

    Raises
    ------
    FaultyFile
        With every fault; row k stands on line k + 1.
    """
    headings = list(dict.fromkeys(heading for row in rows for heading in row))
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow([guarded(heading) for heading in headings])
    writer.writerows([guarded(row.get(heading, "")) for heading in headings] for row in rows)
    # These rows are headed as a log is, whatever the tester's own sheets are.
    plainly = campaign.model_copy(update={"columns": PLAIN})
    return read_log_text(file.getvalue(), source, plainly)


def correctable(campaign: Campaign, rows: Sequence[Row]) -> tuple[str, ...]:
    """Headings whose cells may be changed: all but those that say which bite of which pull."""
    found = dict.fromkeys(heading for row in rows for heading in row)
    found |= dict.fromkeys(treatment.name for treatment in campaign.treatments)
    return (STEP, *(heading for heading in found if heading not in IDENTITY))


def with_cell(rows: Sequence[Row], heading: str, text: str, *, bite: int = 1) -> list[Row]:
    """The rows with one column's cell changed, in each pull.

    Parameters
    ----------
    heading : str
        Of :func:`correctable`.
    bite : int
        Which bite's cell, where the column is of bites; what a pull says once stands in
        its first row, what all its rows say changes in all of them.
    """
    return [
        _with_cell(row, heading, text) if _is_meant(row, heading, bite) else dict(row)
        for row in rows
    ]


def _is_meant(row: Mapping[str, str], heading: str, bite: int) -> bool:
    number = int(row.get("bite") or 1)
    if heading == STEP or heading in BITE_HEADINGS:
        return number == bite
    is_once = heading in FIRST_ROW_HEADINGS
    return number == 1 or not is_once


def _with_cell(row: Mapping[str, str], heading: str, text: str) -> Row:
    emptied = dict.fromkeys(_INSTEAD_OF_STEP, "") if heading == STEP else {}
    return {**row, **emptied, heading: text}
