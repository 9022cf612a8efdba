"""Another tester's facts into a store that is there: additions go in, conflicts are listed.

What only one side has is added, or stays. What the store has known and changed since stays as
it was changed. Anything else that differs is for people to decide.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from model.base.errors import Fault, FaultyFile
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.service.campaigns import Change, differences
from model.service.joint_campaign import joint_campaign
from model.store.facts import Written, shown_text
from model.store.facts import differences as pull_differences
from model.store.revisions import Revision
from model.store.store import Store

CAMPAIGN_REMEDY: Final = "Bring both to the same with `kedgewise new`"
HINT: Final = (
    "Nothing of this package was stored. Agree on each of these and change it on one side, or take "
    "the package into a store of its own with --store."
)

State = tuple[Pull, bool]


@dataclass(frozen=True, kw_only=True)
class Merged:
    """What a merge comes to.

    Parameters
    ----------
    added : tuple of str
        Identities of pulls that are new and hold.
    skipped : tuple of str
        Those known before.
    removed : tuple of str
        Of those skipped, the ones that were taken out here since, and stay so.
    corrected : tuple of str
        Of those skipped, the ones that were corrected here since, and stay so.
    revisions : tuple of Revision
        What the store lacked: all versions of the new pulls, and later ones of known pulls.
    campaign : Campaign
        The store's, with what only the other one has.
    changes : tuple of Change
        What that adds.
    """

    added: tuple[str, ...]
    skipped: tuple[str, ...]
    removed: tuple[str, ...]
    corrected: tuple[str, ...]
    revisions: tuple[Revision, ...]
    campaign: Campaign
    changes: tuple[Change, ...]


def merge(store: Store, source: str, campaign: Campaign, revisions: Sequence[Revision]) -> Merged:
    """Add to a store what another one knows beyond it, history included; all of it or nothing.

    Parameters
    ----------
    source : str
        What the other one's facts came in, for faults.
    campaign : Campaign
        As it stands there now.
    revisions : sequence of Revision
        Every version of every pull there, oldest first.

    Raises
    ------
    FaultyFile
        With everything on which the two differ and neither is only ahead.
    InputError
        If an earlier version of a pull names what neither campaign has any more.
    """
    done: list[Merged] = []

    def decide(old: Campaign, kept: Sequence[Revision]) -> tuple[Campaign, Sequence[Revision]]:
        done.append(merged(old, kept, campaign, revisions, source=source))
        return done[-1].campaign, done[-1].revisions

    store.merge(decide)
    return done[-1]


def merged(
    ours: Campaign,
    our_revisions: Sequence[Revision],
    theirs: Campaign,
    their_revisions: Sequence[Revision],
    *,
    source: str,
) -> Merged:
    """What a merge would come to; see :func:`merge`."""
    campaign, conflicts = joint_campaign(ours, theirs)
    faults = [_fault(source, "campaign", one, CAMPAIGN_REMEDY) for one in conflicts]
    known, given = _by_pull(our_revisions), _by_pull(their_revisions)
    units = Written(load_unit=ours.load_unit, length_unit=ours.length_unit)
    found = _Sorted(source=source, units=units)
    for name, versions in given.items():
        found.sort(name, known.get(name, []), versions)
    faults += found.faults
    if faults:
        raise FaultyFile(faults, hint=HINT)
    fresh = set(found.revisions)
    return Merged(
        added=tuple(found.added),
        skipped=tuple(found.skipped),
        removed=tuple(found.removed),
        corrected=tuple(found.corrected),
        # In the order in which they were stored there.
        revisions=tuple(one for one in their_revisions if _key(one) in fresh),
        campaign=campaign,
        changes=differences(ours, campaign),
    )


def _key(revision: Revision) -> tuple[str, int]:
    return revision.pull.id, revision.number


def _by_pull(revisions: Sequence[Revision]) -> dict[str, list[Revision]]:
    found: dict[str, list[Revision]] = {}
    for revision in revisions:
        found.setdefault(revision.pull.id, []).append(revision)
    return found


def _states(versions: Sequence[Revision]) -> list[State]:
    return [(version.pull, version.is_removed) for version in versions]


@dataclass(kw_only=True)
class _Sorted:
    """Pulls of the other side, sorted one after the other by what is known of each here."""

    source: str
    units: Written
    added: list[str] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    corrected: list[str] = field(default_factory=list)
    revisions: list[tuple[str, int]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    def sort(self, name: str, ours: Sequence[Revision], theirs: Sequence[Revision]) -> None:
        """Sort one pull by its versions on both sides, oldest first; `ours` may be empty."""
        here, there = _states(ours), _states(theirs)
        if not ours:
            self.revisions += map(_key, theirs)
            self.added += [] if theirs[-1].is_removed else [name]
            return
        if here[: len(there)] == there:  # theirs is ours of an earlier moment
            self._skip_older(name, ours[-1], theirs[-1])
        elif here[-1] == there[-1] or (ours[-1].is_removed and theirs[-1].is_removed):
            self.skipped.append(name)
            if there[: len(here)] == here:  # changed there, and changed back
                self.revisions += map(_key, theirs[len(ours) :])
        else:
            self.faults.append(self._conflict(name, ours[-1], theirs[-1]))

    def _skip_older(self, name: str, ours: Revision, theirs: Revision) -> None:
        self.skipped.append(name)
        if ours.is_removed and not theirs.is_removed:
            self.removed.append(name)
        elif ours.pull != theirs.pull:
            self.corrected.append(name)

    def _conflict(self, name: str, ours: Revision, theirs: Revision) -> Fault:
        if theirs.is_removed:
            found = f"taken out there{_by(theirs)}, and not here"
            remedy = "Take it out here, too, or have it put back there"
        elif ours.is_removed:
            found = f"taken out here{_by(ours)}, and not there"
            remedy = "Put it back here, or have it taken out there"
        else:
            changes = "; ".join(pull_differences(ours.pull, theirs.pull, self.units))
            found = f"stored here with other content: {changes}{_by(theirs)}"
            remedy = "Correct it here, or have it corrected there"
        return _fault(self.source, f"pull {name}", found, remedy)


def _by(revision: Revision) -> str:
    """Who changed it, and why, as far as that is known."""
    said = [shown_text(part) for part in (revision.who, revision.why) if part]
    return f" ({': '.join(said)})" if said else ""


def _fault(source: str, column: str, found: str, remedy: str) -> Fault:
    return Fault(source=source, line=None, column=column, found=found, remedy=remedy)
