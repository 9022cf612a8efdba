"""The names a row uses, as the campaign spells them."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, Final

from model.base.errors import Fault
from model.ingest.known_names import find_name, shown, suggestion
from model.ingest.rows import LogRow
from model.records.base import LONGEST_NAME, NAME_PATTERN
from model.records.campaign import Campaign

_NAME: Final = re.compile(NAME_PATTERN)


def name_row(row: LogRow, campaign: Campaign) -> tuple[LogRow, list[Fault]]:
    """The row with every name as the campaign has it, and a fault for each it does not know.

    A row that names no outing is of the only one, where there is only one.
    """
    known = {
        "outing": [outing.name for outing in campaign.outings],
        "anchor": [anchor.code for anchor in campaign.anchors],
        "seabed": [seabed.name for seabed in campaign.seabeds],
        "site": [site.name for site in campaign.sites],
    }
    outings = known["outing"]
    if not row.outing and len(outings) == 1:
        row = replace(row, outing=outings[0])
    named = {
        kind: find_name(getattr(row, kind), names) or getattr(row, kind)
        for kind, names in known.items()
    }
    faults = [
        row.fault(kind, f"no {kind} {shown(named[kind])}", suggestion(named[kind], names))
        for kind, names in known.items()
        if named[kind] and named[kind] not in names
    ]
    faults += _empty(row, outings)
    pull_faults = list(_code_faults(row))
    levels, level_faults = _levels(row, campaign)
    signs, sign_faults = _signs(row, campaign)
    faults += [*pull_faults, *level_faults, *sign_faults, *_misplaced(row, named, campaign)]
    unknown = {kind for kind, names in known.items() if named[kind] not in {*names, ""}}
    unknown |= set() if named["outing"] else {"outing"}
    unknown |= {"pull"} if pull_faults else set()
    unknown |= {"levels"} if level_faults else set()
    unknown |= {"signs"} if sign_faults else set()
    faulty = row.faulty | unknown
    written: dict[str, Any] = {**named, "levels": levels, "signs": signs, "faulty": faulty}
    return replace(row, **written), faults


def _empty(row: LogRow, outings: Sequence[str]) -> Iterator[Fault]:
    if not row.pull:
        yield row.fault("pull", "no pull", "Number the pulls of an outing, or name them")
    if not row.outing:
        yield row.fault("outing", "no outing", f"Write one of: {', '.join(outings)}")


def _code_faults(row: LogRow) -> Iterator[Fault]:
    if len(row.pull) > LONGEST_NAME:
        found = f"a pull called by {len(row.pull)} characters, {shown(row.pull)}"
        yield row.fault("pull", found, f"Write up to {LONGEST_NAME}")
    elif row.pull and not _NAME.fullmatch(row.pull):
        found = f"a line break or another control character in {shown(row.pull)}"
        yield row.fault("pull", found, "Write it on one line, in plain characters")


def _levels(row: LogRow, campaign: Campaign) -> tuple[dict[str, str], list[Fault]]:
    levels: dict[str, str] = {}
    faults = []
    known = {treatment.name: treatment.levels for treatment in campaign.treatments}
    for treatment, written in row.levels.items():
        level = find_name(written, known[treatment])
        if level is None:
            remedy = suggestion(written, known[treatment])
            faults.append(row.fault(treatment, f"no level {shown(written)}", remedy))
        else:
            levels[treatment] = level
    return levels, faults


def _signs(row: LogRow, campaign: Campaign) -> tuple[dict[str, bool], list[Fault]]:
    known = [sign.name for sign in campaign.signs]
    named = {written: find_name(written, known) for written in row.signs}
    faults = [
        row.fault("signs", f"no sign {shown(written)}", suggestion(written, known))
        for written, name in named.items()
        if name is None
    ]
    return {name: row.signs[written] for written, name in named.items() if name}, faults


def _misplaced(row: LogRow, named: dict[str, str], campaign: Campaign) -> Iterator[Fault]:
    """A seabed that the site does not have; a row that names no site is at its outing's."""
    sites = {outing.name: outing.site for outing in campaign.outings}
    site = named["site"] or sites.get(named["outing"]) or ""
    seabed = next((each.seabed for each in campaign.sites if each.name == site), None)
    others = {each.name for each in campaign.seabeds} - {seabed}
    if seabed and named["seabed"] in others:
        of = "" if named["site"] else f" of {named['outing']}"
        found = f"{named['seabed']} at the site {site!r}{of}, which is {seabed}"
        yield row.fault("seabed", found, f"Write {seabed}, or another site")
