"""Processes that are started, aimed at and killed: one logs, one fits, one opens an old store.

Each is forked from a process that has imported everything and done nothing, so that kills land in
what the program does and not in its imports.
"""

import datetime as dt
import multiprocessing
import os
import random
import shutil
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import deck
import fitting
import ledger
from looking import faults_of_store

from app import worker
from model.base.errors import FitFailed
from model.ingest.campaign_file import read_campaign
from model.service import fits
from model.store.database import DATABASE_NAME
from model.store.posterior_files import FOLDER_NAME, TEMPORARY_SUFFIX
from model.store.store import COPIES, MIGRATION_LOCK, Store, needs_making
from model.store.tables import SCHEMA_VERSION

HERE = Path(__file__).parent
DECK, WORKER, OPENING = "deck", "worker", "opening"
CAMPAIGN = HERE / "trials.toml"
OLD_STORE = HERE.parent / "store" / "data" / "version_1.sql"

AFTER_THE_ROW = "after a posterior's row"

# How a moment is drawn: name -> (weight, what is waited for, longest wait for it, delay), in s.
AIMS = {
    DECK: {
        "at the start": (3, None, 0.0, 0.1),
        "early in a step": (3, "step", 15.0, 0.1),
        "late in a step": (3, "step", 15.0, 0.5),
        "while it is answered": (2, "stored", 15.0, 0.4),
        "any time": (1, None, 0.0, 4.0),
    },
    WORKER: {
        "at the start": (1, None, 0.0, 2.0),
        "in a fit": (2, "fit", 30.0, 6.0),
        "in a save": (2, "save", 60.0, 0.05),
        AFTER_THE_ROW: (1, "row", 60.0, 0.3),
    },
    OPENING: {"in a migration": (1, "migration", 30.0, 0.08)},
}
ENDED = "ended by itself"
CATCH_UP_S = 900.0
"""How long the worker may take for what is left, s: one fit took over 300 at nice 10 on
a machine with six times its load, and 65 at nice 0."""

# The process that lives are forked from finds modules by this alone.
os.environ["PYTHONPATH"] = os.pathsep.join([str(HERE), os.environ.get("PYTHONPATH", "")])
_fresh = multiprocessing.get_context("forkserver")
_fresh.set_forkserver_preload(
    [
        "__main__",
        "alembic.command",
        "model.inference.sampler",
        "model.questions.quick",
        "model.service.worker",
        "rehearsed",
    ]
)


def start_store(folder: Path) -> bool:
    """Make a store of the campaign where there is none yet; whether one was made."""
    if not needs_making(folder):
        return False
    Store.create(folder, read_campaign(CAMPAIGN))
    return True


class Life:
    """One process from its start to its kill, whose moment is drawn beforehand."""

    def __init__(
        self, role: str, folder: Path, book: Path, rng: random.Random, old: "OldStores", broken: str
    ) -> None:
        self._role, self._folder, self._book, self._old = role, folder, book, old
        aims = AIMS[role]
        self.aim = rng.choices(list(aims), [weight for weight, *_ in aims.values()])[0]
        if broken and role == WORKER:
            self.aim = AFTER_THE_ROW  # where that promise is broken
        self._rows = self._posterior_rows()
        _, self._awaited, longest_s, delay_s = aims[self.aim]
        self._delay_s = rng.uniform(0.0, delay_s)
        self._before = ledger.read(book) if role == DECK else None
        self._length = book.stat().st_size if book.exists() else 0
        self._born_at = dt.datetime.now(dt.UTC).replace(tzinfo=None).isoformat(" ")
        self._left = self._parts()
        self._process = _start(role, folder, book, rng.randrange(2**31), old, broken)
        self._latest = time.monotonic() + longest_s
        self._due = None if self._awaited else time.monotonic() + self._delay_s
        self._is_ready = False

    def is_due(self) -> bool:
        """Whether the moment has come; waits for what is aimed at, but not for ever."""
        now = time.monotonic()
        if self._due is None and (self._has_come() or now > self._latest):
            self._due = now + self._delay_s
        return self._due is not None and now >= self._due

    def _has_come(self) -> bool:
        has_stepped = self._book.exists() and self._book.stat().st_size > self._length
        if self._awaited == "step":
            return has_stepped
        if self._awaited == "stored":
            time.sleep(0.02)  # it is a query
            asked = ledger.read(self._book).unanswered() if has_stepped else None
            return asked is not None and self._is_stored(asked)
        if self._awaited == "save":
            return bool(self._parts() - self._left)
        if self._awaited == "migration":
            return self._old.lock.exists()
        if self._awaited == "row":
            return self._posterior_rows() != self._rows
        return self._has_begun_a_fit()

    def _parts(self) -> set[Path]:
        return set((self._folder / FOLDER_NAME).glob(f"*{TEMPORARY_SUFFIX}"))

    def _posterior_rows(self) -> list[tuple]:
        time.sleep(0.02)  # it is a query
        return ledger.rows(self._folder / DATABASE_NAME, "SELECT max(number) FROM posterior")

    def _has_begun_a_fit(self) -> bool:
        time.sleep(0.02)  # it is a query
        begun = "SELECT at FROM attempt WHERE state = 'started'"
        return any(at > self._born_at for (at,) in ledger.rows(self._folder / DATABASE_NAME, begun))

    def kill(self) -> str:
        """End the process at once; gives what it was in the middle of."""
        ended = self._process.exitcode
        self._process.kill()
        self._process.join()
        if ended is not None:
            return f"{ENDED}, code {ended}"
        look = {DECK: self._deck_hit, WORKER: self._worker_hit, OPENING: self._old.hit}
        return look[self._role]()

    def _deck_hit(self) -> str:
        found = ledger.read(self._book)
        asked = found.unanswered()
        if len(found.acknowledged) == len(self._before.acknowledged) and asked is None:
            return "before its first step"
        if asked is None:
            return "between steps"
        return "stored, not yet told" if self._is_stored(asked) else "in a step, nothing stored"

    def _is_stored(self, asked: dict) -> bool:
        return set(asked["marks"]) <= set(ledger.marks_in(self._folder / DATABASE_NAME))

    def _worker_hit(self) -> str:
        if self._parts() - self._left:
            return "in a posterior's write"
        return "in a fit" if self._has_begun_a_fit() else "before a fit, or after it"


def _start(
    role: str, folder: Path, book: Path, seed: int, old: "OldStores", broken: str
) -> multiprocessing.Process:
    if role == OPENING:
        old.renew()
    target, arguments = {
        DECK: (deck.main, (folder, book, seed, broken)),
        WORKER: (fitting.main, (folder,)) if broken else (worker.main, (["--store", str(folder)],)),
        OPENING: (_open_and_stay, (old.folder,)),
    }[role]
    process = _fresh.Process(target=target, args=arguments, daemon=True)
    process.start()
    return process


def _open_and_stay(folder: Path) -> None:
    Store.open(folder)
    time.sleep(60.0)


class OldStores:
    """A store of version 1, made anew whenever an opening has brought it up to date."""

    def __init__(self, work: Path) -> None:
        self.folder = work / "old"
        self.lock = self.folder / MIGRATION_LOCK

    def renew(self) -> None:
        """Put an old store there, unless one is there that was not brought up to date yet."""
        if self._version() == 1:
            self.lock.unlink(missing_ok=True)  # the next one's tells that it begins
            self._copies = set(self._all_copies())
            return
        self._copies: set[Path] = set()
        shutil.rmtree(self.folder, ignore_errors=True)
        self.folder.mkdir(parents=True)
        with closing(sqlite3.connect(self.folder / DATABASE_NAME)) as database:
            database.executescript(OLD_STORE.read_text("utf-8"))

    def _version(self) -> int:
        if not (self.folder / DATABASE_NAME).exists():
            return 0
        database = self.folder / DATABASE_NAME
        [(version,)] = ledger.rows(database, "SELECT version FROM schema_version")
        return int(version)

    def hit(self) -> str:
        """What the kill left: old tables or new ones, and a copy of them as they were."""
        fresh = set(self._all_copies()) - self._copies
        if self._version() == SCHEMA_VERSION:
            return "brought up to date"
        if not self.lock.exists():
            return "old, not begun"
        if not fresh:
            return "old, before it was copied"
        is_part = any(path.suffix == TEMPORARY_SUFFIX for path in fresh)
        return "old, while it was copied" if is_part else "old, once it was copied"

    def _all_copies(self) -> Iterator[Path]:
        return (self.folder / COPIES).glob("*")

    def faults(self) -> list[str]:
        """Whatever is wrong with it after a kill; it opens, with all its pulls."""
        twin = self.folder.with_name("old-looked-at")
        shutil.rmtree(twin, ignore_errors=True)
        shutil.copytree(self.folder, twin)
        faults = faults_of_store(twin, has_draws=False)
        [(held,)] = ledger.rows(twin / DATABASE_NAME, "SELECT count(*) FROM pull")
        wanted = OLD_STORE.read_text("utf-8").count('INSERT INTO "pull"')
        return faults + ([] if held == wanted else [f"the old store has {held} of {wanted} pulls"])


def catch_up(folder: Path) -> float | None:
    """Seconds until the worker, left alone, has fitted all there is; None if it does not."""
    begun = time.monotonic()
    process = _fresh.Process(target=worker.main, args=(["--store", str(folder)],), daemon=True)
    process.start()
    try:
        while time.monotonic() < begun + CATCH_UP_S and process.is_alive():
            if _is_fitted(folder):
                return round(time.monotonic() - begun, 1)
            time.sleep(0.5)
        return None
    finally:
        process.kill()
        process.join()


def _is_fitted(folder: Path) -> bool:
    store = Store.open(folder)
    facts, newest = store.facts(), store.newest_stored()
    wanted = fits.wanted_fingerprint(facts.campaign, facts.pulls)
    attempt = store.attempt(wanted)
    if attempt is not None and attempt.state == "failed":
        raise FitFailed("; ".join(attempt.reasons))
    return newest is not None and newest.id == wanted
