"""A store: one folder with a database of facts and answers, and posteriors beside it."""

import logging
import os
import secrets
from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext, suppress
from pathlib import Path
from typing import Final, Self

from model.base.errors import NoStore, StoreError
from model.records.campaign import Campaign
from model.store.database import DATABASE_NAME, Database
from model.store.files import flush_folder, locked
from model.store.kept_answers import KeptAnswers
from model.store.kept_facts import KeptFacts
from model.store.kept_fits import KeptFits
from model.store.kept_trail import KeptTrail
from model.store.opened import Clock, utc_now
from model.store.revisions import Revision, StoredCampaign, row_of
from model.store.tables import SCHEMA_VERSION, campaign_row

_log = logging.getLogger(__name__)

MIGRATION_LOCK: Final = "migration.lock"
MIGRATION_WAIT_S: Final = 60.0
"""A copy and a migration of the largest store take seconds."""
_TRACES: Final = (f"{DATABASE_NAME}-wal", "posteriors", "fit.lock", "worker.lock", MIGRATION_LOCK)
"""What a store's folder still has whose database is gone."""
COPIES: Final = "copies"
"""Folder of the copies that are made before a store is changed from version to version."""
REPLACED: Final = "replaced-"
"""How a store that a restore replaced is called there."""


class Store(KeptFacts, KeptFits, KeptAnswers, KeptTrail):
    """Facts in, facts out; made by :meth:`create` or :meth:`open`.

    Every method is one transaction. Readers never wait for a writer. One of an
    older version is copied into the folder ``copies`` and brought up to date.
    """

    @classmethod
    def create(cls, folder: Path, campaign: Campaign, *, clock: Clock = utc_now) -> Self:
        """Make a store for a campaign.

        Raises
        ------
        StoreError
            If a store is there already, or the folder cannot be written.
        """
        store = cls._new(folder, clock)
        with store._database.writing() as session:
            store._database.make_tables(session)
            store._put_campaign(session, campaign)
        return store

    @classmethod
    def create_with_history(
        cls,
        folder: Path,
        campaigns: Sequence[StoredCampaign],
        revisions: Sequence[Revision],
        *,
        clock: Clock = utc_now,
    ) -> Self:
        """Make a store of another one's facts, with when, by whom and why each came.

        Raises
        ------
        StoreError
            As for :meth:`create`; or if two revisions are the same one.
        """
        store = cls._new(folder, clock)
        with store._database.writing() as session:
            store._database.make_tables(session)
            for stored in campaigns:
                session.add(campaign_row(stored.campaign, stored.stored_at))
                session.flush()  # the newest is the one with the highest number
            for revision in revisions:
                session.add(row_of(revision))
                session.flush()
        return store

    @classmethod
    def _new(cls, folder: Path, clock: Clock) -> Self:
        """A store in a folder that is there; nothing is in it yet."""
        try:
            folder.mkdir(parents=True, exist_ok=True)
            flush_folder(folder.parent)
        except OSError as error:
            raise StoreError(
                f"the folder {folder} cannot be made ({error})",
                hint="Choose another place with --store, or check who may write there.",
            ) from error
        return cls(folder, clock=clock)

    @classmethod
    def open(cls, folder: Path, *, clock: Clock = utc_now) -> Self:
        """Open the store in a folder.

        Raises
        ------
        NoStore
            If there is none.
        StoreError
            If it is damaged, foreign, or of a newer version.
        """
        if not holds_store(folder):
            refuse_interrupted(folder)
            if any((folder / trace).exists() for trace in _TRACES):
                raise NoStore(
                    f"{DATABASE_NAME} is missing in {folder}",
                    hint="Put it back from where it went, or a copy that `kedgewise backup` made "
                    f"with `kedgewise restore FILE --store {folder}`.",
                )
            raise NoStore(
                f"there is no store in {folder}",
                hint="Make one with `kedgewise demo` or `kedgewise new CAMPAIGN.toml`, "
                "or name another with --store; `kedgewise stores` lists those known.",
            )
        store = cls(folder, clock=clock)
        if store._database.check() < SCHEMA_VERSION:
            store._migrate()
        return store

    def require_known_version(self) -> None:
        """Refuse to go on with a store that a newer program has migrated since it was opened.

        Raises
        ------
        StoreTooNew
            With both versions.
        """
        self._database.require_known_version()

    def _migrate(self) -> None:
        """Bring an older store up to date, a copy of it put by first."""
        # Two that opened it at once would overwrite the copy with what is migrated already.
        with locked(
            self.folder / MIGRATION_LOCK,
            wait_s=MIGRATION_WAIT_S,
            busy=f"{self.folder} is being brought up to date by another program",
            hint="Wait until it is done, and repeat this.",
        ):
            if self._database.check() == SCHEMA_VERSION:
                return
            stamp = self._clock().strftime("%Y%m%dT%H%M%SZ")
            name = f"{stamp}-{secrets.token_hex(2)}-before-version-{SCHEMA_VERSION}.sqlite"
            copy = self.folder / COPIES / name
            self._database.copy_to(copy)
            self._database.migrate()
        _log.warning("brought %s up to version %d; before: %s", self.folder, SCHEMA_VERSION, copy)


def hold_writers(folder: Path) -> AbstractContextManager[None]:
    """Keep everybody from writing to a store while its folder is moved.

    Who waited to write finds another store there, and is told so; else it would write
    into the one that was moved. Where an open file cannot be moved, nobody is kept from
    writing: there the move itself is refused while anybody is.

    Raises
    ------
    StoreBusy
        If somebody is writing for longer than a writer waits.
    """
    if os.name == "nt":
        return nullcontext()
    return Database(folder / DATABASE_NAME).held()


def needs_making(folder: Path) -> bool:
    """Whether a folder has no store yet: no database, or one whose making was interrupted.

    Raises
    ------
    StoreError
        If the folder or the file in it cannot be read, or a store was moved out of it by a
        restore that was interrupted.
    """
    if holds_store(folder):
        return Database(folder / DATABASE_NAME).is_empty()
    refuse_interrupted(folder)
    return True


def holds_store(folder: Path) -> bool:
    """Whether a folder has a store's database, or something in its place.

    Raises
    ------
    StoreError
        If the folder cannot be looked into.
    """
    try:
        return (folder / DATABASE_NAME).exists()
    except OSError as error:
        raise StoreError(
            f"the folder {folder} cannot be read ({error})",
            hint="Check who may read it, or name another store with --store.",
        ) from error


def fresh_folder(folder: Path) -> Path:
    """Where a store is unpacked before it takes its place; no store is called so."""
    return folder.with_name(f".{folder.name}-{secrets.token_hex(4)}")


def refuse_interrupted(folder: Path) -> None:
    """Say where a store is that a restore moved, and was stopped from replacing.

    Raises
    ------
    StoreError
        If there is one; whoever made another in its place would never look for it.
    """
    left: list[Path] = []
    with suppress(OSError):
        left = [
            path
            for path in folder.parent.iterdir()
            if path.name.startswith(f".{folder.name}-") and any(path.glob(f"{COPIES}/{REPLACED}*"))
        ]
    if left:
        raise StoreError(
            f"there is no store in {folder}: putting one there was interrupted",
            hint=f"It is whole in {left[0]}; what was there before is in the folder "
            f"{COPIES} below it. Rename {left[0]} to {folder}.",
        )
