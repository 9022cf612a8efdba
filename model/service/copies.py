"""Safe copies of a store, and a store from one of them again."""

import shutil
from contextlib import nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path

from model.base.errors import InputError, StoreDamaged, StoreError
from model.service.fits import fit_lock
from model.store.backup import Saved, save_copy, unpack_copy
from model.store.files import flush_folder
from model.store.opened import Clock, utc_now
from model.store.store import (
    COPIES,
    REPLACED,
    Store,
    fresh_folder,
    hold_writers,
    holds_store,
    needs_making,
    refuse_interrupted,
)


@dataclass(frozen=True, kw_only=True)
class Restored:
    """A store that was made from a copy; `before` is where the one that it replaced is kept."""

    folder: Path
    campaign: str
    pulls: int
    before: Path | None


def backup(store: Store, target: Path) -> Saved:
    """Write a safe copy of a store and the posteriors that it names; see :func:`save_copy`."""
    return save_copy(store.folder, target)


def restore(
    source: Path, folder: Path, *, may_replace: bool = False, clock: Clock = utc_now
) -> Restored:
    """Make a store from a safe copy.

    What is in its place now is kept, in the folder ``copies`` of the new store.

    Parameters
    ----------
    folder : Path
        Of the store.
    may_replace : bool
        Whether a sound store may be in its place; one that cannot be opened always may.

    Raises
    ------
    InputError
        If the file is no sound copy, or a sound store or something else is in its place.
    StoreError
        If the folder cannot be written, a fit of the store in its place is running, or an
        earlier restore of it was interrupted.
    """
    try:
        folder = folder.resolve()  # what is behind a link is moved, and not the link
        is_there = folder.exists() and any(folder.iterdir())
    except OSError as error:
        raise InputError(
            f"{folder} is no folder for a store ({error})", hint="Name another with --store."
        ) from error
    if not is_there:
        refuse_interrupted(folder)
    fresh = fresh_folder(folder)
    before = f"{REPLACED}{clock().strftime('%Y%m%dT%H%M%SZ')}" if is_there else None
    try:
        # Let go before the swap: a folder with an open file cannot be moved everywhere. A fit
        # that begins in between sees that its store was replaced.
        is_sound = False
        with fit_lock(folder, wait_s=0.0) if is_there else nullcontext():
            if is_there:
                is_sound = _is_sound(folder, may_replace=may_replace)
            unpack_copy(source, fresh)
            opened = Store.open(fresh)  # brought up to date, and read, before it takes a place
            campaign, pulls = opened.campaign().name, len(opened.pulls())
        with hold_writers(folder) if is_sound else nullcontext():
            _swap(folder, fresh, before)
    except BaseException:
        if before is None or not (fresh / COPIES / before).exists():
            shutil.rmtree(fresh, ignore_errors=True)
        raise
    return Restored(
        folder=folder,
        campaign=campaign,
        pulls=pulls,
        before=None if before is None else folder / COPIES / before,
    )


def _is_sound(folder: Path, *, may_replace: bool) -> bool:
    """Whether a sound store is to be replaced; what is no store is refused, or one unless told."""
    if _is_damaged(folder):
        return False
    if not may_replace:
        raise InputError(
            f"there is a sound store in {folder}",
            hint="Name another with --store, or put the copy in its place with --replace: "
            "the one that is there is then kept beside it.",
        )
    return True


def _is_damaged(folder: Path) -> bool:
    """Whether a folder holds a store that nothing can be read from any more.

    One that cannot be opened for another reason (in use, of a newer version, not
    to be written) is no damaged one: its own error is raised.

    Raises
    ------
    InputError
        If the folder holds other things and no store.
    StoreError
        If the store may be sound, and cannot be opened now.
    """
    if not holds_store(folder):
        raise InputError(
            f"{folder} is no store, and it is not empty", hint="Name another folder with --store."
        )
    try:
        if needs_making(folder):
            return True
        opened = Store.open(folder)
        opened.campaign()
        opened.pulls()
    except StoreDamaged:
        return True
    return False


def _swap(folder: Path, fresh: Path, before: str | None) -> None:
    """Put the new folder in its place, and what was there into it."""
    moved = fresh / COPIES / before if before is not None else None
    try:
        if moved is not None:
            moved.parent.mkdir(exist_ok=True)
            folder.rename(moved)
        elif folder.exists():
            folder.rmdir()  # empty, as was seen
        fresh.rename(folder)
        flush_folder(folder.parent)
    except OSError as error:
        if moved is not None and moved.exists():
            with suppress(OSError):
                moved.rename(folder)
        raise StoreError(
            f"the store could not be put in its place, {folder} ({error})",
            hint="Close what uses the store, and repeat this. What was there before is where it "
            f"was, or in {moved or folder}.",
        ) from error
