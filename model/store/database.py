"""Opening the SQLite file, and saying clearly why it cannot be opened."""

import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, Engine, create_engine, event, inspect, select, text
from sqlalchemy.exc import DatabaseError, SQLAlchemyError
from sqlalchemy.orm import Session
from sqlalchemy.pool import NullPool

from model.base.errors import StoreBusy, StoreDamaged, StoreError, StoreTooNew
from model.store import migration
from model.store.files import written_whole
from model.store.tables import CHANGED_BY_HAND, SCHEMA_VERSION, MigrationRow, SchemaRow, Table

DATABASE_NAME: Final = "kedgewise.sqlite"
BUSY_TIMEOUT_MS: Final = 30_000
"""How long a writer waits for another one, ms; beyond it the command fails and may be repeated.

Two that log all the time on a machine with sevenfold its load waited up to 5 s."""
LEAST_ROOM_BYTES: Final = 1_000_000
"""With less on the disk SQLite's log and its index may not grow."""
NOT_WRITABLE: Final = (
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_CANTOPEN,
)
"""Primary codes of what is met where SQLite may not write, or has no room, beside the file."""

_WRITES: Final = "kedgewise_writes"


class Database:
    """Sessions on one SQLite file; readers never wait, writers wait for each other.

    Parameters
    ----------
    path : Path
        The file; it is opened at the first session.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._reader = _engine(path, _connected)
        # Not the way to read only: it would hide why nothing can be written.
        self._writer = _engine(path, _connected_to_write).execution_options(**{_WRITES: True})

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """One consistent view of the store."""
        with self._clear_errors(""), Session(self._reader) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """One transaction: all of it is stored, or after any error none of it."""
        nothing = "Nothing of this step was stored. "
        before = self._identity()
        with self._clear_errors(nothing), Session(self._writer) as session, session.begin():
            session.connection()  # waits for whoever writes, or puts another store in its place
            if before is not None and self._identity() != before:
                raise StoreBusy(
                    f"{self.path} was replaced by another store", hint=f"{nothing}Repeat this."
                )
            yield session

    @contextmanager
    def held(self) -> Iterator[None]:
        """Nobody else writes meanwhile; who waited to is refused if the file is then another."""
        with self._clear_errors(""), closing(_connected_to_write(self.path)) as connection:
            connection.execute("BEGIN IMMEDIATE")
            yield

    def _identity(self) -> tuple[int, int] | None:
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_dev, found.st_ino

    def make_tables(self, session: Session) -> None:
        """Create the tables inside the session's transaction; refuse what already holds some."""
        names = inspect(session.connection()).get_table_names()
        if names:
            raise StoreError(
                f"{self.path} already holds a store or another database",
                hint="Choose another folder or name, or use the store that is there.",
            )
        Table.metadata.create_all(session.connection())
        session.add(SchemaRow(id=1, version=SCHEMA_VERSION))
        session.add(MigrationRow(version_num=str(SCHEMA_VERSION)))

    def is_empty(self) -> bool:
        """Whether the file holds no table: whoever was to make a store in it was interrupted."""
        with self.reading() as session:
            return not inspect(session.connection()).get_table_names()

    def check(self) -> int:
        """Refuse a file that is damaged, foreign, or of a newer version.

        Returns
        -------
        int
            Version of its tables, this program's or an older one.

        Raises
        ------
        StoreError
            With what was found and what to do.
        """
        with self.reading() as session:
            state = session.scalar(text("PRAGMA quick_check(1)"))
            if state != "ok":
                raise self._damaged(str(state))
            names = inspect(session.connection()).get_table_names()
            if SchemaRow.__tablename__ not in names:
                raise self._foreign(names)
            version: int | None = session.scalar(select(SchemaRow.version))
        lacking = sorted(set(Table.metadata.tables) - set(names))
        if version is None or version < 1:
            raise self._damaged("it does not say its schema version")
        if lacking and version == SCHEMA_VERSION:
            raise self._damaged(f"it lacks the table {', '.join(lacking)}")
        self._require_known(version)
        return version

    def require_known_version(self) -> None:
        """Refuse a file that a newer program brought up to its version since it was opened.

        Raises
        ------
        StoreTooNew
            With both versions.
        """
        with self.reading() as session:
            self._require_known(session.scalar(select(SchemaRow.version)))

    def _require_known(self, version: int | None) -> None:
        if version is not None and version > SCHEMA_VERSION:
            raise StoreTooNew(
                f"{self.path} has schema version {version}; this program knows {SCHEMA_VERSION}",
                hint="It was made by a newer kedgewise: bring this one up to date to use it.",
            )

    def migrate(self) -> None:
        """Bring the tables of an older version up to this one: wholly, or not at all."""
        with self.writing() as session:
            version = session.scalar(select(SchemaRow.version))
            if version is not None and version < SCHEMA_VERSION:  # else another one was first
                migration.upgrade(session.connection())

    def copy_to(self, target: Path) -> None:
        """Write a copy of the file as it is at one moment, whoever else is writing to it.

        Raises
        ------
        StoreError
            If it cannot be written; the target is then as it was before.
        """
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            with (
                written_whole(target) as temporary,
                closing(_connected(self.path)) as source,
                closing(sqlite3.connect(temporary)) as copy,
            ):
                source.backup(copy)
        except (OSError, sqlite3.Error) as error:
            raise StoreError(
                f"{self.path} could not be copied to {target} ({error})",
                hint="The store itself is as it was. Check room and permissions there.",
            ) from error

    @contextmanager
    def _clear_errors(self, nothing: str) -> Iterator[None]:
        """Every error of the driver as one of ours; `nothing` says what was not stored by it."""
        try:
            yield
        except DatabaseError as error:
            raise self._explain(str(error.orig), nothing) from error
        except SQLAlchemyError as error:
            raise self._explain(str(error), nothing) from error

    def _explain(self, found: str, nothing: str) -> StoreError:
        lowered = found.lower()
        if self.path.is_dir():
            return self._damaged("it is a folder")
        if "not a database" in lowered or "malformed" in lowered:
            return self._damaged(found)
        if "locked" in lowered or "busy" in lowered:
            return StoreBusy(
                f"{self.path} is in use by another program ({found})",
                hint=f"{nothing}Wait until the other one is done and repeat this.",
            )
        # A log that cannot grow or be made is no more to the driver than an error of the disk.
        is_of_disk = "disk i/o" in lowered or "unable to open" in lowered
        if "full" in lowered or (is_of_disk and self._has_no_room()):
            return StoreError(
                f"no room left for {self.path}", hint=f"{nothing}Make room and repeat this."
            )
        if "unable to open" in lowered or "readonly" in lowered or "permission" in lowered:
            return StoreError(
                f"{self.path} cannot be opened for writing ({found})",
                hint=self._way_to_write(),
            )
        return StoreError(f"{self.path}: {found}", hint=f"{nothing}{CHANGED_BY_HAND}")

    def _way_to_write(self) -> str:
        with suppress(OSError):
            if _has_log(self.path):  # as of a program that was killed, or still runs
                return (
                    f"Some of it stands in the file {self.path.name}-wal, which only who may write "
                    "here can read: once no program has it open, copy the folder to where you may "
                    "write, and open that."
                )
        return "Check who may read and write this folder and its files."

    def _has_no_room(self) -> bool:
        """Whether the disk is full; one that may only be read always looks so."""
        folder = self.path.parent
        try:
            return os.access(folder, os.W_OK) and shutil.disk_usage(folder).free < LEAST_ROOM_BYTES
        except OSError:
            return False

    def _damaged(self, found: str) -> StoreError:
        return StoreDamaged(
            f"{self.path} is damaged or no database ({found})",
            hint="Put back a safe copy with `kedgewise restore FILE`, or make a new store and "
            "import the logs.",
        )

    def _foreign(self, names: list[str]) -> StoreError:
        if names:
            return StoreError(
                f"{self.path} is a database of another program",
                hint="Choose another folder for the store.",
            )
        return StoreError(
            f"{self.path} is empty: making this store was interrupted",
            hint="Run `kedgewise new CAMPAIGN.toml` with the same --store again. Where there were "
            "pulls in it, put back a safe copy with `kedgewise restore FILE`.",
        )


def _engine(path: Path, connect: Callable[[Path], sqlite3.Connection]) -> Engine:
    """Engine without a pool: no connection outlives its session, so files can be moved."""
    engine = create_engine("sqlite+pysqlite://", creator=lambda: connect(path), poolclass=NullPool)
    event.listen(engine, "begin", _begin)
    return engine


def _connected(path: Path) -> sqlite3.Connection:
    """A connection to a file; to read only where nothing can be written beside it."""
    try:
        return _connected_to_write(path)
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # its primary part
        if code in NOT_WRITABLE and _is_whole(path):
            return _connected_to_read(path)
        raise


def _connected_to_write(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, timeout=BUSY_TIMEOUT_MS / 1000)
    try:
        _prepare(connection)
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _is_whole(path: Path) -> bool:
    """Whether all that is stored is in the file itself, and nothing in a log beside it."""
    try:
        return path.stat().st_size > 0 and not _has_log(path)
    except OSError:
        return False


def _has_log(path: Path) -> bool:
    """Whether something stored may be in a log beside the file."""
    try:
        return path.with_name(f"{path.name}-wal").stat().st_size > 0
    except FileNotFoundError:
        return False


def _connected_to_read(path: Path) -> sqlite3.Connection:
    """A connection that makes no file beside the database, as in a folder that is read only.

    Who writes elsewhere would not be seen by it: so it is only for where nobody can.
    """
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
    connection.isolation_level = None
    try:
        connection.execute("SELECT 1 FROM sqlite_schema").close()
    except BaseException:
        connection.close()
        raise
    return connection


def _prepare(connection: sqlite3.Connection) -> None:
    """Set up one connection; the driver's own transactions are off, as `_begin` starts them."""
    connection.isolation_level = None
    for pragma in (
        f"busy_timeout = {BUSY_TIMEOUT_MS}",
        "journal_mode = WAL",  # readers are not blocked while a log is imported
        "synchronous = FULL",  # a pull that was reported stored survives a power cut
        "foreign_keys = ON",
    ):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    """Take the write lock at once where writing is meant.

    A transaction that read first and wrote later would fail, not wait, when
    another writer came between.
    """
    is_writing = connection.get_execution_options().get(_WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if is_writing else "BEGIN")
