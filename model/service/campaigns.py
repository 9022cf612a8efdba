"""Making a store from a campaign file, and taking over a changed one."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from model.base.errors import InputError
from model.ingest.campaign_file import read_campaign_with_notes
from model.records.base import Record
from model.records.campaign import Campaign
from model.service import stores
from model.store.store import Store, needs_making

LISTS: Final = {
    "boat": "boats",
    "gauge": "gauges",
    "ladder": "ladders",
    "outing": "outings",
    "seabed": "seabeds",
    "site": "sites",
    "anchor": "anchors",
    "treatment": "treatments",
    "sign": "signs",
    "question": "questions",
}
"""What a campaign lists, and the field that lists it."""


@dataclass(frozen=True, kw_only=True)
class Change:
    """One thing that differs between two versions of a campaign."""

    kind: str
    name: str
    what: Literal["added", "changed", "removed"]
    detail: str = ""

    def __str__(self) -> str:
        about = f"{self.kind} {self.name}".strip()
        return f"{about}: {self.detail}" if self.detail else f"{about} {self.what}"


@dataclass(frozen=True, kw_only=True)
class Made:
    """What came of a campaign file: a new store, or a known one brought up to it."""

    folder: Path
    campaign: Campaign
    is_new: bool
    changes: tuple[Change, ...]
    notes: tuple[str, ...]


def make(path: Path, *, store: str | None = None) -> Made:
    """Make a store from a campaign file, or bring its store up to a changed file.

    Parameters
    ----------
    path : Path
        Campaign file (TOML).
    store : str or None
        As for :func:`model.service.stores.resolve`; where nothing names one,
        the store gets the campaign's name.

    Raises
    ------
    FaultyFile
        If the file has faults.
    InputError
        If stored pulls would lose something that they refer to, or the store that the campaign's
        name stands for holds a campaign of another name.
    """
    reading = read_campaign_with_notes(path)
    notes = tuple(str(note) for note in reading.notes)
    campaign = reading.campaign
    named = stores.named_store(store)
    folder = named or stores.named_folder(slug(campaign.name))
    if needs_making(folder):
        Store.create(folder, campaign)
        return Made(folder=folder, campaign=campaign, is_new=True, changes=(), notes=notes)
    opened = Store.open(folder)
    if named is None and opened.campaign().name != campaign.name:
        # Two names may come to one folder; without pulls the second would replace the first.
        raise InputError(
            f"the store {folder.name} holds another campaign, {opened.campaign().name!r}",
            hint=f"Give this one a store: `--store NAME`. If it is the same one under a new name: "
            f"`--store {folder.name}`.",
        )
    changes = differences(opened.campaign(), campaign)
    opened.replace_campaign(campaign)
    return Made(folder=folder, campaign=campaign, is_new=False, changes=changes, notes=notes)


def slug(name: str) -> str:
    """A store's name from a campaign's: letters and digits, joined by hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:60] or "campaign"


def differences(old: Campaign, new: Campaign) -> tuple[Change, ...]:
    """What differs between two versions of a campaign, kind by kind."""
    changes = [change for kind in LISTS for change in _listed_changes(kind, old, new)]
    plain = set(Campaign.model_fields) - set(LISTS.values())
    before, after = old.model_dump(mode="json"), new.model_dump(mode="json")
    changes += [
        Change(kind=field, name="", what="changed", detail=f"{before[field]} → {after[field]}")
        for field in Campaign.model_fields
        if field in plain and before[field] != after[field]
    ]
    return tuple(changes)


def _listed_changes(kind: str, old: Campaign, new: Campaign) -> list[Change]:
    before, after = by_name(old, kind), by_name(new, kind)
    added = [Change(kind=kind, name=name, what="added") for name in after if name not in before]
    removed = [Change(kind=kind, name=name, what="removed") for name in before if name not in after]
    changed = [
        Change(kind=kind, name=name, what="changed", detail=_detail(before[name], after[name]))
        for name in after
        if name in before and before[name] != after[name]
    ]
    return [*added, *changed, *removed]


def by_name(campaign: Campaign, kind: str) -> dict[str, Record]:
    """What a campaign lists of a kind in :data:`LISTS`, by name or code."""
    records: tuple[Record, ...] = getattr(campaign, LISTS[kind])
    return {str(getattr(record, "code", getattr(record, "name", ""))): record for record in records}


def _detail(old: Record, new: Record) -> str:
    before: Mapping[str, object] = old.model_dump(mode="json")
    after: Mapping[str, object] = new.model_dump(mode="json")
    return "; ".join(
        f"{field} {before[field]} → {after[field]}"
        for field in before
        if before[field] != after[field]
    )
