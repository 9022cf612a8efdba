"""Whether a store is sound, seen by SQLite itself and by the program."""

import sqlite3
from contextlib import closing
from pathlib import Path

from model.base.errors import KedgewiseError
from model.store.database import DATABASE_NAME
from model.store.store import Store


def faults_of_store(folder: Path, *, has_draws: bool = True) -> list[str]:
    """Everything that is wrong with a store; pulls, histories, newest draws are all read."""
    faults = []
    with closing(sqlite3.connect(folder / DATABASE_NAME)) as database:
        for pragma, sound in (("integrity_check", [("ok",)]), ("foreign_key_check", [])):
            found = database.execute(f"PRAGMA {pragma}").fetchall()
            faults += [] if found == sound else [f"{pragma}: {found}"]
        gaps = database.execute(
            "SELECT outing, code FROM pull GROUP BY outing, code"
            " HAVING max(revision) <> count(*) OR min(revision) <> 1"
        ).fetchall()
        faults += [f"revisions of {outing}/{code} have gaps" for outing, code in gaps]
    try:
        store = Store.open(folder)
        store.pulls()
        store.history()
        newest = store.newest_posterior() if has_draws else None
        if newest is not None and newest.fit_check.status != "passed":
            faults.append("draws that did not pass are the newest")
    except KedgewiseError as error:
        faults.append(f"the store does not open: {error.message}")
    return faults
