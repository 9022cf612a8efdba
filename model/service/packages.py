"""A campaign and its pulls as an open data package, with all their history, and back.

A zip archive with ``datapackage.json`` (Data Package, Table Schema), ``pulls.csv``
(a pull log, one row a bite of each revision) and ``campaigns.json``.
"""

import csv
import datetime as dt
import io
import json
import zipfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any, Final

from model.base.archives import BROKEN_ARCHIVE
from model.base.errors import InputError, StoreError
from model.ingest.formula_guard import guarded, unguarded
from model.ingest.log_fields import Field, fields_of
from model.ingest.log_rows import Row, read_rows, rows_of
from model.ingest.table import MAX_COLUMNS
from model.ingest.text_file import decoded, printable, read_content
from model.records.campaign import Campaign
from model.service.campaigns import Change
from model.service.merge import merge
from model.service.package_cells import fault_words, require_columns, truth
from model.service.stores import counted_pulls
from model.store.facts import unknown_names
from model.store.files import written_whole
from model.store.revisions import Revision, StoredCampaign
from model.store.store import Store, needs_making

DESCRIPTOR: Final = "datapackage.json"
PULLS: Final = "pulls.csv"
CAMPAIGNS: Final = "campaigns.json"
MOST_BYTES: Final = {PULLS: 40_000_000, CAMPAIGNS: 10_000_000}
"""Unpacked, above which a package is refused before it is: years of pulls come to a few MB."""
MOST_ROWS: Final = 50_000
"""Rows of pulls, one a bite of each revision; each is a table of its own while it is read."""

# Called so that no column of a tester's own is: one of theirs may well be "who" or "source".
_HISTORY: Final[tuple[Field, ...]] = (
    {
        "name": "kept_revision",
        "type": "integer",
        "description": "1 as first stored.",
    },
    {
        "name": "kept_is_removed",
        "type": "boolean",
        "description": "Taken out with this.",
    },
    {
        "name": "kept_campaign",
        "type": "integer",
        "description": "Version of the campaign.",
    },
    {"name": "kept_source", "type": "string", "description": "The file it came from."},
    {"name": "kept_who", "type": "string", "description": "Who corrected it."},
    {"name": "kept_why", "type": "string", "description": "Why."},
    {"name": "kept_stored_at", "type": "string", "description": "When it was stored, UTC."},
)
_NOT_OURS: Final = (
    *(ValueError, KeyError, IndexError, TypeError, AttributeError, OverflowError),
    *(RecursionError, csv.Error),
)
"""What reading ends in where a package is not as this program writes it."""
_HISTORY_NAMES: Final = tuple(str(field["name"]) for field in _HISTORY)
_KEY: Final = ("outing", "pull", "kept_revision", "bite")


@dataclass(frozen=True, kw_only=True)
class Exported:
    """A package that was written; `revisions` counts every version of every pull."""

    path: Path
    pulls: int
    revisions: int


def export_package(store: Store, target: Path) -> Exported:
    """Write a store's facts and their history as an open data package.

    Raises
    ------
    InputError
        If the target is there already.
    StoreError
        If it cannot be written; no half of one is left.
    """
    campaigns, revisions = store.history()
    rows = [
        _history_cells(revision, number) | row
        for revision in revisions
        for number in [_in_force(campaigns, revision)]
        for row in rows_of([revision.pull], campaigns[number - 1].campaign)
    ]
    _require_apart(revisions)
    headings = list(dict.fromkeys([*_HISTORY_NAMES, *(key for row in rows for key in row)]))
    contents = {
        DESCRIPTOR: json.dumps(_descriptor(campaigns[-1].campaign, headings), indent=1),
        PULLS: _csv(headings, rows),
        CAMPAIGNS: json.dumps([_plain(one) for one in campaigns], indent=1, ensure_ascii=False),
    }
    _write(target, contents)
    return Exported(
        path=target, pulls=len({one.pull.id for one in revisions}), revisions=len(revisions)
    )


def _require_apart(revisions: Sequence[Revision]) -> None:
    """Refuse a column of the tester's own under a name that the history has."""
    own = {heading for revision in revisions for heading in revision.pull.extras}
    alike = sorted(own & set(_HISTORY_NAMES))
    if alike:
        raise InputError(
            f"a column of your own is called {alike[0]!r}, as one of the package's is",
            hint="Head it otherwise and import the log again with --revise.",
        )


def _in_force(campaigns: Sequence[StoredCampaign], revision: Revision) -> int:
    """Number, from 1, of the campaign that held when a revision was stored, or knows its names."""
    first = max(sum(one.stored_at <= revision.stored_at for one in campaigns), 1)
    # What a merge brought is older than the campaign that came to know its names.
    later = range(first, len(campaigns) + 1)
    known = (n for n in later if not unknown_names(campaigns[n - 1].campaign, [revision.pull]))
    return next(known, first)


def _history_cells(revision: Revision, number: int) -> Row:
    return {
        "kept_revision": str(revision.number),
        "kept_is_removed": "true" if revision.is_removed else "false",
        "kept_campaign": str(number),
        "kept_source": revision.source,
        "kept_who": revision.who,
        "kept_why": revision.why,
        "kept_stored_at": revision.stored_at.isoformat(),
    }


def _csv(headings: Sequence[str], rows: Sequence[Row]) -> str:
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow([guarded(heading) for heading in headings])
    writer.writerows([guarded(row.get(heading, "")) for heading in headings] for row in rows)
    return file.getvalue()


def _plain(stored: StoredCampaign) -> dict[str, object]:
    return {
        "stored_at": stored.stored_at.isoformat(),
        "campaign": stored.campaign.model_dump(mode="json"),
    }


def _descriptor(campaign: Campaign, headings: Sequence[str]) -> dict[str, object]:
    treatments = [treatment.name for treatment in campaign.treatments]
    own = [heading for heading in headings if heading not in _HISTORY_NAMES]
    fields = {str(field["name"]): field for field in (*_HISTORY, *fields_of(own, treatments))}
    about = "Small-boat anchor pulls: one row a bite of each revision of each pull. A text that a "
    about += "spreadsheet would run as a formula has an apostrophe before it."
    return {
        "name": "anchor-pulls",
        "title": campaign.name,
        "description": ("Invented data. " if campaign.is_invented else "") + about,
        "resources": [
            {
                "name": "pulls",
                "path": PULLS,
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "schema": {
                    "fields": [fields[name] | {"name": guarded(name)} for name in headings],
                    "primaryKey": list(_KEY),
                },
            },
            {"name": "campaigns", "path": CAMPAIGNS, "format": "json", "encoding": "utf-8",
             "mediatype": "application/json"},
        ],
    }  # fmt: skip


def _write(target: Path, contents: dict[str, str]) -> None:
    try:
        if target.exists():
            raise InputError(f"{target} is there already", hint="Choose another name.")
        with (
            written_whole(target) as temporary,
            zipfile.ZipFile(temporary, "w", zipfile.ZIP_DEFLATED) as archive,
        ):
            for name, text in contents.items():
                archive.writestr(name, text)
    except OSError as error:
        raise StoreError(
            f"the package could not be written to {target} ({error})",
            hint="Check room and permissions there.",
        ) from error


@dataclass(frozen=True, kw_only=True)
class Taken:
    """What came of a package: a new store, or what was new to one that was there.

    Parameters
    ----------
    added, skipped : int
        Pulls that are new and hold, and known ones.
    removed : int
        Of those skipped, the ones that were taken out before, and stay so.
    corrected : tuple of str
        Of those skipped, the ones that were corrected here since, and stay so.
    changes : tuple of Change
        What the campaign came to list besides.
    """

    source: str
    folder: Path
    is_new: bool
    added: int
    skipped: int
    removed: int = 0
    corrected: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()

    def __str__(self) -> str:
        if self.is_new:
            return f"{self.source}: a new store with {self.added} pulls is in {self.folder}."
        out = f" ({self.removed} of them taken out before)" if self.removed else ""
        added, skipped = counted_pulls(self.added), f"{self.skipped} skipped as known{out}"
        lines = [f"{self.source}: {added} added, {skipped}."]
        if self.corrected:
            lines.append(f"corrected here since, and left so: {', '.join(self.corrected)}")
        lines += [f"campaign: {change}" for change in self.changes]
        return "\n  ".join(lines)


def import_package(path: Path, folder: Path) -> Taken:
    """Take a package in, with its history: into a new store, or merged into one that is there.

    Raises
    ------
    FaultyFile
        With everything on which store and package differ (see :mod:`model.service.merge`),
        or every pull that cannot be read.
    InputError
        If it is no sound package.
    """
    package = read_package(path)
    if needs_making(folder):
        Store.create_with_history(folder, package.campaigns, package.revisions)
        newest = {revision.pull.id: revision for revision in package.revisions}
        kept = sum(not revision.is_removed for revision in newest.values())
        return Taken(source=package.source, folder=folder, is_new=True, added=kept, skipped=0)
    campaign = package.campaigns[-1].campaign
    found = merge(Store.open(folder), package.source, campaign, package.revisions)
    return Taken(
        source=package.source,
        folder=folder,
        is_new=False,
        added=len(found.added),
        skipped=len(found.skipped),
        removed=len(found.removed),
        corrected=found.corrected,
        changes=found.changes,
    )


# --- and back -----------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Package:
    """What a package holds: every version of the campaign and of each pull, oldest first."""

    source: str
    campaigns: tuple[StoredCampaign, ...]
    revisions: tuple[Revision, ...]


def holds_package(path: Path) -> bool:
    """Whether a file is, or by its name should be, a package: no log, workbook or store's copy."""
    try:
        with zipfile.ZipFile(path) as archive:
            return DESCRIPTOR in archive.namelist() or path.suffix.lower() == ".zip"
    except (*BROKEN_ARCHIVE, OSError):
        return path.suffix.lower() == ".zip" and path.exists()  # half of one, most likely


def read_package(path: Path) -> Package:
    """Read a package that :func:`export_package` wrote.

    Raises
    ------
    FaultyFile
        If a pull in it cannot be read; with every fault.
    InputError
        If it is no such package, or damaged.
    """
    source = printable(path)
    texts = _texts(read_content(path), source)
    try:
        campaigns = tuple(_campaign(one) for one in json.loads(texts[CAMPAIGNS]))
        rows = _rows(texts[PULLS])
        groups = [
            list(group) for _, group in groupby(rows, lambda row: [row[key] for key in _KEY[:-1]])
        ]
        revisions = tuple(_revision(group, campaigns, source) for group in groups)
    except _NOT_OURS as error:
        raise _no_package(source, fault_words(error)) from error
    if not campaigns:
        raise _no_package(source, "it holds no campaign")
    _require_numbered(revisions, source)
    return Package(source=source, campaigns=campaigns, revisions=revisions)


def _require_numbered(revisions: Sequence[Revision], source: str) -> None:
    """Refuse a pull whose versions are not the first, the second and so on."""
    numbers: Counter[str] = Counter()
    for revision in revisions:
        numbers[revision.pull.id] += 1
        if revision.number != numbers[revision.pull.id]:
            found = f"version {revision.number} of pull {revision.pull.id} is not in its place"
            raise _no_package(source, found)


def _rows(text: str) -> list[Row]:
    reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    if len(reader.fieldnames or ()) > MAX_COLUMNS:
        raise ValueError(f"more than {MAX_COLUMNS} columns of pulls")
    require_columns(reader.fieldnames or (), _HISTORY_NAMES, PULLS)
    rows: list[Row] = []
    for row in reader:
        if len(rows) == MOST_ROWS:
            raise ValueError(f"more than {MOST_ROWS} rows of pulls")
        rows.append({unguarded(heading): unguarded(cell or "") for heading, cell in row.items()})
    return rows


def _texts(content: bytes, source: str) -> dict[str, str]:
    """The three files of a package; no other is looked at, and no path leaves anything."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            sizes = {info.filename: info.file_size for info in archive.infolist()}
            missing = {DESCRIPTOR, PULLS, CAMPAIGNS} - set(sizes)
            if missing:
                raise _no_package(source, f"it lacks {min(missing)}")
            for name, most in MOST_BYTES.items():
                if sizes[name] > most:
                    raise _no_package(source, f"{name} unpacks to {sizes[name] / 1e6:.0f} MB")
            return {name: decoded(name, archive.read(name)) for name in (PULLS, CAMPAIGNS)}
    except (*BROKEN_ARCHIVE, OSError) as error:
        raise _no_package(source, str(error)) from error


def _campaign(plain: dict[str, Any]) -> StoredCampaign:
    return StoredCampaign(
        campaign=Campaign.model_validate_json(json.dumps(plain["campaign"])),
        stored_at=_time(plain["stored_at"]),
    )


def _time(text: str) -> dt.datetime:
    time = dt.datetime.fromisoformat(text)
    time = time if time.tzinfo else time.replace(tzinfo=dt.UTC)
    return time.astimezone(dt.UTC)  # here, where year 1 in the far east is a fault of the package


def _revision(rows: list[Row], campaigns: Sequence[StoredCampaign], source: str) -> Revision:
    first = rows[0]
    number = int(first["kept_campaign"])
    if not 1 <= number <= len(campaigns):
        raise ValueError(f"no campaign {number}")
    log = [
        {heading: cell for heading, cell in row.items() if heading not in _HISTORY_NAMES}
        for row in rows
    ]
    [pull] = read_rows(log, campaigns[number - 1].campaign, source).pulls
    return Revision(
        number=int(first["kept_revision"]),
        pull=pull,
        is_removed=truth(first, "kept_is_removed"),
        source=first["kept_source"],
        who=first["kept_who"],
        why=first["kept_why"],
        stored_at=_time(first["kept_stored_at"]),
    )


def _no_package(source: str, found: str) -> InputError:
    return InputError(
        f"{source} is no sound data package of pulls ({found})",
        hint="Nothing of it was stored. Give a file that `kedgewise export` wrote.",
    )
