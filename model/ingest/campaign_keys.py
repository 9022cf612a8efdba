"""The keys of a campaign file, section by section."""

from dataclasses import dataclass
from typing import Final

from model.base.units import LENGTH_UNITS, LOAD_UNITS
from model.ingest.toml_keys import (
    Key,
    number_within,
    one_of,
    read_day,
    read_flag,
    read_number,
    read_pairs,
    read_prose,
    read_string,
    read_strings,
)
from model.records.base import Record
from model.records.campaign import (
    Anchor,
    Boat,
    Gauge,
    Minutes,
    Outing,
    Seabed,
    Sign,
    Site,
)
from model.records.question import Measure
from model.records.treatment import Treatment

_NAME: Final = Key(name="name", read=read_string, is_needed=True)


@dataclass(frozen=True, kw_only=True)
class Section:
    """One kind of thing a campaign lists: its record, its keys, whether there must be one."""

    name: str
    record: type[Record]
    keys: tuple[Key, ...]
    is_needed: bool = False
    is_by_name: bool = False  # written as [section.NAME] instead of [[section]]
    naming: str = "name"  # the field that names one


SECTIONS: Final = (
    Section(
        name="boats",
        record=Boat,
        is_needed=True,
        keys=(
            _NAME,
            Key(
                name="top_thrust",
                field="top_thrust_kn",
                read=read_number,
                units="load",
                is_needed=True,
            ),
            Key(name="bow_height", field="bow_height_m", read=read_number, units="length"),
            Key(name="calibration_error", read=read_number),
        ),
    ),
    Section(
        name="gauges",
        record=Gauge,
        keys=(
            _NAME,
            Key(name="repeatability", read=read_number),
            Key(name="resolution", field="resolution_kn", read=read_number, units="load"),
        ),
    ),
    Section(
        name="outings",
        record=Outing,
        is_needed=True,
        keys=(
            _NAME,
            Key(name="date", read=read_day),
            Key(name="ladder", read=read_string),
            Key(name="boat", read=read_string),
            Key(name="gauge", read=read_string),
            Key(name="site", read=read_string),
        ),
    ),
    Section(
        name="seabeds",
        record=Seabed,
        is_needed=True,
        keys=(
            _NAME,
            Key(
                name="class",
                field="seabed_class",
                read=one_of("mud", "sand", "gravel", "stiff clay", "other"),
            ),
        ),
    ),
    Section(
        name="sites",
        record=Site,
        keys=(_NAME, Key(name="seabed", read=read_string)),
    ),
    Section(
        name="anchors",
        record=Anchor,
        is_needed=True,
        naming="code",
        keys=(
            Key(name="code", read=read_string, is_needed=True),
            Key(name="kind", read=read_prose),
            Key(name="mass", field="mass_kg", read=read_number, units="mass", is_needed=True),
            Key(name="since", read=read_day),
            Key(name="modified_from", read=read_string),
        ),
    ),
    Section(
        name="treatments",
        record=Treatment,
        is_by_name=True,
        keys=(
            Key(name="baseline", read=read_string, is_needed=True),
            Key(name="levels", read=read_strings, is_needed=True),
        ),
    ),
    Section(
        name="signs",
        record=Sign,
        keys=(_NAME, Key(name="points_to", read=one_of("upright", "on_side"), is_needed=True)),
    ),
)
"""Sections that are plain lists; ladders and questions have readers of their own."""

MINUTES_KEYS: Final = tuple(Key(name=name, read=read_number) for name in Minutes.model_fields)

TOP_KEYS: Final = (
    _NAME,
    Key(name="about", read=read_prose),
    Key(name="invented", field="is_invented", read=read_flag),
    Key(name="usual_scope", read=number_within(1, 100)),
    Key(name="let_go", field="let_go_m", read=number_within(0.01, 1000), units="length"),
    Key(name="main_question", read=read_string),
    Key(name="interactions", read=read_pairs),
)

QUESTION_KEYS: Final = (
    _NAME,
    Key(name="a", read=lambda value: value, is_needed=True),
    Key(name="b", read=lambda value: value, is_needed=True),
    Key(name="seabed", read=read_string),
    Key(name="seabeds", read=read_strings),
    Key(name="measure", read=one_of(*(measure.value for measure in Measure))),
    Key(name="hold", field="hold_kn", read=read_number, units="load"),
    Key(name="over", read=one_of("campaign", "next")),
    Key(name="band", read=lambda value: value),
)

SETUP_KEYS: Final = (
    Key(name="anchor", read=read_string),
    Key(name="levels", read=lambda value: value),
    Key(name="scope", read=read_number),
)

REFERENCES: Final = (  # section, field, section it names
    ("outings", "ladder", "ladders"),
    ("outings", "boat", "boats"),
    ("outings", "gauge", "gauges"),
    ("outings", "site", "sites"),
    ("sites", "seabed", "seabeds"),
    ("anchors", "modified_from", "anchors"),
)

PART_KEYS: Final = tuple(
    Key(name=name, read=lambda value: value)
    for name in (
        "units",
        "ladders",
        "columns",
        "minutes",
        "questions",
        *(each.name for each in SECTIONS),
    )
)
"""Everything at the top that is no value but a part with keys of its own."""

UNIT_KEYS: Final = (
    Key(name="load", read=one_of(*LOAD_UNITS)),
    Key(name="length", read=one_of(*LENGTH_UNITS)),
)
