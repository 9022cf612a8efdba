"""A package as it is read: every version of the campaign and of each pull, or what is wrong."""

import csv
import datetime as dt
import io
import json
import zipfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, islice
from pathlib import Path
from typing import Any, Final

from model.base.archives import BROKEN_ARCHIVE
from model.base.errors import FaultyFile, InputError
from model.ingest.formula_guard import unguarded
from model.ingest.log_rows import Row, read_rows
from model.ingest.record_names import place_within, record_faults
from model.ingest.table import MAX_COLUMNS
from model.ingest.text_file import Kind, decoded, printable, read_content
from model.records.campaign import Campaign
from model.service.package_cells import fault_words, require_columns, require_described, truth
from model.service.package_descriptor import (
    CAMPAIGNS,
    DESCRIPTOR,
    HISTORY_NAMES,
    KEY,
    PULLS,
    described_columns,
)
from model.store.facts import unknown_names
from model.store.revisions import Revision, StoredCampaign

MOST_BYTES: Final = {DESCRIPTOR: 2_000_000, PULLS: 40_000_000, CAMPAIGNS: 10_000_000}
"""Unpacked, above which a package is refused before it is: years of pulls come to a few MB."""
MOST_ROWS: Final = 50_000
"""Rows of pulls, one a bite of each revision; each is a table of its own while it is read."""
MOST_VALUES: Final = 100_000
"""Values of one campaign, of which a long one has thousands; each that is wrong takes kilobytes."""
MOST_FAULTS: Final = 1000
"""Faulty names that are told of; millions of them would fill the memory."""
NAMES_HINT: Final = (
    "Nothing of this package was stored. Put these right where it was exported: in the campaign "
    "file, then `kedgewise new` with it; where pulls use a name, add the right one beside it, "
    "correct those pulls to it (`import --revise`), and take the old one out. Then export again. A "
    "whole store with the names it has goes by `kedgewise backup` and `restore`."
)
HINT: Final = "Nothing of it was stored. Give a file that `kedgewise export` wrote."
KIND: Final = Kind(name="a file of the package", save="Have the package exported again", hint=HINT)
_NOT_OURS: Final = (
    *(ValueError, KeyError, IndexError, TypeError, AttributeError, OverflowError),
    *(RecursionError, csv.Error),
)
"""What reading ends in where a package is not as this program writes it."""


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
        If a pull in it cannot be read, or its campaign has names that no campaign file may
        have; with every fault.
    InputError
        If it is no such package, or damaged.
    """
    source = printable(path)
    texts = _texts(read_content(path), source)
    try:
        described = described_columns(texts[DESCRIPTOR], source)
    except _NOT_OURS as error:
        raise _no_package(source, f"{DESCRIPTOR}: {fault_words(error, whole='it')}") from error
    try:
        campaigns = _campaigns(texts[CAMPAIGNS])
        _require_names(campaigns, source)
        rows = _rows(texts[PULLS], described)
        groups = [
            list(group) for _, group in groupby(rows, lambda row: [row[key] for key in KEY[:-1]])
        ]
        revisions = tuple(_revision(group, campaigns, source) for group in groups)
    except _NOT_OURS as error:
        raise _no_package(source, fault_words(error)) from error
    _require_numbered(revisions, source)
    _require_known(campaigns, revisions, source)
    return Package(source=source, campaigns=campaigns, revisions=revisions)


def _require_names(campaigns: Sequence[StoredCampaign], source: str) -> None:
    """Refuse names of the campaign as it stands that its file would be refused for.

    Earlier versions are history: nobody could put those right any more.
    """
    place = place_within(f"{source}, {CAMPAIGNS}", len(campaigns) - 1, "campaign")
    found = record_faults(campaigns[-1].campaign, place)
    if faults := list(islice(found, MOST_FAULTS)):
        raise FaultyFile(faults, hint=NAMES_HINT)


def _require_known(
    campaigns: Sequence[StoredCampaign], revisions: Sequence[Revision], source: str
) -> None:
    """Refuse pulls, also of those taken out, that name what only an earlier campaign has."""
    newest = {revision.pull.id: revision.pull for revision in revisions}
    unknown = unknown_names(campaigns[-1].campaign, list(newest.values()))
    if unknown:
        raise _no_package(source, f"its newest campaign lacks {'; '.join(unknown)[:200]}")


def _require_numbered(revisions: Sequence[Revision], source: str) -> None:
    """Refuse a pull whose versions are not the first, the second and so on."""
    numbers: Counter[str] = Counter()
    for revision in revisions:
        numbers[revision.pull.id] += 1
        if revision.number != numbers[revision.pull.id]:
            found = f"version {revision.number} of pull {revision.pull.id} is not in its place"
            raise _no_package(source, found)


def _rows(text: str, described: Sequence[str]) -> list[Row]:
    reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    if len(reader.fieldnames or ()) > MAX_COLUMNS:
        raise ValueError(f"more than {MAX_COLUMNS} columns of pulls")
    headings = [unguarded(heading) for heading in reader.fieldnames or ()]
    require_columns(headings, described, PULLS)
    require_described(headings, described, PULLS, DESCRIPTOR)
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
            missing = set(MOST_BYTES) - set(sizes)
            if missing:
                raise _no_package(source, f"it lacks {min(missing)}")
            for name, most in MOST_BYTES.items():
                if sizes[name] > most:
                    raise _no_package(source, f"{name} unpacks to {sizes[name] / 1e6:.0f} MB")
            return {
                name: decoded(f"{source}, {name}", archive.read(name), kind=KIND)
                for name in MOST_BYTES
            }
    except (*BROKEN_ARCHIVE, OSError) as error:
        raise _no_package(source, str(error)) from error


def _campaigns(text: str) -> tuple[StoredCampaign, ...]:
    campaigns = tuple(_campaign(one) for one in json.loads(text))
    if not campaigns:
        raise ValueError("it holds no campaign")
    return campaigns


def _campaign(plain: dict[str, Any]) -> StoredCampaign:
    _require_moderate(plain)
    return StoredCampaign(
        campaign=Campaign.model_validate_json(json.dumps(plain["campaign"])),
        stored_at=_time(plain["stored_at"]),
    )


def _require_moderate(plain: object) -> None:
    """Refuse a nest of very many values."""
    found, waiting = 0, [plain]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict | list):
            found += len(value)
            waiting.extend(value.values() if isinstance(value, dict) else value)
    if found > MOST_VALUES:
        raise ValueError(f"a campaign of {found} values, and at most {MOST_VALUES} are read")


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
        {heading: cell for heading, cell in row.items() if heading not in HISTORY_NAMES}
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
        hint=HINT,
    )
