"""A campaign and its pulls as an open data package, with all their history, and back.

A zip archive with ``datapackage.json`` (Data Package, Table Schema), ``pulls.csv``
(a pull log, one row a bite of each revision) and ``campaigns.json``.
"""

import csv
import io
import json
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from model.base.errors import InputError, StoreError
from model.ingest.formula_guard import guarded
from model.ingest.log_rows import Row, rows_of
from model.service.campaigns import Change
from model.service.merge import merge
from model.service.package_descriptor import (
    CAMPAIGNS,
    DESCRIPTOR,
    HISTORY_NAMES,
    KEY,
    PULLS,
    describe,
)
from model.service.package_reader import read_package
from model.service.stores import counted_pulls
from model.store.facts import unknown_names
from model.store.files import written_whole
from model.store.revisions import Revision, StoredCampaign
from model.store.store import Store, needs_making


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
    # Without a pull there are the columns of the key all the same, which the descriptor names.
    columns = (column for row in rows for column in row)
    headings = list(dict.fromkeys([*HISTORY_NAMES, *columns, *KEY]))
    contents = {
        DESCRIPTOR: json.dumps(describe(campaigns[-1].campaign, headings), indent=1),
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
    alike = sorted(own & set(HISTORY_NAMES))
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
