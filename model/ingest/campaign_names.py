"""Names within a campaign file: each told apart, each known, defaults said aloud."""

import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final

from model.base.errors import Fault
from model.ingest.campaign_keys import REFERENCES, SECTIONS
from model.ingest.columns import KNOWN_HEADINGS
from model.ingest.known_names import UNSEEN, plain, shown, suggestion, visible
from model.ingest.setup_text import reads_back
from model.ingest.table import column_key
from model.ingest.toml_keys import Entry, Place
from model.records.campaign import UNKNOWN_LADDER

Entries = Mapping[str, Sequence[Entry]]
"""Entries by section."""

_NAMING: Final = {section.name: section.naming for section in SECTIONS}
_LOOKS_LIKE: Final = str.maketrans(
    "\u0410\u0412\u0415\u0405\u0406\u0408\u041a\u041c\u041d\u041e\u0420\u0421\u0422"
    "\u0423\u0425\u0430\u0435\u0455\u0456\u0458\u043e\u0440\u0441\u0443\u0445"
    "\u0391\u0392\u0395\u0396\u0397\u0399\u039a\u039c\u039d\u039f\u03a1\u03a4\u03a5"
    "\u03a7\u03bf",
    "ABESIJKMHOPCTYXaesijopcyxABEZHIKMNOPTYXo",
)
"""Cyrillic and Greek letters that are drawn as a Latin one is."""
_PARTING: Final = ",="
"""Signs at which the text of a set-up is taken apart."""


def known_names(section: str, entries: Entries, ladders: Sequence[str]) -> list[str]:
    """What a section's entries are called."""
    if section == "ladders":
        return [*ladders, UNKNOWN_LADDER]
    naming = _NAMING[section]
    return [entry.values[naming] for entry in entries[section] if naming in entry.values]


def name_faults(entries: Entries, ladders: Sequence[str]) -> Iterator[Fault]:
    """Names that stand twice, that nobody knows, or that no log or question could hold."""
    for section, naming in _NAMING.items():
        yield from alike_faults(
            (entry.values[naming], entry.at(naming))
            for entry in entries[section]
            if naming in entry.values
        )
    for section, field, target in REFERENCES:
        known = known_names(target, entries, ladders)
        for entry in entries[section]:
            name = entry.values.get(field)
            if name is not None and name not in known:
                kind = target.removesuffix("s")
                yield entry.at(field).fault(f"no {kind} {shown(name)}", suggestion(name, known))
    yield from _treatment_faults(entries["treatments"])
    for entry in entries["treatments"]:
        yield from _level_faults(entry)
    for entry in entries["anchors"]:
        if "code" in entry.values:
            yield from _unasked(entry.values["code"], entry.at("code"))


def seen_as(name: str) -> str:
    """What a reader takes a name for: alike for any two that nobody could tell apart."""
    return plain(name.translate(_LOOKS_LIKE))


def alike_faults(named: Iterable[tuple[str, Place]]) -> Iterator[Fault]:
    """Names of one list that stand twice, that nobody could tell apart, or read as they are."""
    seen: dict[str, str] = {}
    for name, place in named:
        if unseen := [sign for sign in name if unicodedata.category(sign) == UNSEEN]:
            yield _unseen(name, unseen[0], place)
            continue
        key = seen_as(name)
        if key in seen:
            yield _twice(seen[key], name, place)
        seen.setdefault(key, name)


def _unseen(name: str, sign: str, place: Place) -> Fault:
    called = unicodedata.name(sign, "a sign without a name").lower()
    found = f"{name!a} holds a sign that nobody sees ({called})"
    return place.fault(found, f"Type the name anew, as {shown(visible(name))}")


def _twice(earlier: str, name: str, place: Place) -> Fault:
    if earlier == name:
        return place.fault(f"{shown(name)} stands twice", "Call one of them otherwise")
    # Where only the coding differs the two look the same on a screen: written out they do not.
    is_seen = " ".join(earlier.split()).casefold() == " ".join(name.split()).casefold()
    one, other = (shown(each) if is_seen else ascii(each) for each in (earlier, name))
    found = f"{other}, which is {one} but for case, spaces or signs that look alike"
    remedy = "Call one of them otherwise: nobody could tell which of the two is meant"
    return place.fault(found, remedy)


def _treatment_faults(entries: Sequence[Entry]) -> Iterator[Fault]:
    """Each treatment heads a column of the log, so no other column may be called like it."""
    seen: dict[str, str] = {}
    for entry in entries:
        name = entry.values["name"]
        key = column_key(name)
        is_taken = key in seen and plain(seen[key]) != plain(name)  # those alike have their fault
        if key in KNOWN_HEADINGS or is_taken:
            found = f"a treatment called {shown(name)}"
            remedy = "Call it otherwise: a column of the pull log is called so already"
            yield entry.place.fault(found, remedy)
        seen.setdefault(key, name)


def _level_faults(entry: Entry) -> Iterator[Fault]:
    # One that stands twice letter by letter is refused by the record.
    levels, place = dict.fromkeys(entry.values.get("levels", ())), entry.at("levels")
    yield from alike_faults((level, place) for level in levels)
    for level in levels:
        yield from _unasked(level, place)


def _unasked(name: str, place: Place) -> Iterator[Fault]:
    """A name that the text of a set-up would take for something else."""
    marks = " and ".join(repr(mark) for mark in _PARTING if mark in name)
    if marks and not reads_back(name):  # without them it does, and trying each takes long
        found = f"{shown(name)} holds {marks}, at which the text of a question is taken apart"
        remedy = "Write it without: as it is, nobody could ask for it with anchor=S6, leader=wire"
        yield place.fault(found, remedy)


def take_defaults(
    outings: Sequence[Entry], entries: Entries, ladders: Sequence[str]
) -> tuple[list[Entry], list[str], list[Fault]]:
    """Outings with the only ladder, boat and gauge where they name none.

    Returns
    -------
    tuple
        The outings, a note on each default taken, and a fault wherever
        there is more than one to choose from.
    """
    notes: list[str] = []
    faults: list[Fault] = []
    filled: list[Entry] = []
    choices = {
        "ladder": list(ladders),
        "boat": known_names("boats", entries, ladders),
        "gauge": known_names("gauges", entries, ladders),
    }
    for outing in outings:
        taken = {
            field: known[0]
            for field, known in choices.items()
            if field not in outing.keys and len(known) == 1
        }
        name = outing.values.get("name", "")
        notes += [
            f"outing {shown(name)} names no {field}: {shown(value)} is taken, the only one"
            for field, value in taken.items()
        ]
        faults += _open_choices(outing, choices)
        notes += _no_gauge(outing, choices["gauge"])
        filled.append(replace(outing, values={**outing.values, **taken}))
    return filled, notes, faults


def _open_choices(outing: Entry, choices: Mapping[str, Sequence[str]]) -> Iterator[Fault]:
    for field in ("ladder", "boat"):
        known = choices[field]
        if field in outing.keys or len(known) == 1 or (field == "boat" and not known):
            continue
        remedy = f"Name one of: {', '.join(known)}" if known else "Add [ladders.NAME]"
        if field == "ladder":
            remedy += ', or write ladder = "unknown" for an old sheet'
        yield outing.place.fault(f"no {field}", remedy)


def _no_gauge(outing: Entry, gauges: Sequence[str]) -> Iterator[str]:
    if "gauge" not in outing.keys and len(gauges) > 1:
        name = shown(outing.values.get("name", ""))
        yield f"outing {name} names no gauge: none is taken, as there are {len(gauges)}"
