"""Pulls as rows, what differs between two versions of one, and what they refer to."""

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from model.base.errors import Fault, FaultyFile, InputError
from model.base.units import LOAD_SYMBOLS, from_kn, from_m
from model.records.campaign import Campaign
from model.records.pull import Ending, Pull, Reading
from model.store.revisions import Revision


@dataclass(frozen=True, kw_only=True)
class Revised:
    """A stored pull that an import corrects: its identity, and each change as ``old → new``."""

    name: str
    changes: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.name}: {'; '.join(self.changes)}"


@dataclass(frozen=True, kw_only=True)
class Added:
    """What an import did.

    Parameters
    ----------
    added, skipped : int
        Pulls stored, and identical ones passed over.
    revised : tuple of Revised
        Stored pulls that it corrected.
    removed : int
        Of those skipped, the ones that were taken out before, and stay so.
    """

    added: int
    skipped: int
    revised: tuple[Revised, ...] = ()
    removed: int = 0


@dataclass(frozen=True, kw_only=True)
class Written:
    """How a file writes its pulls, so that faults speak as it does.

    Parameters
    ----------
    lines : mapping of str to int
        Line on which a pull begins, by the pull's identity.
    load_unit, length_unit : str
        Units of its loads and lengths.
    """

    lines: Mapping[str, int] = field(default_factory=dict)
    load_unit: str = "kn"
    length_unit: str = "m"


PLAINLY: Final = Written()
"""Pulls that come from no file."""


@dataclass(frozen=True, kw_only=True)
class Sorted:
    """Pulls of a file beside those stored: new, changed, and the same."""

    fresh: tuple[Pull, ...]
    changed: tuple[Pull, ...]
    same: tuple[Pull, ...]


def sort_pulls(
    pulls: Sequence[Pull],
    known: Mapping[str, Revision],
    *,
    source: str,
    written: Written = PLAINLY,
    may_change: bool = False,
) -> Sorted:
    """Tell pulls that are not stored yet from those that are, and from those that changed.

    Raises
    ------
    FaultyFile
        If one identity comes twice, or a stored pull comes with other content
        and may not change.
    """
    counts = Counter(pull.id for pull in pulls)
    faults = [
        _fault(source, written, name, f"{name} stands here {count} times", "Name each pull apart")
        for name, count in counts.items()
        if count > 1
    ]
    stored = [pull for pull in pulls if pull.id in known]
    changed = tuple(pull for pull in stored if pull != known[pull.id].pull)
    if not may_change:
        faults += [_changed(source, written, known[pull.id], pull) for pull in changed]
    if faults:
        raise FaultyFile(
            faults,
            hint="Nothing of this file was stored. Where the new values are right, import it again "
            'with --revise "WHY"; else put the old ones back, or give a new pull a new number.',
        )
    return Sorted(
        fresh=tuple(pull for pull in pulls if pull.id not in known),
        changed=changed,
        same=tuple(pull for pull in stored if pull == known[pull.id].pull),
    )


def _fault(source: str, written: Written, name: str, found: str, remedy: str) -> Fault:
    line = written.lines.get(name)
    return Fault(source=source, line=line, column=f"pull {name}", found=found, remedy=remedy)


def _changed(source: str, written: Written, old: Revision, new: Pull) -> Fault:
    before = "taken out before, and it had" if old.is_removed else "stored with"
    changes = "; ".join(differences(old.pull, new, written))
    found = f"{before} other content: {changes}"
    return _fault(source, written, new.id, found, "The stored pull stands")


def differences(old: Pull, new: Pull, written: Written = PLAINLY) -> list[str]:
    """Fields that differ, each as ``field: old → new``, in the units of a file."""
    before, after = dict(_leaves(_plain(old))), dict(_leaves(_plain(new)))
    return [
        f"{_bare(key)}: {_shown(key, before, written)} → {_shown(key, after, written)}"
        for key in dict.fromkeys([*before, *after])
        if before.get(key) != after.get(key)
    ]


def _bare(key: str) -> str:
    """A field's name without the unit in which it is kept."""
    return key.removesuffix("_kn").removesuffix("_m")


def _shown(key: str, values: Mapping[str, object], written: Written) -> str:
    value = values.get(key, "nothing")
    if isinstance(value, int | float) and key.endswith("_kn"):
        own = from_kn(value, written.load_unit)
        return f"{own:.6g} {LOAD_SYMBOLS[written.load_unit]}"
    if isinstance(value, int | float) and key.endswith("_m"):
        return f"{from_m(value, written.length_unit):.6g} {written.length_unit}"
    return shown_text(str(value))


def shown_text(text: str) -> str:
    """A text fit to be shown: a terminal must not be told what to do by a note."""
    return "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in text)


def _plain(pull: Pull) -> dict[str, object]:
    plain: dict[str, object] = json.loads(pull.model_dump_json(exclude_defaults=True))
    bites = plain.pop("bites")
    named = {f"bite {bite['number']}": bite for bite in bites} if isinstance(bites, list) else {}
    return {**plain, **named}


def _leaves(plain: dict[str, object], path: str = "") -> Iterator[tuple[str, object]]:
    for key, value in plain.items():
        if isinstance(value, dict):
            yield from _leaves(value, f"{path}{key} ")
        else:
            yield f"{path}{key}", value


def unknown_names(campaign: Campaign, pulls: Sequence[Pull]) -> list[str]:
    """Every name that a pull uses and the campaign does not know, said once each."""
    levels = {treatment.name: set(treatment.levels) for treatment in campaign.treatments}
    known: dict[str, set[str | None]] = {
        "outing": {outing.name for outing in campaign.outings},
        "anchor": {anchor.code for anchor in campaign.anchors},
        "seabed": {seabed.name for seabed in campaign.seabeds},
        "site": {site.name for site in campaign.sites} | {None},
        "sign": {sign.name for sign in campaign.signs},
    }
    found: Counter[str] = Counter()
    for pull in pulls:
        used: list[tuple[str, str | None]] = [
            (kind, getattr(pull, kind)) for kind in ("outing", "anchor", "seabed", "site")
        ]
        used += [("sign", sign) for bite in pull.bites for sign in bite.signs]
        found.update({f"{kind} {name!r}" for kind, name in used if name not in known[kind]})
        found.update(
            f"level {name}={level}"
            for name, level in pull.levels.items()
            if level not in levels.get(name, set())
        )
    return [f"{name} (in {count} pulls)" for name, count in found.items()]


def campaign_faults(old: Campaign, new: Campaign, pulls: Sequence[Pull]) -> list[str]:
    """Why a changed campaign cannot take the place of the stored one.

    Stored pulls must keep their meaning: nothing that they refer to may go, a
    baseline stands for every pull that names no level, the usual scope for every
    one that names none, a step for its load, and held for the top of the ladder.
    """
    if not pulls:
        return []
    if new.name != old.name:
        return [f"it is another campaign, {new.name!r}, and the store holds {old.name!r}"]
    faults = [f"{name} is used by stored pulls" for name in unknown_names(new, pulls)]
    baselines = {treatment.name: treatment.baseline for treatment in old.treatments}
    faults += [
        f"the baseline of {treatment.name} was {baselines[treatment.name]!r} when pulls were stored"
        for treatment in new.treatments
        if treatment.baseline != baselines.get(treatment.name, treatment.baseline)
    ]
    without = sum(pull.scope is None for pull in pulls)
    if without and new.usual_scope != old.usual_scope:
        faults.append(
            f"the usual scope was {old.usual_scope:g} when {without} pulls without a scope were "
            "stored"
        )
    return faults + _lost_steps(old, new, pulls) + _lost_tops(new, pulls)


def _lost_tops(new: Campaign, pulls: Sequence[Pull]) -> list[str]:
    """Steps that pulls held to the end, and that would no longer be the top of their ladder."""
    outings = {outing.name for outing in new.outings}
    lost: Counter[str] = Counter()
    for pull in pulls:
        ladder = new.ladder_of(pull.outing) if pull.outing in outings else None
        for bite in pull.bites:
            is_held = bite.ending is Ending.HELD and bite.reading is Reading.STEP
            if ladder is not None and is_held and bite.load_kn in set(ladder.loads_kn[:-1]):
                lost[f"{bite.load_kn:g} kN of the ladder {ladder.name!r} ({pull.outing})"] += 1
    return [
        f"step {name} was the top when {count} stored bites held it" for name, count in lost.items()
    ]


def _lost_steps(old: Campaign, new: Campaign, pulls: Sequence[Pull]) -> list[str]:
    outings = {outing.name for outing in new.outings}
    lost: Counter[str] = Counter()
    for pull in pulls:
        before = old.ladder_of(pull.outing)
        if before is None or pull.outing not in outings:
            continue
        after = new.ladder_of(pull.outing)
        loads_kn = () if after is None else after.loads_kn
        for bite in pull.bites:
            if bite.reading is Reading.STEP and bite.load_kn is not None:
                step_kn = _nearest_kn(before.loads_kn, bite.load_kn)
                if step_kn not in loads_kn:
                    lost[f"{step_kn:g} kN of the ladder {before.name!r} ({pull.outing})"] += 1
    return [f"step {name} is used by {count} stored bites" for name, count in lost.items()]


def _nearest_kn(loads_kn: Sequence[float], load_kn: float) -> float:
    return min(loads_kn, key=lambda step_kn: abs(step_kn - load_kn))


def require_known(campaign: Campaign, pulls: Sequence[Pull]) -> None:
    """Refuse pulls that name what the campaign does not know."""
    unknown = unknown_names(campaign, pulls)
    if unknown:
        raise InputError(
            "the campaign does not know " + ", ".join(unknown),
            hint="Add it to the campaign file and run `kedgewise new` on that file again.",
        )
