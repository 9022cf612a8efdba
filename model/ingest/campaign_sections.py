"""Lists and named tables of a campaign file, to entries."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from model.base.errors import Fault
from model.ingest.campaign_keys import Section
from model.ingest.cells import CellFault
from model.ingest.known_names import shown
from model.ingest.toml_keys import Entry, Place, Table, build, read_entry, read_table
from model.records.base import Record

Part = tuple[str, Table, Place]
"""A table of a part: the name it stands under (empty in a list), its keys, its place."""


def read_section(
    section: Section, parts: Mapping[str, object], place: Place
) -> tuple[list[Entry], list[Fault]]:
    """Entries of one section, in the file's order, and everything wrong with them."""
    listed = named_tables if section.is_by_name else listed_tables
    tables, faults = listed(section.name, parts, place)
    entries = []
    for name, table, here in tables:
        entry, found = read_entry(table, section.keys, here)
        if section.is_by_name:
            entry = replace(entry, values={"name": name, **entry.values})
        entries.append(entry)
        faults += found
    if section.is_needed and not tables and not faults:
        header = f"[{section.name}.NAME]" if section.is_by_name else f"[[{section.name}]]"
        faults.append(place.fault(f"no {section.name}", f"Add {header}"))
    return entries, faults


def build_section(section: Section, entries: list[Entry]) -> tuple[tuple[Record, ...], list[Fault]]:
    """Records of a section's entries."""
    built = [build(section.record, entry) for entry in entries]
    records = tuple(record for record, _ in built if record is not None)
    return records, [fault for _, faults in built for fault in faults]


def listed_tables(
    name: str, parts: Mapping[str, object], place: Place
) -> tuple[list[Part], list[Fault]]:
    """Tables of ``[[name]]``; none if the file has none."""
    value = parts.get(name, [])
    here = place.inside(name)
    if not isinstance(value, list):
        return [], [here.fault(f"{name} is no list", f"Write each under [[{name}]]")]
    return _tables(lambda: (("", part, here.inside(i)) for i, part in enumerate(value)))


def named_tables(
    name: str, parts: Mapping[str, object], place: Place
) -> tuple[list[Part], list[Fault]]:
    """Tables of ``[name.NAME]``; none if the file has none."""
    value = parts.get(name, {})
    here = place.inside(name)
    if not isinstance(value, dict):
        return [], [here.fault(f"{name} is no table", f"Write each under [{name}.NAME]")]
    return _tables(lambda: ((key, part, here.inside(key)) for key, part in value.items()))


def _tables(
    parts: Callable[[], Iterator[tuple[str, object, Place]]],
) -> tuple[list[Part], list[Fault]]:
    tables: list[Part] = []
    faults = []
    for name, value, place in parts():
        try:
            tables.append((name, read_table(value), place))
        except CellFault as fault:
            faults.append(place.fault(fault.found, fault.remedy))
    return tables, faults


def name_of(section: Section, entry: Entry) -> str:
    """What an entry is called; empty where it says nothing."""
    return str(entry.values.get(section.naming, ""))


def shown_name(section: Section, entry: Entry) -> str:
    """What an entry is called, for a note."""
    return f"{section.name.removesuffix('s')} {shown(name_of(section, entry))}"
