"""A safe copy of a store in one file, and a store from it again.

The file is a zip archive: the database as it was at one moment, the posteriors
that it names, and a manifest with the SHA-256 of each.
"""

import errno
import hashlib
import re
import shutil
import tempfile
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from pydantic import ValidationError
from sqlalchemy import select

from model.base.archives import BROKEN_ARCHIVE
from model.base.errors import InputError, StoreError
from model.records.base import Record
from model.store import posterior_files
from model.store.database import DATABASE_NAME, Database
from model.store.files import flush, flush_folder, written_whole
from model.store.tables import PosteriorRow

MANIFEST: Final = "manifest.json"
MOST_UNPACKED_BYTES: Final = 8 * 2**30
"""Most that a copy may unpack to, bytes: far above any store, far below a trap's."""
MOST_MANIFEST_BYTES: Final = 10 * 2**20

_POSTERIOR: Final = re.compile(rf"{posterior_files.FOLDER_NAME}/[A-Za-z0-9][A-Za-z0-9._-]*")
NO_ROOM: Final = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
"""A full disk, a used up share of it, and a file that may not grow."""

_CHUNK: Final = 2**20
_TRIES: Final = 3
"""A fit that ends meanwhile gives up old draws; a fresh look then names those that are there."""


class Manifest(Record):
    """What is in a copy: each file's name and its SHA-256."""

    kedgewise_copy: Literal[1] = 1
    files: dict[str, str]


@dataclass(frozen=True, kw_only=True)
class Saved:
    """A copy that was made; `left_out` says which posteriors were damaged and are not in it."""

    path: Path
    posteriors: int
    left_out: tuple[str, ...]


def save_copy(folder: Path, target: Path) -> Saved:
    """Write a safe copy of the store in a folder, whoever else is using the store.

    Raises
    ------
    InputError
        If the target is there already.
    StoreError
        If the store cannot be read or the copy cannot be written; no half of one is left.
    """
    try:
        if target.exists():
            raise InputError(f"{target} is there already", hint="Choose another name for the copy.")
        with tempfile.TemporaryDirectory() as work, written_whole(target) as temporary:
            database, posteriors, left_out = _snapshot(folder, Path(work))
            _pack(temporary, database, posteriors)
    except OSError as error:
        raise StoreError(
            f"the copy could not be written to {target} ({error})",
            hint="The store itself is as it was. Check room and permissions there.",
        ) from error
    return Saved(path=target, posteriors=len(posteriors), left_out=left_out)


def _snapshot(folder: Path, work: Path) -> tuple[Path, Mapping[str, bytes], tuple[str, ...]]:
    """The database of one moment, and the posteriors that it names, by their names."""
    database = work / DATABASE_NAME
    for last in (False,) * (_TRIES - 1) + (True,):
        Database(folder / DATABASE_NAME).copy_to(database)
        found, damaged = {}, []
        for name, sha256 in _named_posteriors(database):
            try:
                found[name] = posterior_files.read_verified(folder, name, sha256)
            except StoreError:
                damaged.append(name)
        if not damaged or last:
            break
    return database, found, tuple(damaged)


def _named_posteriors(database: Path) -> list[tuple[str, str]]:
    chosen = select(PosteriorRow.file, PosteriorRow.sha256).where(PosteriorRow.file.is_not(None))
    with Database(database).reading() as session:
        return [(str(name), sha256) for name, sha256 in session.execute(chosen)]


def _pack(target: Path, database: Path, posteriors: Mapping[str, bytes]) -> None:
    contents = {f"{posterior_files.FOLDER_NAME}/{name}": data for name, data in posteriors.items()}
    contents[DATABASE_NAME] = database.read_bytes()
    files = {name: hashlib.sha256(data).hexdigest() for name, data in contents.items()}
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(MANIFEST, Manifest(files=files).model_dump_json(indent=1))
        for name, data in contents.items():
            archive.writestr(name, data)


def unpack_copy(source: Path, folder: Path) -> None:
    """Unpack a safe copy into a folder that is not there yet, everything in it checked.

    Raises
    ------
    InputError
        If the file is no copy of a store, or damaged; then there is no folder.
    StoreError
        If the folder cannot be written.
    """
    try:
        folder.mkdir(parents=True)
    except OSError as error:
        raise StoreError(
            f"{folder} cannot be written ({error})", hint="Check room and permissions there."
        ) from error
    try:
        with _opened(source) as archive:
            for name, sha256 in _manifest(archive, source).files.items():
                _unpack_one(archive, name, sha256, folder / name, source)
        _check(folder / DATABASE_NAME, source)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise


def _check(database: Path, source: Path) -> None:
    """Refuse a database of another program or a newer version, by the copy's own name."""
    try:
        Database(database).check()
    except StoreError as error:
        raise _no_copy(source, error.message.replace(str(database), DATABASE_NAME)) from error


@contextmanager
def _opened(source: Path) -> Iterator[zipfile.ZipFile]:
    try:
        if not source.is_file():  # a device has no end
            raise InputError(f"{source} is no file", hint="Check its name.")
        with zipfile.ZipFile(source) as archive:
            yield archive
    except BROKEN_ARCHIVE as error:
        raise _no_copy(source, str(error)) from error
    except OSError as error:
        if error.errno in NO_ROOM:
            raise StoreError(
                "no room left for the store", hint="Nothing was restored. Make room and repeat it."
            ) from error
        raise InputError(
            f"{source} cannot be read, or unpacked ({error})",
            hint="Check its name, who may read it, and the room where the store is to be.",
        ) from error


def _manifest(archive: zipfile.ZipFile, source: Path) -> Manifest:
    """What the copy says is in it, refused where an archive holds anything else.

    Names are matched whole, so that no path leaves the folder; sizes are summed
    before anything is unpacked.
    """
    sizes = {info.filename: info.file_size for info in archive.infolist()}
    if sizes.get(MANIFEST, MOST_MANIFEST_BYTES + 1) > MOST_MANIFEST_BYTES:
        raise _no_copy(source, "it has no manifest")
    try:
        manifest = Manifest.model_validate_json(archive.read(MANIFEST))
    except ValidationError as error:
        raise _no_copy(source, "its manifest cannot be read") from error
    strange = [
        name
        for name in {*sizes, *manifest.files} - {MANIFEST, DATABASE_NAME}
        if not _POSTERIOR.fullmatch(name)
    ]
    if strange:
        raise _no_copy(source, f"it holds {min(strange)!r}")
    missing = {DATABASE_NAME, *manifest.files} - set(sizes)
    if missing or DATABASE_NAME not in manifest.files:
        raise _no_copy(source, f"it lacks {min(missing or {DATABASE_NAME})!r}")
    if sum(sizes.values()) > MOST_UNPACKED_BYTES:
        raise _no_copy(source, f"it would unpack to more than {MOST_UNPACKED_BYTES} bytes")
    return manifest


def _unpack_one(
    archive: zipfile.ZipFile, name: str, sha256: str, target: Path, source: Path
) -> None:
    """Unpack one file and hold it against its hash; never more of it than it said."""
    target.parent.mkdir(exist_ok=True)
    digest, left = hashlib.sha256(), archive.getinfo(name).file_size
    with archive.open(name) as packed, target.open("wb") as file:
        while chunk := packed.read(_CHUNK):
            left -= len(chunk)
            if left < 0:
                raise _no_copy(source, f"{name!r} is longer than it says")
            digest.update(chunk)
            file.write(chunk)
    if digest.hexdigest() != sha256:
        raise _no_copy(source, f"{name!r} is not what was copied")
    flush(target)
    flush_folder(target.parent)


def _no_copy(source: Path, found: str) -> InputError:
    return InputError(
        f"{source} is no sound copy of a store ({found})",
        hint="Nothing was restored. Give a file that `kedgewise backup` made.",
    )
