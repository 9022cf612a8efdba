"""Standing questions of a campaign file."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from model.base.constants import LEAST, MOST_LOAD_KN
from model.base.errors import Fault, InputError
from model.ingest.campaign_keys import QUESTION_KEYS, SETUP_KEYS
from model.ingest.known_names import shown, suggestion
from model.ingest.ladder_steps import show_load
from model.ingest.setup_text import BAND_EXAMPLE, EXAMPLE, name_setup, parse_band, read_setup
from model.ingest.toml_keys import Entry, Place, Table, build, read_entry, text_of
from model.records.question import Band, Measure, Question, SetUp


@dataclass(frozen=True, kw_only=True)
class Known:
    """Names that a question may use."""

    anchors: Sequence[str]
    seabeds: Sequence[str]
    treatments: Mapping[str, Sequence[str]]


def read_question(table: Table, place: Place, known: Known) -> tuple[Question | None, list[Fault]]:
    """One question, or everything that is wrong with it."""
    entry, faults = read_entry(table, QUESTION_KEYS, place)
    values = dict(entry.values)
    for side in ("a", "b"):
        if side in values:
            values[side], found = _setup(values[side], place.inside(side), known)
            faults += found
    seabeds, found = _seabeds(entry, known)
    faults += found
    values["seabeds"] = seabeds
    values.pop("seabed", None)
    faults += _hold_faults(entry)
    if "band" in values:
        values["band"], found = _band(values["band"], entry)
        faults += found
    if faults:
        return None, faults
    return build(Question, replace(entry, values=values))


def _setup(written: object, place: Place, known: Known) -> tuple[SetUp | None, list[Fault]]:
    try:
        if isinstance(written, str):
            return read_setup(written, known.anchors, known.treatments), []
        if isinstance(written, dict):
            return _setup_table(written, place, known)
    except InputError as error:
        return None, [place.fault(error.message, error.hint.rstrip("."))]
    return None, [place.fault(f"{shown(text_of(written))} is no set-up", EXAMPLE.rstrip("."))]


def _setup_table(table: Table, place: Place, known: Known) -> tuple[SetUp | None, list[Fault]]:
    entry, faults = read_entry(table, SETUP_KEYS, place)
    levels = entry.values.get("levels", {})
    if not isinstance(levels, dict) or not all(isinstance(each, str) for each in levels.values()):
        found = f"{shown(text_of(levels))} is no table of levels"
        faults.append(place.inside("levels").fault(found, 'Write { leader = "wire 2 m" }'))
    if faults:
        return None, faults
    anchor, scope = entry.values.get("anchor"), entry.values.get("scope")
    return name_setup(anchor, levels, scope, known.anchors, known.treatments), []


def _seabeds(entry: Entry, known: Known) -> tuple[tuple[str, ...], list[Fault]]:
    one, many = entry.values.get("seabed"), entry.values.get("seabeds", ())
    if one is not None and "seabeds" in entry.keys:
        return (), [entry.at("seabed").fault("seabed beside seabeds", "Keep one of the two")]
    seabeds = many if one is None else (one,)
    place = entry.at("seabeds" if one is None else "seabed")
    return seabeds, [
        place.fault(f"no seabed {shown(name)}", suggestion(name, known.seabeds))
        for name in seabeds
        if name not in known.seabeds
    ]


def _hold_faults(entry: Entry) -> Iterator[Fault]:
    hold_kn, unit = entry.values.get("hold_kn"), entry.place.load_unit
    if hold_kn is None or LEAST <= hold_kn <= MOST_LOAD_KN:
        return
    least, most = (show_load(kn, unit) for kn in (LEAST, MOST_LOAD_KN))
    found = f"{show_load(hold_kn, unit)} is no load that can be held"
    yield entry.at("hold_kn").fault(found, f"Write {least} to {most}")


def _band(written: object, entry: Entry) -> tuple[Band | None, list[Fault]]:
    """A band from text, from one number (a ratio) or from a list of its two ends."""
    is_chance = Measure(entry.values.get("measure", Measure.TYPICAL)).is_chance
    numbers = [written] if isinstance(written, int | float) else written
    if isinstance(numbers, list) and all(type(each) in {int, float} for each in numbers):
        text = "..".join(text_of(each) for each in numbers)
        written = f"±{text}" if is_chance and len(numbers) == 1 else text
    if not isinstance(written, str):
        fault = entry.at("band").fault(
            f"{shown(text_of(written))} is no band", BAND_EXAMPLE.rstrip(".")
        )
        return None, [fault]
    try:
        return parse_band(written), []
    except InputError as error:
        return None, [entry.at("band").fault(error.message, error.hint.rstrip("."))]
