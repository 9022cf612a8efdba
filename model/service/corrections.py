"""Correcting stored pulls: who, why, and what it changes."""

import getpass
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from model.base.errors import FaultyFile, InputError, KnownPull
from model.ingest.log_rows import Row, read_rows, rows_of, with_cell
from model.records.pull import Pull
from model.store.facts import Revised, Written
from model.store.revisions import Reason
from model.store.store import Store

MOST_CHARACTERS: Final = 400
BY_HAND: Final = "by hand"
"""Source of what was corrected or added without a file."""
ON_A_DEVICE: Final = "by hand on a paired device"
"""Source of what was added on a phone, so that the store's owner sees which."""

WORD_FOR_WORD: Final = "word for word"
"""How a pull is known that was sent twice."""


def reason_for(why: str | None, who: str | None = None) -> Reason | None:
    """The reason of a correction; None where nothing is to be corrected.

    Parameters
    ----------
    who : str or None
        The login name unless given.

    Raises
    ------
    InputError
        If it says who, and not why; or the reason is empty.
    """
    if why is None:
        if who is not None:
            raise InputError(
                f"{who!r} corrects nothing: there is no reason",
                hint='Say why with --revise "WHY".',
            )
        return None
    return reason(why, login_name() if who is None else who)


def reason(why: str, who: str) -> Reason:
    """Who and why, as they can be stored; nobody's name is the login name.

    Raises
    ------
    InputError
        If it does not say why, or says too much.
    """
    return Reason(who=as_stored(who.strip() or login_name()), why=as_stored(why.strip()))


def as_stored(text: str) -> str:
    """A text as it can be stored: what is no Unicode in it as escapes, and no longer than told.

    Raises
    ------
    InputError
        If it is longer than any reason is.
    """
    if len(text) > MOST_CHARACTERS:
        raise InputError(
            f"a reason of {len(text)} characters", hint=f"Up to {MOST_CHARACTERS} are kept."
        )
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def login_name() -> str:
    """The user's login name; empty where the system knows none."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return ""


@dataclass(frozen=True, kw_only=True)
class Correction:
    """Pulls as they would be, and what that changes; nothing is stored yet.

    Parameters
    ----------
    seen : mapping of str to int
        Number of the revision that it changes, by the pull's identity.
    """

    pulls: tuple[Pull, ...]
    revised: tuple[Revised, ...]
    seen: Mapping[str, int]


def log_rows(store: Store, names: Sequence[str]) -> list[Row]:
    """Stored pulls, by identity, as the rows of a log; without columns of the tester's own.

    Such a column may have come to be called like a treatment since, and could not be
    told from it.
    """
    bare = [pull.model_copy(update={"extras": {}}) for pull in _named(store, names)]
    return rows_of(bare, store.campaign())


def preview_rows(store: Store, rows: Sequence[Row]) -> Correction:
    """What rows of a log would change in the stored pulls that they are of.

    Raises
    ------
    FaultyFile
        With every fault; row k stands on line k + 1.
    InputError
        If one is of a pull that is not there.
    """
    campaign = store.campaign()
    read = read_rows(rows, campaign, BY_HAND).pulls
    names = [pull.id for pull in read]
    seen = store.revision_numbers(names)
    extras = {pull.id: pull.extras for pull in _named(store, names)}
    pulls = tuple(pull.model_copy(update={"extras": extras[pull.id]}) for pull in read)
    written = Written(load_unit=campaign.load_unit, length_unit=campaign.length_unit)
    revised = store.preview_pulls(pulls, BY_HAND, written=written).revised
    return Correction(pulls=pulls, revised=revised, seen=seen)


def correct(
    store: Store, found: Correction, reason: Reason, *, seen: Mapping[str, int] | None = None
) -> None:
    """Store a correction that was looked at.

    Parameters
    ----------
    seen : mapping of str to int, optional
        The revisions that were looked at, where `found` was worked out anew since.

    Raises
    ------
    InputError
        If one of its pulls was changed meanwhile; then none is.
    """
    store.correct_pulls(found.pulls, BY_HAND, reason, seen=found.seen if seen is None else seen)


def preview_cells(
    store: Store, names: Sequence[str], cells: Mapping[str, str], *, bite: int = 1
) -> Correction:
    """What some cells, written in each of some pulls, would change; see :func:`with_cell`.

    Several at once: an ending and its load, say, make sense only together.
    """
    numbers = store.revision_numbers(names)  # first: what comes after must count as a change
    rows = log_rows(store, names)
    for heading, text in cells.items():
        rows = with_cell(rows, heading, text, bite=bite)
    return replace(preview_rows(store, rows), seen=numbers)


def add_row(store: Store, row: Row, *, source: str = BY_HAND) -> str:
    """Store one new pull of one bite, as a row of a log says it; gives its identity.

    Raises
    ------
    FaultyFile
        With every fault.
    KnownPull
        If there is a pull of that number in the outing, with the same content or another.
    """
    [pull] = read_rows([row], store.campaign(), source).pulls
    try:
        done = store.add_pulls([pull], source)
    except FaultyFile as error:  # of one pull that can be read, what is stored alone speaks so
        raise _known(store, pull, "with other content") from error
    if not done.added:
        raise _known(store, pull, WORD_FOR_WORD)
    return pull.id


def _known(store: Store, pull: Pull, how: str) -> KnownPull:
    is_removed = pull.id in {revision.pull.id for revision in store.removed_pulls()}
    if is_removed:
        found, other = f"pull {pull.id} was taken out before", "put it back"
    else:
        found, other = f"pull {pull.id} is there already, {how}", "correct the one that is there"
    hint = f"Nothing was stored. Give this one another number, or {other}."
    is_same = how == WORD_FOR_WORD and not is_removed
    return KnownPull(found, hint=hint, is_removed=is_removed, is_same=is_same)


def _named(store: Store, names: Sequence[str]) -> list[Pull]:
    known = {pull.id: pull for pull in store.pulls()}
    missing = [name for name in names if name not in known]
    if missing:
        raise InputError(
            f"the store holds no pull {', '.join(missing)}", hint="Nothing was changed."
        )
    return [known[name] for name in dict.fromkeys(names)]
