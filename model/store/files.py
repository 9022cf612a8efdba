"""Files of a store: forced to disk, and locked against others."""

import os
from contextlib import AbstractContextManager
from pathlib import Path

from filelock import FileLock, Timeout

from model.base.errors import StoreError

LOCK_WAIT_S = 60.0
"""A copy and a migration of the largest store take seconds."""


def flush(path: Path) -> None:
    """Force a file's content to disk, so that a swap cannot outrun it in a power cut."""
    with path.open("r+b") as file:
        os.fsync(file.fileno())


def locked(path: Path, *, wait_s: float = LOCK_WAIT_S) -> AbstractContextManager[object]:
    """A lock that one process at a time holds.

    Raises
    ------
    StoreError
        If another one holds it for longer than is waited, or it cannot be taken at all.
    """
    try:
        return FileLock(path).acquire(timeout=wait_s)
    except (Timeout, OSError) as error:
        raise StoreError(
            f"{path} cannot be locked ({error})",
            hint="Wait until the other program is done, and check who may write there.",
        ) from error
