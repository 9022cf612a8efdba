"""Names within a campaign file: each once, each known, defaults said aloud."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final

from model.base.errors import Fault
from model.ingest.campaign_keys import REFERENCES, SECTIONS
from model.ingest.columns import KNOWN_HEADINGS
from model.ingest.known_names import shown, suggestion
from model.ingest.table import column_key
from model.ingest.toml_keys import Entry
from model.records.campaign import UNKNOWN_LADDER

Entries = Mapping[str, Sequence[Entry]]
"""Entries by section."""

_NAMING: Final = {section.name: section.naming for section in SECTIONS}


def known_names(section: str, entries: Entries, ladders: Sequence[str]) -> list[str]:
    """What a section's entries are called."""
    if section == "ladders":
        return [*ladders, UNKNOWN_LADDER]
    naming = _NAMING[section]
    return [entry.values[naming] for entry in entries[section] if naming in entry.values]


def name_faults(entries: Entries, ladders: Sequence[str]) -> Iterator[Fault]:
    """Names that stand twice, that nobody knows, or that a pull log could not head."""
    for section, naming in _NAMING.items():
        yield from _repeated(entries[section], naming)
    for section, field, target in REFERENCES:
        known = known_names(target, entries, ladders)
        for entry in entries[section]:
            name = entry.values.get(field)
            if name is not None and name not in known:
                kind = target.removesuffix("s")
                yield entry.at(field).fault(f"no {kind} {shown(name)}", suggestion(name, known))
    yield from _treatment_faults(entries["treatments"])


def _repeated(entries: Sequence[Entry], naming: str) -> Iterator[Fault]:
    seen: set[str] = set()
    for entry in entries:
        name = entry.values.get(naming)
        if name is not None and name in seen:
            yield entry.at(naming).fault(
                f"{shown(name)} stands twice", "Call one of them otherwise"
            )
        seen |= {name} if name is not None else set()


def _treatment_faults(entries: Sequence[Entry]) -> Iterator[Fault]:
    """Each treatment heads a column of the log, so no other column may be called like it."""
    seen: set[str] = set()
    for entry in entries:
        key = column_key(entry.values["name"])
        if key in KNOWN_HEADINGS or key in seen:
            found = f"a treatment called {shown(entry.values['name'])}"
            remedy = "Call it otherwise: a column of the pull log is called so already"
            yield entry.place.fault(found, remedy)
        seen |= {key}


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
