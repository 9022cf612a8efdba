"""A campaign from its TOML file: a record with notes, or every fault at once."""

import logging
import re
import sys
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from model.base.errors import Fault, FaultyFile
from model.ingest.campaign_keys import MINUTES_KEYS, PART_KEYS, SECTIONS, TOP_KEYS, UNIT_KEYS
from model.ingest.campaign_names import alike_faults, known_names, name_faults, take_defaults
from model.ingest.campaign_sections import (
    build_section,
    listed_tables,
    named_tables,
    read_section,
)
from model.ingest.cells import CellFault
from model.ingest.column_tables import read_columns
from model.ingest.gaps import GAP, gap_faults
from model.ingest.known_names import shown, suggestion
from model.ingest.ladder_tables import read_ladder
from model.ingest.question_tables import Known, read_question
from model.ingest.text_file import Kind, printable, read_text
from model.ingest.toml_keys import Entry, Key, Place, Table, build, read_entry, read_table
from model.ingest.toml_lines import MOST_PARTS, find_lines, find_long_key, show_path
from model.records.base import Record
from model.records.campaign import Campaign, Ladder, Minutes
from model.records.question import Question

logger = logging.getLogger(__name__)

MAX_BYTES: Final = 500_000
"""A campaign file is a few pages; a bigger one is some other file."""

HINT: Final = "Nothing was made of this file. Put these right and read it again."
KIND: Final = Kind(name="the campaign file", save="Save it as plain UTF-8 text", hint=HINT)
_AT_LINE: Final = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_HEADER_WITH_SPACE: Final = re.compile(r"\s*\[([\w-]+)\.([^\]\"']*\s[^\]\"']*)\]")
"""A section's name that should be in quotes, as ``[treatments.tip ballast]``."""
_DAY: Final = re.compile(r"\b[0-9]{4}-[0-9]{1,2}-[0-9T:.Z+-]*")


@dataclass(frozen=True, kw_only=True)
class CampaignReading:
    """A campaign, and what was taken for granted in reading it, to be said aloud."""

    campaign: Campaign
    notes: tuple[str, ...]


def read_campaign(path: Path) -> Campaign:
    """Read a campaign file; see :func:`read_campaign_with_notes`."""
    return read_campaign_with_notes(path).campaign


def read_campaign_with_notes(path: Path) -> CampaignReading:
    """Read a campaign file.

    Parameters
    ----------
    path : pathlib.Path
        TOML in UTF-8.

    Raises
    ------
    FaultyFile
        With every fault of the file, each by key and line.
    InputError
        If the file cannot be read at all.
    """
    text = read_text(path, max_bytes=MAX_BYTES, kind=KIND)
    return read_campaign_text(text, printable(path))


def read_campaign_text(text: str, source: str) -> CampaignReading:
    """Read a campaign from its text; see :func:`read_campaign_with_notes`."""
    table = _parsed(text, source)
    whole = Place(source=source, lines=find_lines(text))
    if GAP in text and (gaps := list(gap_faults(table, whole, text))):
        # What is wrong besides may well come of the gaps.
        raise FaultyFile(sorted(gaps, key=lambda fault: fault.line or 0), hint=HINT)
    place, faults = _with_units(table, whole)
    top, found = read_entry(table, (*TOP_KEYS, *PART_KEYS), place)
    # Of a faulty [units] only the faults count: below it the defaults stand in.
    faults += found
    parts = {key.name: top.values[key.name] for key in PART_KEYS if key.name in top.values}
    values, notes, found = _read_parts(parts, place)
    faults += found
    faults += alike_faults([(top.values["name"], top.at("name"))] if "name" in top.values else [])
    faults += _main_question(top, parts)
    faults += _interactions(top, parts)
    if faults:
        raise FaultyFile(sorted(faults, key=lambda fault: fault.line or 0), hint=HINT)
    units = {"load_unit": place.load_unit, "length_unit": place.length_unit}
    plain = {name: value for name, value in top.values.items() if name not in parts}
    campaign, faults = build(Campaign, replace(top, values={**plain, **values, **units}))
    if campaign is None:
        raise FaultyFile(
            [replace(fault, found=one) for fault in faults for one in fault.found.split("; ")],
            hint=HINT,
        )
    for note in notes:
        logger.info("%s: %s", source, note)
    return CampaignReading(campaign=campaign, notes=tuple(notes))


def _parsed(text: str, source: str) -> Table:
    line = find_long_key(text)
    if line is not None:
        remedy = "Write [section] with its keys below"
        found = f"a key of more than {MOST_PARTS} parts"
        fault = Fault(source=source, line=line, column=None, found=found, remedy=remedy)
        raise FaultyFile([fault], hint=HINT)
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        found, line = "tables nested too deeply", None
        cause: Exception = error
    except ValueError as error:
        match = _AT_LINE.search(str(error))
        last = text.rstrip("\n").count("\n") + 1
        line = int(match.group(1) or last) if match else None
        day = _no_day(text, source, match) if match and match.group(1) else None
        known = day or _long_number(text, source)
        if known is not None:
            raise FaultyFile([known], hint=HINT) from error
        found, cause = f"no TOML here: {_AT_LINE.sub('', str(error))}", error
    remedy = "Put text in quotes, one key = value a line, [section] above its keys"
    header = _HEADER_WITH_SPACE.match(text.split("\n")[line - 1]) if line else None
    if header:
        remedy = f'A name with a space stands in quotes: [{header[1]}."{header[2].strip()}"]'
    fault = Fault(source=source, line=line, column=None, found=found, remedy=remedy)
    raise FaultyFile([fault], hint=HINT) from cause


def _no_day(text: str, source: str, at: re.Match[str]) -> Fault | None:
    """The fault of a date on which reading stopped; None where it stopped on something else."""
    line, place = int(at.group(1)), int(at.group(2)) - 1
    dates = _DAY.finditer(text.split("\n")[line - 1])
    written = next((each[0] for each in dates if each.start() <= place < each.end()), None)
    if written is None:
        return None
    return Fault(
        source=source,
        line=line,
        column=show_path(find_lines(text).at(line)) or None,
        found=f"{written} is no day or time that there is",
        remedy="Write a day of the calendar, as 2026-05-03",
    )


def _long_number(text: str, source: str) -> Fault | None:
    """The fault of a whole number that Python itself refuses, and then without its line."""
    most = sys.get_int_max_str_digits()
    number = re.search(rf"[0-9_]{{{most + 1},}}", text) if most else None
    if number is None:
        return None
    line = text.count("\n", 0, number.start()) + 1
    return Fault(
        source=source,
        line=line,
        column=show_path(find_lines(text).at(line)) or None,
        found=f"a number of more than {most} digits",
        remedy="Write the few digits that were measured",
    )


def _with_units(table: Table, place: Place) -> tuple[Place, list[Fault]]:
    here = place.inside("units")
    units, faults = _sub_table(table.get("units", {}), UNIT_KEYS, here)
    return replace(
        place,
        load_unit=units.values.get("load", place.load_unit),
        length_unit=units.values.get("length", place.length_unit),
    ), faults


def _sub_table(value: object, keys: tuple[Key, ...], place: Place) -> tuple[Entry, list[Fault]]:
    try:
        return read_entry(read_table(value), keys, place)
    except CellFault as fault:
        empty = Entry(values={}, keys={}, place=place)
        return empty, [place.fault(fault.found, fault.remedy)]


def _read_parts(
    parts: Mapping[str, object], place: Place
) -> tuple[dict[str, Any], list[str], list[Fault]]:
    """Every record of a campaign by its field, notes, and faults."""
    faults: list[Fault] = []
    entries: dict[str, list[Entry]] = {}
    for section in SECTIONS:
        entries[section.name], found = read_section(section, parts, place)
        faults += found
    ladders, ladder_names, found = _ladders(parts, place)
    faults += found
    outings, notes, found = take_defaults(entries["outings"], entries, ladder_names)
    faults += found
    faults += name_faults(entries, ladder_names)
    values: dict[str, Any] = {"ladders": ladders}
    for section in SECTIONS:
        listed = outings if section.name == "outings" else entries[section.name]
        complete = [entry for entry in listed if not _lacks(entry, section.record)]
        values[section.name], found = build_section(section, complete)
        faults += found
    values["minutes"], found = _minutes(parts, place)
    faults += found
    values["columns"], found = read_columns(
        parts.get("columns", {}),
        place.inside("columns"),
        [name for name, _, _ in named_tables("treatments", parts, place)[0]],
    )
    faults += found
    values["questions"], found = _questions(parts, place, entries)
    return values, notes, [*faults, *found]


def _lacks(entry: Entry, record: type[Record]) -> bool:
    """Whether a value is missing or unreadable: that has its fault already."""
    needed = {name for name, field in record.model_fields.items() if field.is_required()}
    return not needed | set(entry.keys) <= set(entry.values)


def _ladders(
    parts: Mapping[str, object], place: Place
) -> tuple[tuple[Ladder, ...], list[str], list[Fault]]:
    tables, faults = named_tables("ladders", parts, place)
    ladders = []
    for name, table, here in tables:
        ladder, found = read_ladder(name, table, here)
        faults += found
        ladders += [] if ladder is None else [ladder]
    faults += alike_faults((name, here) for name, _, here in tables)
    return tuple(ladders), [name for name, _, _ in tables], faults


def _minutes(parts: Mapping[str, object], place: Place) -> tuple[Minutes, list[Fault]]:
    entry, faults = _sub_table(parts.get("minutes", {}), MINUTES_KEYS, place.inside("minutes"))
    minutes, found = build(Minutes, entry)
    return minutes or Minutes(), [*faults, *found]


def _questions(
    parts: Mapping[str, object], place: Place, entries: Mapping[str, list[Entry]]
) -> tuple[tuple[Question, ...], list[Fault]]:
    known = Known(
        anchors=known_names("anchors", entries, ()),
        seabeds=known_names("seabeds", entries, ()),
        treatments={
            entry.values["name"]: entry.values.get("levels", ()) for entry in entries["treatments"]
        },
    )
    tables, faults = listed_tables("questions", parts, place)
    questions: list[tuple[Question, Place]] = []
    for _, table, here in tables:
        question, found = read_question(table, here, known)
        faults += found
        questions += [] if question is None else [(question, here.inside("name"))]
    faults += alike_faults((question.name, place) for question, place in questions)
    return tuple(question for question, _ in questions), faults


def _main_question(top: Entry, parts: Mapping[str, object]) -> list[Fault]:
    name = top.values.get("main_question")
    tables, _ = listed_tables("questions", parts, top.place)
    names = [table.get("name") for _, table, _ in tables]
    known = [each for each in names if isinstance(each, str)]
    if name is None or name in known:
        return []
    return [top.at("main_question").fault(f"no question {shown(name)}", suggestion(name, known))]


def _interactions(top: Entry, parts: Mapping[str, object]) -> list[Fault]:
    """Names in the pairs of treatments that are no treatment's."""
    tables, _ = named_tables("treatments", parts, top.place)
    known = [name for name, _, _ in tables]
    return [
        top.at("interactions").fault(f"no treatment {shown(name)}", suggestion(name, known))
        for pair in top.values.get("interactions", ())
        for name in pair
        if name not in known
    ]
