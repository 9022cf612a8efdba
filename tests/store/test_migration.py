"""A store of an older version is copied and brought up to date; its facts stay what they were."""

import sqlite3
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from model.base.errors import StoreError
from model.store import migration
from model.store import store as store_module
from model.store.database import DATABASE_NAME, Database
from model.store.store import Store
from model.store.tables import SCHEMA_VERSION, Table

VERSION_1, VERSION_2 = (
    (Path(__file__).parent / "data" / f"version_{version}.sql").read_text("utf-8")
    for version in (1, 2)
)


def made_of(script, folder):
    folder.mkdir()
    with closing(sqlite3.connect(folder / DATABASE_NAME)) as database:
        database.executescript(script)
    return folder


@pytest.fixture
def old_folder(tmp_path):
    return made_of(VERSION_1, tmp_path / "100 % old")


def test_a_store_of_version_2_opens_with_its_answers_and_corrections(
    tmp_path, store, small_campaign, small_pulls
):
    opened = Store.open(made_of(VERSION_2, tmp_path / "version 2"))
    assert opened.campaign() == small_campaign
    assert [pull.id for pull in opened.pulls()] == [pull.id for pull in small_pulls]
    assert [one.why for one in opened.revisions("day 1/1")] == ["", "a note"]
    assert len(opened.stored_answers()) == len(small_campaign.questions)
    assert opened.facts_behind("first").pulls == small_pulls[:8]
    assert opened.trail(["any"], small_campaign.questions) == ()
    assert changes_to_now(opened.folder) == changes_to_now(store.folder) == []


def changes_to_now(folder):
    with Database(folder / DATABASE_NAME).reading() as session:
        context = MigrationContext.configure(session.connection())
        found = compare_metadata(context, Table.metadata)
        return [change for change in found if change[1].name != "alembic_version"]


def rows(path, sql):
    with closing(sqlite3.connect(path)) as database:
        return database.execute(sql).fetchall()


def test_an_old_store_opens_with_all_that_was_in_it(old_folder, small_campaign, small_pulls):
    store = Store.open(old_folder)
    assert store.campaign() == small_campaign
    assert store.pulls() == small_pulls
    assert store.newest_stored().id == "first"
    assert [one.why for one in store.revisions("day 1/1")] == [""]
    # The posterior was stored before the second day's pulls were.
    assert store.facts_behind("first").pulls == small_pulls[:8]


def test_a_copy_of_it_as_it_was_is_put_by(old_folder, ticking_clock):
    Store.open(old_folder, clock=ticking_clock)
    [copy] = (old_folder / "copies").iterdir()
    assert copy.name.startswith("20260504T120000Z-")
    assert copy.name.endswith(f"-before-version-{SCHEMA_VERSION}.sqlite")
    with closing(sqlite3.connect(copy)) as database:
        assert "\n".join(database.iterdump()).strip() == VERSION_1.partition("\n")[2].strip()


def test_it_is_migrated_once_and_an_up_to_date_one_never(old_folder, store):
    Store.open(old_folder)
    Store.open(old_folder)
    Store.open(store.folder)
    assert len(list((old_folder / "copies").iterdir())) == 1
    assert not (store.folder / "copies").exists()


def test_an_old_program_refuses_what_was_migrated(old_folder):
    """Version 1 looks at this one row and at nothing else."""
    Store.open(old_folder)
    assert rows(old_folder / DATABASE_NAME, "SELECT version FROM schema_version") == [
        (SCHEMA_VERSION,)
    ]


def test_a_migrated_store_has_the_tables_of_a_new_one(old_folder, store):
    Store.open(old_folder)
    assert changes_to_now(old_folder) == changes_to_now(store.folder) == []


def test_without_the_migration_the_tables_would_differ(old_folder):
    with Database(old_folder / DATABASE_NAME).reading() as session:
        context = MigrationContext.configure(session.connection())
        assert compare_metadata(context, Table.metadata)


def test_a_migration_that_breaks_off_leaves_the_old_store(old_folder, monkeypatch, small_pulls):
    upgrade = migration.upgrade

    def break_off(connection):
        upgrade(connection)
        raise RuntimeError("cut off")

    monkeypatch.setattr(migration, "upgrade", break_off)
    with pytest.raises(RuntimeError, match="cut off"):
        Store.open(old_folder)
    assert rows(old_folder / DATABASE_NAME, "SELECT version FROM schema_version") == [(1,)]
    columns = rows(old_folder / DATABASE_NAME, "SELECT name FROM pragma_table_info('pull')")
    assert ("why",) not in columns
    monkeypatch.undo()
    assert Store.open(old_folder).pulls() == small_pulls


def test_two_that_open_it_at_once_migrate_it_once(old_folder, monkeypatch, small_pulls):
    """Both have seen the old version when the first of them begins."""
    both, check = threading.Barrier(2), Database.check
    first_looks = iter([True, True])

    def check_together(self):
        version = check(self)
        if next(first_looks, False):
            both.wait(timeout=30)
        return version

    monkeypatch.setattr(Database, "check", check_together)
    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(lambda _: Store.open(old_folder).pulls(), range(2)))
    assert found == [small_pulls, small_pulls]
    [copy] = (old_folder / "copies").iterdir()
    assert rows(copy, "SELECT version FROM schema_version") == [(1,)]


def test_where_no_copy_can_be_made_nothing_is_migrated(old_folder):
    (old_folder / store_module.COPIES).touch()  # a file where the folder should be
    with pytest.raises(StoreError, match="could not be copied"):
        Store.open(old_folder)
    assert rows(old_folder / DATABASE_NAME, "SELECT version FROM schema_version") == [(1,)]
