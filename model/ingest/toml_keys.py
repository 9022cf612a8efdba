"""Tables of a campaign file, key by key, with every fault named."""

import datetime as dt
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from pydantic import ValidationError

from model.base.errors import Fault
from model.base.units import LENGTH_UNITS, LOAD_UNITS, MASS_UNITS, to_kg, to_kn, to_m
from model.ingest.cells import CellFault, dated
from model.ingest.known_names import shown, suggestion
from model.ingest.toml_lines import KeyPath, TomlLines, show_path
from model.records.base import Record

Table = Mapping[str, object]

MOST_GUESSES: Final = 50
"""Unknown keys of a table for which is said what may have been meant: no more are printed."""
_UNITS: Final = {"": {}, "load": LOAD_UNITS, "length": LENGTH_UNITS, "mass": MASS_UNITS}
_CONVERT: Final = {"load": to_kn, "length": to_m, "mass": to_kg}


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where in the file one is, and the campaign's own units."""

    source: str
    lines: TomlLines
    path: KeyPath = ()
    load_unit: str = "kn"
    length_unit: str = "m"

    def inside(self, *parts: str | int) -> "Place":
        """A place further in."""
        return replace(self, path=(*self.path, *parts))

    def fault(self, found: str, remedy: str) -> Fault:
        """A fault at this place."""
        return Fault(
            source=self.source,
            line=self.lines.of(self.path),
            column=show_path(self.path) or None,
            found=found,
            remedy=remedy,
        )


@dataclass(frozen=True, kw_only=True)
class Key:
    """One key a table may have.

    Parameters
    ----------
    name : str
        Key in the file, without a unit.
    read : callable
        Value to what the record takes; raises CellFault.
    field : str
        Field of the record; empty if it is called like the key.
    units : {"", "load", "length", "mass"}
        A bare load or length is in the campaign's unit; a mass names its own.
    """

    name: str
    read: Callable[[object], object]
    field: str = ""
    units: Literal["", "load", "length", "mass"] = ""
    is_needed: bool = False

    def names(self) -> list[str]:
        """Every way to write it."""
        bare = [] if self.units == "mass" else [self.name]
        return [*bare, *(f"{self.name}_{unit}" for unit in _UNITS[self.units])]

    def spelt(self) -> str:
        """How to write it, in a remedy."""
        return " or ".join(self.names()) if self.units == "mass" else self.name


@dataclass(frozen=True, kw_only=True)
class Entry:
    """What a table says: values by field, and the key that each stands under."""

    values: dict[str, Any]
    keys: dict[str, str]
    place: Place

    def at(self, field: str) -> Place:
        """Where a field's value stands; the table where it has none."""
        return self.place.inside(self.keys[field]) if field in self.keys else self.place


def read_entry(table: Table, keys: Sequence[Key], place: Place) -> tuple[Entry, list[Fault]]:
    """Values of one table, and everything wrong with its keys."""
    by_name = {name: key for key in keys for name in key.names()}
    values: dict[str, Any] = {}
    written: dict[str, str] = {}
    faults: list[Fault] = []
    for name, value in table.items():
        key = by_name.get(name)
        here = place.inside(name)
        if key is None:
            remedy = _known(name, keys) if len(faults) < MOST_GUESSES else "Take it out"
            faults.append(here.fault(f"an unknown key {shown(name)}", remedy))
            continue
        field = key.field or key.name
        if field in written:
            faults.append(here.fault(f"{name} beside {written[field]}", "Keep one of the two"))
            continue
        written[field] = name
        try:
            values[field] = _value(key, name, value, place)
        except CellFault as fault:
            faults.append(here.fault(fault.found, fault.remedy))
    faults += [
        place.fault(f"no {key.names()[0]}", f"Add {key.spelt()}")
        for key in keys
        if key.is_needed and (key.field or key.name) not in written
    ]
    return Entry(values=values, keys=written, place=place), faults


_REMEDIES: Final = {
    "is not among the levels": "Add it to levels as well, or make baseline one of the levels there",
}
"""What would do where a table is refused as a whole, by what its record says."""


def build[Built: Record](kind: type[Built], entry: Entry) -> tuple[Built | None, list[Fault]]:
    """The record of an entry, or what it refuses, key by key."""
    try:
        return kind(**entry.values), []
    except ValidationError as error:
        return None, [_refused(entry, problem) for problem in error.errors(include_url=False)]


def _refused(entry: Entry, problem: Mapping[str, Any]) -> Fault:
    message = str(problem["msg"]).removeprefix("Value error, ")
    if not problem["loc"] or problem["type"] == "missing":
        remedies = (remedy for words, remedy in _REMEDIES.items() if words in message)
        return entry.place.fault(message, next(remedies, "Put this table right"))
    place = entry.at(str(problem["loc"][0]))
    if problem["type"] == "string_pattern_mismatch":
        remedy = "Write it on one line, in plain characters, without spaces around it"
        return place.fault(shown(text_of(problem["input"])), remedy)
    return place.fault(
        shown(text_of(problem["input"])), message.replace("Input should", "It should")
    )


def _known(name: str, keys: Sequence[Key]) -> str:
    lacking = next((key for key in keys if key.name == name), None)
    if lacking is not None:
        return f"Name its unit: {lacking.spelt()}"
    # Every unit makes a key of its own: worth a guess, too many to list.
    return suggestion(
        name, [known for key in keys for known in key.names()], [key.names()[0] for key in keys]
    )


def _value(key: Key, name: str, value: object, place: Place) -> object:
    read = key.read(value)
    if not key.units:
        return read
    own = {"load": place.load_unit, "length": place.length_unit}.get(key.units, "")
    unit = name.removeprefix(key.name).removeprefix("_") or own
    return _CONVERT[key.units](read_number(read), unit)


def text_of(value: object) -> str:
    """A value as text, for a fault; one that no text can hold is named."""
    try:
        return str(value)
    except ValueError:
        return "a number of very many digits"
    except RecursionError:
        return "tables nested very deeply"


def read_string(value: object) -> str:
    """Text that is not blank."""
    if not isinstance(value, str) or not value.strip():
        raise CellFault(f"{shown(text_of(value))} is no text", 'Write text in quotes: "…"')
    return value


def read_prose(value: object) -> str:
    """Text, which may be empty."""
    if not isinstance(value, str):
        raise CellFault(f"{shown(text_of(value))} is no text", 'Write text in quotes: "…"')
    return value


def read_number(value: object) -> float:
    """A finite number, no text."""
    # A bool is an int to Python, not to a reader.
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise CellFault(f"{shown(text_of(value))} is no number", "Write a number without quotes")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise CellFault(f"{shown(text_of(value))} is no number", "Write a number without quotes")
    return number


def number_within(least: float, most: float) -> Callable[[object], float]:
    """A reader of numbers from `least` to `most`."""

    def read(value: object) -> float:
        number = read_number(value)
        if not least <= number <= most:
            raise CellFault(f"{number:g} is out of range", f"Write {least:g} to {most:g}")
        return number

    return read


def read_flag(value: object) -> bool:
    """``true`` or ``false``."""
    if not isinstance(value, bool):
        raise CellFault(f"{shown(text_of(value))} is neither true nor false", "Write true or false")
    return value


def read_day(value: object) -> dt.date:
    """A date without a time."""
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return dated(value)
    raise CellFault(f"{shown(text_of(value))} is no date", "Write 2026-05-03, without quotes")


def read_strings(value: object) -> tuple[str, ...]:
    """A list of texts."""
    if not isinstance(value, list):
        raise CellFault(f"{shown(text_of(value))} is no list", 'Write ["one", "two"]')
    return tuple(read_string(part) for part in value)


def read_pairs(value: object) -> tuple[tuple[str, str], ...]:
    """A list of pairs of texts."""
    remedy = 'Write [["one", "two"]]'
    if not isinstance(value, list):
        raise CellFault(f"{shown(text_of(value))} is no list", remedy)
    pairs = []
    for part in value:
        names = read_strings(part)
        if len(names) != len(("one", "two")):
            raise CellFault(f"{shown(text_of(part))} is no pair", remedy)
        pairs.append((names[0], names[1]))
    return tuple(pairs)


def one_of(*words: str) -> Callable[[object], str]:
    """A reader of one of a few words."""

    def read(value: object) -> str:
        if value not in words:
            raise CellFault(shown(text_of(value)), suggestion(text_of(value), words))
        return str(value)

    return read


def read_table(value: object) -> Table:
    """A table of keys."""
    if not isinstance(value, dict):
        raise CellFault(
            f"{shown(text_of(value))} is no table", "Write it as [name] with keys below"
        )
    return value
