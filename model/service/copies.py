"""Safe copies of a store, and a store from one of them again."""

import secrets
from dataclasses import dataclass
from pathlib import Path

from model.base.errors import InputError, KedgewiseError, StoreError
from model.service.fits import fit_lock
from model.store.backup import Saved, save_copy, unpack_copy
from model.store.opened import Clock, utc_now
from model.store.store import COPIES, Store, needs_making


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
        If the folder cannot be written.
    KedgewiseError
        If a fit of the store in its place is running.
    """
    is_there = folder.exists() and any(folder.iterdir())
    if is_there:
        _require_replaceable(folder, may_replace=may_replace)
    fresh = folder.with_name(f".{folder.name}-{secrets.token_hex(4)}")
    unpack_copy(source, fresh)
    before = f"replaced-{clock().strftime('%Y%m%dT%H%M%SZ')}" if is_there else None
    _swap(folder, fresh, before)
    opened = Store.open(folder)
    return Restored(
        folder=folder,
        campaign=opened.campaign().name,
        pulls=len(opened.pulls()),
        before=None if before is None else folder / COPIES / before,
    )


def _require_replaceable(folder: Path, *, may_replace: bool) -> None:
    """Refuse what is no store, and a sound store unless told otherwise."""
    if needs_making_or_damaged(folder):
        return
    if not may_replace:
        raise InputError(
            f"there is a sound store in {folder}",
            hint="Name another with --store, or put the copy in its place with --replace: "
            "the one that is there is then kept beside it.",
        )
    with fit_lock(folder, wait_s=0.0):
        pass


def needs_making_or_damaged(folder: Path) -> bool:
    """Whether a folder holds a store that cannot be used; what is no store at all is refused.

    Raises
    ------
    InputError
        If the folder holds other things and no store.
    """
    try:
        if needs_making(folder):
            raise InputError(
                f"{folder} is no store, and it is not empty",
                hint="Name another folder with --store.",
            )
        Store.open(folder).campaign()
    except InputError:
        raise
    except KedgewiseError:
        return True
    return False


def _swap(folder: Path, fresh: Path, before: str | None) -> None:
    """Put the new folder in its place, and what was there into it."""
    try:
        if before is not None:
            (fresh / COPIES).mkdir(exist_ok=True)
            folder.rename(fresh / COPIES / before)
        elif folder.exists():
            folder.rmdir()  # empty, as was seen
        fresh.rename(folder)
    except OSError as error:
        raise StoreError(
            f"the store could not be put in its place, {folder} ({error})",
            hint=f"It is whole in {fresh}; what was there before is where it was, or in "
            f"{fresh / COPIES}. Close what uses the store, and rename the folder.",
        ) from error
