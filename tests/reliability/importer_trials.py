"""One spoilt file through one importer: what came of it, how far it got, what it cost.

Whatever the file, it must end in a result or in one error for the user's eyes with exit code 2,
and after an error the store must hold, to the row, what it held before.
"""

import functools
import importlib
import shutil
import sqlite3
import time
import tracemalloc
import zipfile
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from fuzzed_files import campaign_files, packages
from fuzzed_logs import DATA, csv_logs, workbooks

from model.base.errors import EXIT_BAD_INPUT, FaultyFile, KedgewiseError
from model.ingest.campaign_file import read_campaign
from model.ingest.log_file import read_log
from model.service.campaigns import make
from model.service.drafts import look_through, write_draft
from model.service.imports import import_log
from model.service.packages import export_package, import_package
from model.store.revisions import Reason
from model.store.store import Store

MOST_SECONDS = 10.0
"""Of the processor, for one import of whatever file; the median lies far below."""
MOST_MEGABYTES = 300.0
"""That an import may take at its peak beyond what was there before (tracemalloc)."""
LONGEST_MESSAGE = 60_000
"""Characters of an error, faults and all: at most fifty are spelt out."""

STAGES = {
    "csv": [
        ("opened", "model.ingest.log_file", "decoded"),
        ("table", "model.ingest.log_file", "read_table"),
        ("header", "model.ingest.log_file", "place_columns"),
        ("cells", "model.ingest.log_file", "read_row"),
        ("pulls", "model.ingest.log_file", "read_pulls"),
        ("store", "model.service.imports", "_store"),
    ],
    "xlsx": [
        ("opened", "model.ingest.log_file", "read_workbook"),
        ("sheet", "model.ingest.workbook", "_sheets"),
        ("values", "model.ingest.workbook", "_rows"),
        ("header", "model.ingest.log_file", "place_columns"),
        ("cells", "model.ingest.log_file", "read_row"),
        ("pulls", "model.ingest.log_file", "read_pulls"),
        ("store", "model.service.imports", "_store"),
    ],
    "toml": [
        ("opened", "model.ingest.campaign_file", "_parsed"),
        ("keys", "model.ingest.campaign_file", "_read_parts"),
        ("record", "model.ingest.campaign_file", "build"),
        ("store", "model.service.campaigns", "needs_making"),
    ],
    "package": [
        ("opened", "model.service.package_reader", "_texts"),
        ("descriptor", "model.service.package_reader", "described_columns"),
        ("campaigns", "model.service.package_reader", "_campaigns"),
        ("campaign", "model.service.package_reader", "_campaign"),
        ("names", "model.service.package_reader", "record_faults"),
        ("columns", "model.service.package_reader", "_rows"),
        ("pulls", "model.service.package_reader", "_revision"),
        ("store", "model.service.packages", "needs_making"),
    ],
    "draft": [
        ("opened", "model.service.drafts", "survey_log"),
        ("table", "model.ingest.log_survey", "guess_headings"),
        ("survey", "model.service.drafts", "_require_columns"),
        ("text", "model.service.drafts", "draft_campaign_text"),
    ],
}
"""What is entered on the way, in order: name, module, and the function looked up there."""
ACCEPTED = "accepted"


@dataclass(frozen=True)
class Outcome:
    """`stage` is the furthest that was entered; `wrong` says what must not be, or nothing."""

    kind: str
    stage: str
    seconds: float
    megabytes: float
    error: BaseException | None = None
    wrong: str = ""


class Ground:
    """A store with pulls, corrections and a pull taken out, and files beside it.

    Parameters
    ----------
    folder : Path
        Empty; what is made there is left.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        campaign = read_campaign(DATA / "campaign.toml")
        pulls = read_log(DATA / "pulls.csv", campaign).pulls
        store = Store.create(folder / "sound", campaign)
        wrong = pulls[0].model_copy(update={"notes": "=later"})
        store.add_pulls([wrong, *pulls[1:6]], "day-1.csv")
        why = Reason(who="M", why="read off the video")
        store.correct_pulls(pulls[:1], "by hand", why)
        store.remove_pulls([pulls[1].id], why)
        export_package(store, folder / "sound.zip")
        self.package = _members(folder / "sound.zip")
        self.sound = contents(folder / "sound")
        self.store = folder / "store"
        self.renew()

    def renew(self) -> None:
        """The store as it was at first."""
        shutil.rmtree(self.store, ignore_errors=True)
        shutil.copytree(self.folder / "sound", self.store)

    def strategy(self, kind):
        """Spoilt files of a kind."""
        return {
            "csv": csv_logs,
            "xlsx": workbooks,
            "toml": campaign_files,
            "package": functools.partial(packages, self.package),
            "draft": lambda: csv_logs() | workbooks(),
        }[kind]()

    def try_one(
        self, kind: str, content: bytes, *, is_new: bool, is_traced: bool = True
    ) -> Outcome:
        """One file through its importer, into the store or (campaigns, packages) a new one.

        Tracing the memory takes as long as the import itself.
        """
        path = self.folder / ("file." + {"package": "zip"}.get(kind, kind))
        path.write_bytes(content)
        is_new = is_new and kind in ("toml", "package")
        target = self.folder / "new" if is_new else self.store
        with _watched(kind) as reached:
            error, seconds, megabytes = _measured(
                lambda: _import(kind, path, target), is_traced=is_traced
            )
        if error is None:
            reached.append(ACCEPTED)
        wrong = _wrong(error) or self._wrong_store(kind, target, error, is_new=is_new)
        if seconds > MOST_SECONDS or megabytes > MOST_MEGABYTES:
            wrong = wrong or f"took {seconds:.1f} s and {megabytes:.0f} MB"
        if is_new:
            shutil.rmtree(target, ignore_errors=True)
        elif (error is None and kind != "draft") or wrong:
            self.renew()
        return Outcome(kind, reached[-1], seconds, megabytes, error, wrong)

    def _wrong_store(self, kind: str, target: Path, error, *, is_new: bool) -> str:
        if is_new and error is not None:
            return "a half-made store was left" if target.exists() else ""
        after = contents(target)
        if (error is not None or kind == "draft") and after != self.sound:
            return "the store was changed by a file that was refused, or only drafted from"
        lost = [] if is_new else [row for row in self.sound if row not in set(after)]
        return f"rows that were there are gone: {lost[:3]}" if lost else ""


def contents(folder: Path) -> list[str]:
    """Every row of a store's database as SQL, read without the program's own code."""
    with closing(sqlite3.connect(folder / "kedgewise.sqlite")) as database:
        return list(database.iterdump())


def _members(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def _import(kind: str, path: Path, target: Path) -> object:
    if kind == "draft":
        return _draft(path)
    if kind == "toml":
        return make(path, store=str(target))
    if kind == "package":
        return import_package(path, target)
    return import_log(Store.open(target), path)


def _draft(log: Path) -> None:
    """A campaign file drafted from a log; whatever the log, it is TOML, and its gaps are faults."""
    done = write_draft(look_through(log), {}, target=log.with_name("draft.toml"), may_replace=True)
    try:
        read_campaign(done.path)
    except FaultyFile as error:
        found = {fault.found for fault in error.faults}
        if found != {"still to be filled in"}:
            raise AssertionError(f"a draft with {found}") from error
        if len(error.faults) != len(done.gaps):
            raise AssertionError("other gaps than were told") from error


def _measured(work, *, is_traced: bool) -> tuple[BaseException | None, float, float]:
    if is_traced:
        tracemalloc.start(1)
    begun, error = time.process_time(), None
    try:
        work()
    except Exception as caught:  # noqa: BLE001 - whatever comes out is what is looked at
        error = caught
    seconds, megabytes = time.process_time() - begun, tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return error, seconds, megabytes


def _wrong(error: BaseException | None) -> str:
    """What an error says that no user should read; empty if it is as it should be."""
    if error is None:
        return ""
    if not isinstance(error, KedgewiseError):
        return f"a traceback: {type(error).__name__}: {error}"
    if error.exit_code != EXIT_BAD_INPUT:
        return f"exit code {error.exit_code}: {error.message}"
    if not error.message or not error.hint or len(str(error)) > LONGEST_MESSAGE:
        return f"no message, no hint, or an endless one ({len(str(error))} characters)"
    faults = error.faults if isinstance(error, FaultyFile) else ()
    if isinstance(error, FaultyFile) and not faults:
        return "a faulty file without a fault"
    return "" if all(fault.found and fault.remedy for fault in faults) else "a fault without words"


@contextmanager
def _watched(kind: str):
    """Names of the stages that are entered, in order; the last one is the furthest."""
    reached = ["file"]
    order = ["file", *(name for name, _, _ in STAGES[kind])]
    undo = []

    def watch(name, real):
        @functools.wraps(real)
        def entered(*args, **kwargs):
            if order.index(name) > order.index(reached[-1]):
                reached.append(name)
            return real(*args, **kwargs)

        return entered

    for name, where, what in STAGES[kind]:
        module = importlib.import_module(where)
        real = getattr(module, what)
        undo.append((module, what, real))
        setattr(module, what, watch(name, real))
    try:
        yield reached
    finally:
        for module, what, real in undo:
            setattr(module, what, real)
