"""Ladders of a campaign file."""

from collections.abc import Iterator, Sequence
from typing import Any, Final

from model.base.constants import LEAST
from model.base.errors import Fault
from model.base.units import LOAD_UNITS, to_kn
from model.ingest.cells import CellFault, Style, read_load
from model.ingest.known_names import shown
from model.ingest.ladder_steps import is_step, show_load
from model.ingest.toml_keys import (
    Entry,
    Key,
    Place,
    Table,
    build,
    number_within,
    one_of,
    read_entry,
    read_number,
    read_string,
    text_of,
)
from model.records.campaign import MOST_DWELL_S, MOST_HOLD_S, Ladder, Step


def _read_list(value: object) -> list[object]:
    if not isinstance(value, list) or not value:
        raise CellFault(
            f"{shown(text_of(value))} is no list of steps",
            'Write [0.5, 1.0, 1.5] or [{ load = 0.5, label = "900 rpm" }]',
        )
    return value


_DWELL: Final = Key(name="dwell_s", read=number_within(LEAST, MOST_DWELL_S))
_LADDER_KEYS: Final = (
    Key(name="unit", read=one_of(*LOAD_UNITS)),
    _DWELL,
    Key(name="final_hold_s", read=number_within(LEAST, MOST_HOLD_S), is_needed=True),
    Key(name="steps", read=_read_list, is_needed=True),
)
_STEP_KEYS: Final = (
    Key(name="load", read=read_number, is_needed=True),
    Key(name="label", read=read_string),
    _DWELL,
)


def read_ladder(name: str, table: Table, place: Place) -> tuple[Ladder | None, list[Fault]]:
    """One ladder, its loads in its own unit or the campaign's."""
    entry, faults = read_entry(table, _LADDER_KEYS, place)
    steps: list[Step] = []
    for index, written in enumerate(entry.values.get("steps", [])):
        step, found = _step(written, entry, place.inside("steps", index))
        faults += found
        steps += [] if step is None else [step]
    if faults:
        return None, faults
    values: dict[str, Any] = {
        "name": name,
        "steps": tuple(steps),
        "final_hold_s": entry.values["final_hold_s"],
    }
    ladder, faults = build(Ladder, Entry(values=values, keys=entry.keys, place=place))
    return ladder, faults or list(_label_faults(steps, place))


def _label_faults(steps: Sequence[Step], place: Place) -> Iterator[Fault]:
    """Labels that a log's reader would take for the load of another step."""
    style = Style(unit=place.load_unit)
    for index, step in enumerate(steps):
        try:
            written = read_load(step.label or "", style)
        except CellFault:
            continue
        for other in steps:
            if other is not step and is_step(written, other.load_kn):
                load = show_load(other.load_kn, place.load_unit)
                found = f"the label {shown(step.label or '')}, which reads as the step {load}"
                remedy = "Write a label that is no load, as 900 rpm"
                yield place.inside("steps", index).fault(found, remedy)


def _step(written: object, ladder: Entry, place: Place) -> tuple[Step | None, list[Fault]]:
    table = written if isinstance(written, dict) else {"load": written}
    entry, faults = read_entry(table, _STEP_KEYS, place)
    dwell_s = entry.values.get("dwell_s", ladder.values.get("dwell_s"))
    if dwell_s is None and "dwell_s" not in {*entry.keys, *ladder.keys}:
        # Said once for the ladder: the same fault at every step would hide the others.
        remedy = "Add dwell_s to the ladder, or to every step"
        faults += [ladder.place.fault("no dwell_s", remedy)] if place.path[-1] == 0 else []
        return None, faults
    if faults or dwell_s is None:
        return None, faults
    unit = ladder.values.get("unit", place.load_unit)
    values: dict[str, Any] = {
        "load_kn": to_kn(entry.values["load"], unit),
        "label": entry.values.get("label"),
        "dwell_s": dwell_s,
    }
    return build(Step, Entry(values=values, keys={"load_kn": "load"}, place=place))
