"""What a log says of the campaign it belongs to: names, levels, loads, and how it is written.

Nothing is judged here: a survey is what a draft of the campaign file is written from.
"""

import datetime as dt
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from model.base.errors import Fault, FaultyFile
from model.ingest.cells import CellFault, Style, read_date, read_ending, read_number, read_signs
from model.ingest.columns import is_measured, known_column
from model.ingest.header_rows import without_headers
from model.ingest.heading_guesses import (
    HEADING_WORDS,
    WITHOUT_UNIT,
    guess_heading,
    guess_headings,
    names_force,
)
from model.ingest.headings_said import headings_said
from model.ingest.known_names import plain, visible
from model.ingest.table import Row, Table, read_table, table_of
from model.ingest.text_file import decoded
from model.ingest.workbook import WORKBOOK_MARK, naming_others, read_workbook
from model.records.columns import PLAIN, DateOrder
from model.records.pull import Ending

MOST_LEVELS: Final = 6
"""More different words in a column are no levels of a treatment."""
LONGEST_LEVEL: Final = 40
_SEPARATED: Final = re.compile(r"(\d{1,2})([./-])(\d{1,2})[./-]\d{4}")
_COMMA: Final = re.compile(r"[+-]?\d*,\d+")
_MOST: Final = 1e9

Cells = Mapping[str, str]
"""One row: column of the log, or heading that it does not know, to what stands there."""


@dataclass(frozen=True, kw_only=True)
class OutingSeen:
    """An outing of the log; `site` is the only one that its rows name, else empty."""

    name: str
    date: dt.date | None
    site: str
    is_stepped: bool


@dataclass(frozen=True, kw_only=True)
class LogSurvey:
    """What a log says.

    Parameters
    ----------
    columns : mapping of str to str
        Columns of the log that it has, each with the unit that its heading names; ``?`` where
        that names none.
    own_headings : mapping of str to str
        The tester's own headings, each with the log's that it most likely means.
    has_decimal_comma : bool
        Whether numbers are written with a comma though commas may part the cells.
    date_order : str or None
        None where the dates do not tell.
    sites : mapping of str to str
        Each site with the only seabed that was pulled there; empty where there are several.
    treatments : mapping of str to tuple of str
        Columns nobody knows that hold few words again and again, with these words.
    unknown : tuple of str
        Columns nobody knows that hold nothing like that.
    with_empty : frozenset of str
        Those treatments that have empty cells.
    usual_scope : float or None
        The commonest.
    steps : tuple of float
        Loads that were written as steps, increasing, in the log's unit.
    labels : tuple of str
        Steps that are no loads.
    held : tuple of float
        Loads that were held to the end, increasing.
    highest : float or None
        The highest load of all.
    days : int
        Different dates.
    notes : tuple of str
        What was not looked at.
    """

    source: str
    columns: Mapping[str, str]
    own_headings: Mapping[str, str]
    has_decimal_comma: bool
    date_order: DateOrder | None
    outings: tuple[OutingSeen, ...]
    seabeds: tuple[str, ...]
    sites: Mapping[str, str]
    anchors: tuple[str, ...]
    treatments: Mapping[str, tuple[str, ...]]
    unknown: tuple[str, ...]
    with_empty: frozenset[str]
    signs: tuple[str, ...]
    usual_scope: float | None
    steps: tuple[float, ...]
    labels: tuple[str, ...]
    held: tuple[float, ...]
    highest: float | None
    days: int
    notes: tuple[str, ...]


def survey_log(
    content: bytes, source: str, said: Mapping[str, str] = MappingProxyType({})
) -> LogSurvey:
    """Look through a log whose campaign is not known yet.

    Parameters
    ----------
    content : bytes
        Of the file, text or workbook.
    source : str
        Its name.
    said : mapping of str to str
        What a person says of its headings; see
        :func:`model.ingest.headings_said.headings_said`.

    Raises
    ------
    FaultyFile
        If it is no table: with every fault of its shape.
    InputError
        If something is said of a heading that it does not have, or that cannot be.
    """
    table, notes, is_text = _table(content, source)
    own = guess_headings(table, headings_said(table, said))
    found = {
        heading: known_column(own.get(heading, heading).replace(WITHOUT_UNIT, "kn"))
        for heading in table.headings
    }
    names = {heading: column.name if column else heading for heading, (column, _) in found.items()}
    rows = [_cells(table, names, row) for row in table.rows]
    has_comma = table.has_decimal_comma or _writes_commas(rows)
    order = _date_order([row.get("date", "") for row in rows])
    style = Style(has_decimal_comma=has_comma, date_order=order or "day first")
    units = _units(table.headings, own)
    treatments = _treatments(rows, [h for h, (column, _) in found.items() if h and not column])
    loads = list(_loads(rows, style))
    return LogSurvey(
        source=source,
        columns={column.name: units.get(column.name, "") for column, _ in found.values() if column},
        own_headings=own,
        has_decimal_comma=has_comma and not (is_text and table.has_decimal_comma),
        date_order=order,
        outings=_outings(rows, style, source),
        seabeds=_distinct(rows, "seabed"),
        sites=_sites(rows),
        anchors=_distinct(rows, "anchor"),
        treatments=treatments,
        unknown=tuple(
            h for h, (column, _) in found.items() if h and not (column or h in treatments)
        ),
        with_empty=frozenset(h for h in treatments if any(not row.get(h) for row in rows)),
        signs=_signs(rows, style),
        usual_scope=_usual_scope(rows, style),
        steps=tuple(sorted({load for load, is_step, _ in loads if is_step})),
        labels=tuple(dict.fromkeys(each["step"] for each in rows if _is_label(each, style))),
        held=tuple(sorted({load for load, is_step, ending in loads if is_step and _held(ending)})),
        highest=max((load for load, _, _ in loads), default=None),
        days=len({day for row in rows if (day := _date(row.get("date", ""), style))}),
        notes=notes,
    )


def _table(content: bytes, source: str) -> tuple[Table, tuple[str, ...], bool]:
    if not content.startswith(WORKBOOK_MARK):
        return _shaped(*read_table(decoded(source, content), source)), (), True
    sheet = read_workbook(content, source, _is_measured)
    rows = [Row(line=line, cells=cells) for line, cells in sheet.rows]
    with naming_others(sheet.others):
        return _shaped(*table_of(rows, [], source, PLAIN)), sheet.notes, False


def _shaped(table: Table | None, faults: list[Fault]) -> Table:
    """The table, if nothing is wrong with its shape."""
    if table is None:
        raise FaultyFile(faults)
    table, headers = without_headers(table, dict.fromkeys(HEADING_WORDS, ""))
    if any(fault.line == table.header_line for fault in headers):
        raise FaultyFile(headers)
    if faults or headers:
        raise FaultyFile([*faults, *headers])
    return table


def _is_measured(heading: str) -> bool:
    return names_force(heading) or is_measured(guess_heading(heading), {})


def _cells(table: Table, names: Mapping[str, str], row: Row) -> dict[str, str]:
    return {
        names[heading]: cell.strip()
        for heading, cell in zip(table.headings, row.cells, strict=True)
    }


def _units(headings: Sequence[str], own: Mapping[str, str]) -> dict[str, str]:
    """The unit of each column that has one, by the log's name for it."""
    units = {}
    for heading in headings:
        meant = own.get(heading, heading)
        column, unit = known_column(meant.replace(WITHOUT_UNIT, "m"))
        if column is None:
            column, unit = known_column(meant.replace(WITHOUT_UNIT, "kn"))
        if column is not None and column.units:
            units[column.name] = WITHOUT_UNIT if meant.endswith(WITHOUT_UNIT) else unit
    return units


def _distinct(rows: Sequence[Cells], column: str) -> tuple[str, ...]:
    """Different names of a column, as each was written first, without what nobody sees."""
    found: dict[str, str] = {}
    for row in rows:
        if row.get(column):
            found.setdefault(plain(row[column]), visible(row[column]))
    return tuple(found.values())


def _outings(rows: Sequence[Cells], style: Style, source: str) -> tuple[OutingSeen, ...]:
    names = _distinct(rows, "outing") or (source.rpartition(".")[0] or "the only outing",)
    is_only = "outing" not in {column for row in rows for column in row}
    found = []
    for name in names:
        mine = [row for row in rows if is_only or plain(row.get("outing", "")) == plain(name)]
        dates = {date for row in mine if (date := _date(row.get("date", ""), style))}
        sites = _distinct(mine, "site")
        found.append(
            OutingSeen(
                name=name.replace("/", "-") if is_only else name,
                date=dates.pop() if len(dates) == 1 else None,
                site=sites[0] if len(sites) == 1 else "",
                is_stepped=_is_stepped(mine, style),
            )
        )
    return tuple(found)


def _is_stepped(rows: Sequence[Cells], style: Style) -> bool:
    """Whether not all loads of an outing are said to be peaks."""
    loads = [is_step for _, is_step, _ in _loads(rows, style)]
    return not loads or any(loads) or any(_is_label(row, style) for row in rows)


def _sites(rows: Sequence[Cells]) -> dict[str, str]:
    found = {}
    for site in _distinct(rows, "site"):
        beds = _distinct([row for row in rows if plain(row["site"]) == plain(site)], "seabed")
        found[site] = beds[0] if len(beds) == 1 else ""
    return found


def _treatments(rows: Sequence[Cells], headings: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Columns that may be of something changed on purpose: a person has to say so."""
    found = {heading: _distinct(rows, heading) for heading in headings}
    return {
        heading: levels
        for heading, levels in found.items()
        if 1 <= len(levels) <= MOST_LEVELS
        and (len(levels) > 1 or any(not row.get(heading) for row in rows))
        and len(levels) < len(rows)
        and all(len(level) <= LONGEST_LEVEL for level in levels)
    }


def _signs(rows: Sequence[Cells], style: Style) -> tuple[str, ...]:
    found: dict[str, str] = {}
    for row in rows:
        try:
            signs = read_signs(row["signs"], style) if row.get("signs") else {}
        except CellFault:
            continue
        for sign in signs:
            found.setdefault(plain(sign), visible(sign))
    return tuple(found.values())


def _usual_scope(rows: Sequence[Cells], style: Style) -> float | None:
    written = [re.sub(r":0?1(:00)?$", "", row.get("scope", "")) for row in rows]
    scopes = [number for each in written if (number := _number(each, style)) is not None]
    return Counter(scopes).most_common(1)[0][0] if scopes else None


def _loads(rows: Sequence[Cells], style: Style) -> Iterator[tuple[float, bool, Ending | None]]:
    """Loads of the log's own unit, whether each was a step, and how that bite ended."""
    for row in rows:
        ending = _ending(row, style)
        if ending is Ending.VOID:
            continue
        is_step = plain(row.get("reading", "")) != "peak"
        written = [row.get("step") or row.get("load"), row.get("last_held")]
        for place, text in enumerate(written):
            number = _number(text or "", style)
            if number is not None and number > 0:
                yield number, is_step, ending if place == 0 else None


def _held(ending: Ending | None) -> bool:
    return ending is Ending.HELD


def _ending(row: Cells, style: Style) -> Ending | None:
    try:
        return Ending(str(read_ending(row.get("ending", ""), style)))
    except CellFault:
        return None


def _is_label(row: Cells, style: Style) -> bool:
    """Whether the step is named otherwise than by its load."""
    return bool(row.get("step")) and _number(row["step"], style) is None


def _number(text: str, style: Style) -> float | None:
    try:
        return read_number(text, style, least=0, most=_MOST).value if text else None
    except CellFault:
        return None


def _date(text: str, style: Style) -> dt.date | None:
    try:
        return read_date(text, style) if text else None
    except CellFault:
        return None


def _writes_commas(rows: Sequence[Cells]) -> bool:
    measured = ("load", "step", "last_held", "start_load", "rode", "depth", "buried", "scope")
    return any(_COMMA.fullmatch(row.get(column, "")) for row in rows for column in measured)


def _date_order(dates: Sequence[str]) -> DateOrder | None:
    """The order that the dates must be in; None where it could be either."""
    parts = [match for text in dates if (match := _SEPARATED.fullmatch(text))]
    if not parts:
        return "year first"
    if any(int(match[1]) > 12 or match[2] == "." for match in parts):
        return "day first"  # points part no month from the day after it
    return "month first" if any(int(match[3]) > 12 for match in parts) else None
