"""Files of a store: there whole or not at all, forced to disk, and locked against others."""

import errno
import os
import secrets
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path
from typing import Final

from filelock import FileLock, Timeout

from model.base.errors import StoreBusy, StoreError, StoreReadOnly

NOT_WRITABLE: Final = (errno.EACCES, errno.EPERM, errno.EROFS)
"""What a system says of a folder or a disk that may be read and not be written."""


def flush(path: Path) -> None:
    """Force a file's content to disk, so that a swap cannot outrun it in a power cut."""
    with path.open("r+b") as file:
        os.fsync(file.fileno())


def flush_folder(folder: Path) -> None:
    """Force what a folder calls its files to disk, else a power cut may undo a rename.

    Windows has no such call, and some disks of other machines refuse it; the rename has
    been done all the same.
    """
    if os.name == "nt":
        return
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def swap_in(temporary: Path, target: Path) -> None:
    """Put a file that was written into its place at once: its content first, then its name."""
    flush(temporary)
    temporary.replace(target)
    flush_folder(target.parent)


@contextmanager
def written_whole(target: Path) -> Iterator[Path]:
    """A temporary path beside a file, swapped in once what was written there is on the disk.

    After any error the target is as it was, and nothing is left beside it.
    """
    temporary = target.with_name(f"{target.name}.{secrets.token_hex(4)}.part")
    try:
        yield temporary
        swap_in(temporary, target)
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)


def locked(path: Path, *, wait_s: float, busy: str, hint: str) -> AbstractContextManager[object]:
    """A lock that one process at a time holds.

    Parameters
    ----------
    busy, hint : str
        What to say, and what to do, where another one holds it for longer than is waited.

    Raises
    ------
    StoreBusy
        Saying that.
    StoreReadOnly
        If nothing may be written there.
    StoreError
        If it cannot be taken for another reason.
    """
    try:
        return FileLock(path).acquire(timeout=wait_s)
    except Timeout as error:
        raise StoreBusy(busy, hint=hint) from error
    except OSError as error:
        kind = StoreReadOnly if error.errno in NOT_WRITABLE else StoreError
        raise kind(
            f"{path} cannot be locked ({error})",
            hint="Check who may write there, and that nothing else is called so.",
        ) from error
