import shutil
import sqlite3
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from model.base.errors import EXIT_BAD_INPUT, NoStore, StoreError
from model.store import database as database_module
from model.store import kept_facts
from model.store.database import DATABASE_NAME
from model.store.store import Store, needs_making
from model.store.tables import SCHEMA_VERSION

NEWER = SCHEMA_VERSION + 1


def _database(store):
    return store.folder / DATABASE_NAME


def _execute(path, sql):
    connection = sqlite3.connect(path)
    with connection:
        connection.execute(sql)
    connection.close()


def test_a_folder_without_a_store(tmp_path):
    with pytest.raises(NoStore, match="there is no store") as caught:
        Store.open(tmp_path)
    assert "kedgewise demo" in caught.value.hint
    assert caught.value.exit_code == EXIT_BAD_INPUT


def test_a_store_whose_database_is_gone(full_store):
    """Whoever is told to make one would take it that everything is lost."""
    (full_store.folder / "fit.lock").touch()
    (full_store.folder / DATABASE_NAME).unlink()
    with pytest.raises(NoStore, match=f"{DATABASE_NAME} is missing in") as caught:
        Store.open(full_store.folder)
    assert "`kedgewise restore FILE --store " in caught.value.hint
    assert "demo" not in caught.value.hint
    (full_store.folder / "fit.lock").unlink()


def test_a_second_store_in_one_folder_is_refused(full_store, small_campaign, small_pulls):
    with pytest.raises(StoreError, match="already holds a store"):
        Store.create(full_store.folder, small_campaign)
    assert full_store.pulls() == small_pulls


def test_a_file_that_is_no_database(tmp_path):
    (tmp_path / DATABASE_NAME).write_text("anchor, load\n" * 1000)
    with pytest.raises(StoreError, match="damaged or no database") as caught:
        Store.open(tmp_path)
    assert "safe copy" in caught.value.hint


def test_a_truncated_database(full_store):
    path = _database(full_store)
    _execute(path, "PRAGMA wal_checkpoint(TRUNCATE)")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(StoreError, match="damaged"):
        Store.open(full_store.folder)


def test_a_database_of_another_program(tmp_path):
    _execute(tmp_path / DATABASE_NAME, "CREATE TABLE recipe (id INTEGER)")
    with pytest.raises(StoreError, match="another program"):
        Store.open(tmp_path)


def test_a_store_whose_making_was_interrupted_can_be_made_again(tmp_path, small_campaign):
    (tmp_path / DATABASE_NAME).touch()
    with pytest.raises(StoreError, match="interrupted"):
        Store.open(tmp_path)
    assert needs_making(tmp_path)
    assert Store.create(tmp_path, small_campaign).campaign() == small_campaign
    assert not needs_making(tmp_path)


def test_a_newer_schema_is_refused(store):
    _execute(_database(store), "UPDATE schema_version SET version = version + 1")
    with pytest.raises(StoreError, match=f"schema version {NEWER}; this program knows {NEWER - 1}"):
        Store.open(store.folder)


def test_a_program_that_knows_the_newer_schema_opens_it(store, monkeypatch):
    _execute(_database(store), "UPDATE schema_version SET version = version + 1")
    monkeypatch.setattr(database_module, "SCHEMA_VERSION", NEWER)
    assert Store.open(store.folder).pulls() == ()


def test_a_record_changed_by_hand_is_named(full_store):
    _execute(_database(full_store), "UPDATE pull SET record = '{}' WHERE id = 3")
    with pytest.raises(StoreError, match="a stored pull cannot be read"):
        full_store.pulls()


# name: (what was done to the database, what then reads it, words of the error)
DAMAGE = {
    "reasons cut off": (
        "UPDATE attempt SET reasons = '{bad'",
        Store.newest_attempt,
        "the reasons of a fit cannot be read",
    ),
    "reasons that are no words": (
        "UPDATE attempt SET reasons = '[1]'",
        Store.newest_attempt,
        "the reasons of a fit cannot be read",
    ),
    "a time that is none": (
        "UPDATE attempt SET at = 'yesterday'",
        Store.newest_attempt,
        "a stored time cannot be read: 'yesterday'",
    ),
    "a count that is none": (
        "UPDATE attempt SET tries = 'many'",
        lambda store: store.begin_attempt("facts"),
        "a stored number cannot be read: 'many'",
    ),
    "a version that is none": (
        "UPDATE schema_version SET version = 'abc'",
        lambda store: Store.open(store.folder),
        "a stored number cannot be read: 'abc'",
    ),
    "version 0": (
        "UPDATE schema_version SET version = 0",
        lambda store: Store.open(store.folder),
        "does not say its schema version",
    ),
    "no version": (
        "DELETE FROM schema_version",
        lambda store: Store.open(store.folder),
        "does not say its schema version",
    ),
    "a table gone": (
        "DROP TABLE pull",
        lambda store: Store.open(store.folder),
        "it lacks the table pull",
    ),
    "a table gone meanwhile": ("DROP TABLE pull", Store.pulls, "no such table: pull"),
    "the campaign gone": ("DELETE FROM campaign", Store.campaign, "holds no campaign"),
}


@pytest.mark.parametrize("name", DAMAGE)
def test_damage_inside_the_tables_is_one_clear_error(name, full_store):
    sql, use, words = DAMAGE[name]
    full_store.begin_attempt("facts")
    _execute(_database(full_store), sql)
    with pytest.raises(StoreError, match=words) as caught:
        use(full_store)
    assert caught.value.exit_code == 1
    assert "safe copy" in caught.value.hint
    assert "stored" not in caught.value.hint


def test_a_folder_that_may_not_be_made(tmp_path, small_campaign):
    (tmp_path / "file").touch()
    with pytest.raises(StoreError, match="cannot be made"):
        Store.create(tmp_path / "file" / "store", small_campaign)


def test_a_folder_that_may_not_be_written(store, monkeypatch):
    # Root may write anywhere, so the refusal comes from the driver's own words here.
    def refuse(*_):
        raise sqlite3.OperationalError("unable to open database file")

    monkeypatch.setattr(database_module, "_prepare", refuse)
    with pytest.raises(StoreError, match="cannot be opened for writing") as caught:
        Store.open(store.folder)
    assert "who may read and write" in caught.value.hint


def test_a_store_in_use_says_so_and_stores_nothing(store, small_pulls, monkeypatch):
    monkeypatch.setattr(database_module, "BUSY_TIMEOUT_MS", 50)
    blocker = sqlite3.connect(_database(store), isolation_level=None)
    blocker.execute("BEGIN IMMEDIATE")
    hurried = Store.open(store.folder)
    with pytest.raises(StoreError, match="in use by another program"):
        hurried.add_pulls(small_pulls, "pulls.csv")
    assert hurried.pulls() == ()  # a reader does not wait for the writer
    blocker.execute("ROLLBACK")
    blocker.close()
    assert hurried.add_pulls(small_pulls, "pulls.csv").added == 16


def test_a_full_disk_stores_nothing(store, small_pulls, monkeypatch):
    prepare = database_module._prepare

    def no_room(connection):
        prepare(connection)
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")

    monkeypatch.setattr(database_module, "_prepare", no_room)
    full = Store.open(store.folder)
    many = [pull.model_copy(update={"notes": "n" * 5000}) for pull in small_pulls]
    with pytest.raises(StoreError, match="no room left"):
        full.add_pulls(many, "pulls.csv")
    monkeypatch.undo()
    assert Store.open(store.folder).pulls() == ()


def test_two_writers_wait_for_each_other(store, small_pulls):
    """Each import reads first and writes later: without the lock taken at once, one would fail."""
    both = threading.Barrier(2)

    def add(pulls):
        writer = Store.open(store.folder)
        both.wait()
        return sum(writer.add_pulls([pull], "pulls.csv").added for pull in pulls)

    with ThreadPoolExecutor(2) as pool:
        halves = list(pool.map(add, (small_pulls[:8], small_pulls[8:])))
    assert halves == [8, 8]
    assert len(store.pulls()) == 16


def _add_while_another_adds(store, small_pulls, monkeypatch):
    """Let a second writer come between the first one's reading and its writing."""
    first, second = Store.open(store.folder), Store.open(store.folder)
    second_said = []
    sort_pulls = kept_facts.sort_pulls

    def interrupted(pulls, stored, *, source, **more):
        if source == "first.csv":
            try:
                second.add_pulls(small_pulls[8:], "second.csv")
            except StoreError as error:
                second_said.append(error.message)
        return sort_pulls(pulls, stored, source=source, **more)

    monkeypatch.setattr(kept_facts, "sort_pulls", interrupted)
    first.add_pulls(small_pulls[:8], "first.csv")
    return second_said


def test_nobody_comes_between_reading_and_writing(store, small_pulls, monkeypatch):
    monkeypatch.setattr(database_module, "BUSY_TIMEOUT_MS", 50)
    [said] = _add_while_another_adds(store, small_pulls, monkeypatch)
    assert "in use by another program" in said
    assert store.pulls() == small_pulls[:8]


def test_without_the_lock_taken_at_once_the_first_writer_fails(store, small_pulls, monkeypatch):
    monkeypatch.setattr(database_module, "BUSY_TIMEOUT_MS", 50)
    monkeypatch.setattr(
        database_module, "_begin", lambda connection: connection.exec_driver_sql("BEGIN")
    )
    with pytest.raises(StoreError, match="in use by another program"):
        _add_while_another_adds(store, small_pulls, monkeypatch)


@pytest.mark.parametrize(("free", "words"), [(10, "no room left"), (10**9, "disk I/O error")])
def test_a_log_that_cannot_grow_is_no_damage(free, words, full_store, monkeypatch):
    def refuse(*_):
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setattr(database_module, "_prepare", refuse)
    usage = shutil.disk_usage(full_store.folder)._replace(free=free)
    monkeypatch.setattr(database_module.shutil, "disk_usage", lambda _: usage)
    with pytest.raises(StoreError, match=words) as caught:
        Store.open(full_store.folder)
    assert "damaged" not in caught.value.message
