"""The section ``[columns]``: how a tester's own sheets are headed and written."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final, get_args

from model.base.errors import Fault
from model.ingest.cells import CellFault
from model.ingest.columns import LOG_HEADINGS
from model.ingest.known_names import shown, suggestion
from model.ingest.table import MAX_COLUMNS, column_key
from model.ingest.toml_keys import (
    Key,
    Place,
    build,
    one_of,
    read_entry,
    read_flag,
    read_string,
    read_table,
)
from model.records.columns import PLAIN, Columns, DateOrder

_KEYS: Final = (
    Key(name="decimal_comma", field="has_decimal_comma", read=read_flag),
    Key(name="date_order", read=one_of(*get_args(DateOrder))),
    Key(name="headings", read=read_table),
)


def read_columns(
    value: object, place: Place, treatments: Sequence[str]
) -> tuple[Columns, list[Fault]]:
    """The section, and everything wrong with it.

    Parameters
    ----------
    treatments : sequence of str
        Names of the campaign's, each a heading of the log.
    """
    try:
        entry, faults = read_entry(read_table(value), _KEYS, place)
    except CellFault as fault:
        return PLAIN, [place.fault(fault.found, fault.remedy)]
    headings: dict[str, str] = {}
    here = place.inside("headings")
    written = entry.values.get("headings", {})
    if len(written) > MAX_COLUMNS:
        remedy = f"Write up to {MAX_COLUMNS}: a log has no more"
        return PLAIN, [*faults, here.fault(f"{len(written)} headings", remedy)]
    for own, meant in written.items():
        try:
            headings[own] = _heading(own, meant, treatments)
        except CellFault as fault:
            faults.append(here.inside(own).fault(fault.found, fault.remedy))
    faults += _repeated(headings, here)
    if faults:
        return PLAIN, faults
    columns, found = build(Columns, replace(entry, values={**entry.values, "headings": headings}))
    return columns or PLAIN, found


def _repeated(headings: Mapping[str, str], place: Place) -> list[Fault]:
    """Two headings for one column, and two that no reader tells apart."""
    meant, alike = Counter(headings.values()), Counter(map(column_key, headings))
    return [
        place.inside(own).fault(f"{shown(found)} stands twice", "Keep one")
        for own in headings
        for found, count in (
            (headings[own], meant[headings[own]]),
            (own, alike[column_key(own)]),
        )
        if count > 1
    ]


def _heading(own: str, meant: object, treatments: Sequence[str]) -> str:
    """The log's heading that one of the tester's stands for."""
    name = read_string(meant)
    if not own.strip() or own != own.strip():
        raise CellFault(f"{shown(own)} is no heading", "Write it without spaces around it")
    if column_key(own) in {column_key(each) for each in (*LOG_HEADINGS, *treatments)}:
        raise CellFault(f"{shown(own)} is a heading that the log knows", "Leave it out")
    known = [*LOG_HEADINGS, *treatments]
    by_key = {column_key(each): each for each in known}
    if column_key(name) not in by_key:
        raise CellFault(f"{shown(name)} is no heading of a log", suggestion(name, known))
    return by_key[column_key(name)]
