"""Pulls as they were written, corrected and taken out: revisions, of which the newest holds."""

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from model.base.errors import InputError
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.store.entries import parse
from model.store.tables import CampaignRow, PullRow

FEW: Final = 200
"""Pulls that are looked for one by one; of more, all are read."""
PULLS_REMEMBERED: Final = 4096
"""Records that were read already, a kB each: every answer reads all, and they never change."""


@dataclass(frozen=True, kw_only=True)
class Reason:
    """Who changes what is stored, and why.

    Raises
    ------
    InputError
        If it does not say why.
    """

    who: str
    why: str

    def __post_init__(self) -> None:
        if not any(sign.isprintable() and not sign.isspace() for sign in self.why):
            raise InputError(
                "a correction must say why", hint="Write the reason: it stays with the pull."
            )


@dataclass(frozen=True, kw_only=True)
class Revision:
    """One version of a pull; `number` 1 is how it was first stored.

    Parameters
    ----------
    is_removed : bool
        Whether the pull was taken out with this; `pull` is then what it was before.
    source : str
        The file it came from, or what else wrote it.
    """

    number: int
    pull: Pull
    is_removed: bool
    source: str
    who: str
    why: str
    stored_at: dt.datetime


@dataclass(frozen=True, kw_only=True)
class StoredCampaign:
    """One version of the campaign; the newest holds."""

    campaign: Campaign
    stored_at: dt.datetime


@dataclass(frozen=True, kw_only=True)
class Mark:
    """The last rows of campaign and pulls that were there when facts were read."""

    campaign_row: int
    pull_row: int


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What a store held at one moment: its campaign, and its pulls in the order first stored."""

    campaign: Campaign
    pulls: tuple[Pull, ...]
    mark: Mark


def newest_revisions(
    session: Session, *, last_row: int | None = None, names: Collection[str] | None = None
) -> dict[str, Revision]:
    """The newest revision of every pull by identity, in the order they were first stored.

    Parameters
    ----------
    last_row : int or None
        Row up to which they count, to see an earlier moment; None for now.
    names : collection of str or None
        Identities of those that are looked for; None for every pull. Of many every pull may be
        given all the same.
    """
    chosen = select(PullRow).order_by(PullRow.id)
    if last_row is not None:
        chosen = chosen.where(PullRow.id <= last_row)
    # Whoever logs one pull holds the writers' lock meanwhile: that must not take longer with
    # every pull that is there.
    if names is not None and len(names) <= FEW:
        chosen = chosen.where((PullRow.outing + "/" + PullRow.code).in_(names))
    rows = session.scalars(chosen)
    # Only the newest is read: an old revision may name what this version no longer takes.
    newest = {(row.outing, row.code): row for row in rows}
    return {revision.pull.id: revision for revision in map(_revision_from, newest.values())}


def current_pulls(session: Session, *, last_row: int | None = None) -> tuple[Pull, ...]:
    """Every pull that was not taken out, void ones too, in the order they were first stored."""
    found = newest_revisions(session, last_row=last_row).values()
    return tuple(revision.pull for revision in found if not revision.is_removed)


def first_stored_after(session: Session, row: int) -> frozenset[str]:
    """Identities of the pulls whose first revision stands below a row."""
    first = select(PullRow.outing, PullRow.code).group_by(PullRow.outing, PullRow.code)
    found = session.execute(first.having(func.min(PullRow.id) > row))
    return frozenset(f"{outing}/{code}" for outing, code in found)


def all_revisions(session: Session) -> tuple[Revision, ...]:
    """Every revision of every pull, in the order in which they were stored."""
    rows = session.scalars(select(PullRow).order_by(PullRow.id))
    return tuple(_revision_from(row) for row in rows)


def all_campaigns(session: Session) -> tuple[StoredCampaign, ...]:
    """Every version of the campaign, oldest first."""
    rows = session.scalars(select(CampaignRow).order_by(CampaignRow.id))
    return tuple(
        StoredCampaign(campaign=parse(Campaign, row.record), stored_at=row.stored_at)
        for row in rows
    )


def row_of(revision: Revision) -> PullRow:
    """The row of a revision that comes from another store, with all it says of itself."""
    return PullRow(
        outing=revision.pull.outing,
        code=revision.pull.code,
        revision=revision.number,
        anchor=revision.pull.anchor,
        seabed=revision.pull.seabed,
        record=revision.pull.model_dump_json(),
        source=revision.source,
        who=revision.who,
        why=revision.why,
        is_removed=revision.is_removed,
        stored_at=revision.stored_at,
    )


def revisions_of(session: Session, outing: str, code: str) -> tuple[Revision, ...]:
    """Every revision of one pull, oldest first; none where it was never stored."""
    rows = session.scalars(
        select(PullRow)
        .where(PullRow.outing == outing, PullRow.code == code)
        .order_by(PullRow.revision)
    )
    return tuple(_revision_from(row) for row in rows)


@lru_cache(maxsize=PULLS_REMEMBERED)
def _pull_from(record: str) -> Pull:
    return parse(Pull, record)


def _revision_from(row: PullRow) -> Revision:
    return Revision(
        number=row.revision,
        pull=_pull_from(row.record),
        is_removed=row.is_removed,
        source=row.source,
        who=row.who,
        why=row.why,
        stored_at=row.stored_at,
    )


def pull_row(
    pull: Pull,
    before: Revision | None,
    *,
    source: str,
    stored_at: dt.datetime,
    reason: Reason | None = None,
    is_removed: bool = False,
) -> PullRow:
    """The row of a new pull, or of the next revision of a stored one."""
    return PullRow(
        outing=pull.outing,
        code=pull.code,
        revision=1 if before is None else before.number + 1,
        anchor=pull.anchor,
        seabed=pull.seabed,
        record=pull.model_dump_json(),
        source=source,
        who="" if reason is None else reason.who,
        why="" if reason is None else reason.why,
        is_removed=is_removed,
        stored_at=stored_at,
    )


def require_stored(known: Mapping[str, Revision], names: Sequence[str]) -> None:
    """Refuse pulls that are not there, or were taken out already.

    Raises
    ------
    InputError
        Naming them.
    """
    missing = [name for name in names if name not in known or known[name].is_removed]
    if missing:
        raise InputError(
            f"the store holds no pull {', '.join(missing)}",
            hint="Nothing was changed. Pulls are named by outing and number, as `day 1/7`.",
        )


def require_removed(known: Mapping[str, Revision], names: Sequence[str]) -> None:
    """Refuse pulls that were not taken out.

    Raises
    ------
    InputError
        Naming them.
    """
    there = [name for name in names if name not in known or not known[name].is_removed]
    if there:
        raise InputError(f"no pull {', '.join(there)} was taken out", hint="Nothing was changed.")


def require_unchanged(known: Mapping[str, Revision], seen: Mapping[str, int]) -> None:
    """Refuse to correct pulls that are no longer what whoever corrects them was shown.

    Parameters
    ----------
    seen : mapping of str to int
        Number of the revision that was shown, by the pull's identity.

    Raises
    ------
    InputError
        Naming them, and who changed them.
    """
    changed = [known[name] for name, number in seen.items() if known[name].number != number]
    if changed:
        by = " and ".join(
            f"{one.pull.id} was changed by {one.who or 'somebody'} ({one.why or one.source})"
            for one in changed
        )
        raise InputError(
            f"while you looked, pull {by}",
            hint="Nothing was changed by you. Look at what stands there now, and correct that.",
        )
