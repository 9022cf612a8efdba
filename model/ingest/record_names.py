"""Names of a campaign that came as a record, held to what a campaign file is held to."""

from collections.abc import Iterator
from typing import Final

from model.base.errors import Fault
from model.ingest.campaign_keys import SECTIONS
from model.ingest.campaign_names import alike_faults, name_faults
from model.ingest.column_tables import read_columns
from model.ingest.toml_keys import Entry, Place
from model.ingest.toml_lines import KeyPath, TomlLines
from model.records.base import Record
from model.records.campaign import Campaign

_APART: Final = ("ladders", "questions")
"""Lists of names beside the sections."""


def place_within(source: str, *path: str | int) -> Place:
    """A place that has a path and no line, as one in a file that only programs write."""
    return Place(source=source, lines=TomlLines(lines={}), path=KeyPath(path))


def record_faults(campaign: Campaign, place: Place) -> Iterator[Fault]:
    """What a campaign file of these names would be refused for.

    Parameters
    ----------
    campaign : Campaign
        Which holds by itself: its record lets in names that were let in before.
    place : Place
        Where it stands.
    """
    entries = {
        section.name: [
            _entry(one, place.inside(section.name, number))
            for number, one in enumerate(getattr(campaign, section.name))
        ]
        for section in SECTIONS
    }
    yield from alike_faults([(campaign.name, place.inside("name"))])
    yield from name_faults(entries, [ladder.name for ladder in campaign.ladders])
    for field in _APART:
        yield from alike_faults(
            (one.name, place.inside(field, number, "name"))
            for number, one in enumerate(getattr(campaign, field))
        )
    treatments = [treatment.name for treatment in campaign.treatments]
    headings = {"headings": campaign.columns.headings}
    yield from read_columns(headings, place.inside("columns"), treatments)[1]


def _entry(record: Record, place: Place) -> Entry:
    values = {field: value for field, value in record if value is not None}
    return Entry(values=values, keys={field: field for field in values}, place=place)
