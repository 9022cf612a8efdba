"""What a power cut must not undo: asked of the connection itself, and of the order of calls."""

import os
import stat

import pytest
from sqlalchemy import text

from model.store import database, files, posterior_files
from model.store.files import flush_folder, written_whole

SAFE = {"synchronous": 2, "foreign_keys": 1, "journal_mode": "wal"}
"""SQLite's own words and numbers: 2 is FULL, which waits for the disk at each commit."""


def settings(store):
    """Read off a connection in the middle of a write."""
    with store._database.writing() as session:
        return {name: session.scalar(text(f"PRAGMA {name}")) for name in SAFE}


def test_a_pull_that_was_reported_stored_is_on_the_disk(full_store):
    assert settings(full_store) == SAFE


@pytest.mark.parametrize(
    ("spoilt", "found"),
    [
        ("synchronous = OFF", {"synchronous": 0}),
        ("synchronous = NORMAL", {"synchronous": 1}),
        ("foreign_keys = OFF", {"foreign_keys": 0}),
        ("journal_mode = DELETE", {"journal_mode": "delete"}),
    ],
)
def test_another_setting_would_be_seen(spoilt, found, full_store, monkeypatch):
    prepare = database._prepare

    def spoil(connection):
        prepare(connection)
        connection.execute(f"PRAGMA {spoilt}").close()

    monkeypatch.setattr(database, "_prepare", spoil)
    assert settings(full_store) == SAFE | found


class Disk:
    """Each flush and each swap, in order, with how much was there to be flushed."""

    def __init__(self, monkeypatch):
        self.calls = []
        fsync, replace = os.fsync, os.replace

        def flushed(handle):
            found = os.fstat(handle)
            self.calls.append("folder" if stat.S_ISDIR(found.st_mode) else found.st_size)
            fsync(handle)

        def swapped(source, target, **more):
            self.calls.append("swap")
            replace(source, target, **more)

        monkeypatch.setattr(os, "fsync", flushed)
        monkeypatch.setattr(os, "replace", swapped)


@pytest.fixture
def disk(monkeypatch):
    return Disk(monkeypatch)


posix = pytest.mark.skipif(os.name == "nt", reason="no folder can be flushed there")


@posix
def test_a_file_is_on_the_disk_before_its_name_and_then_the_name_is(tmp_path, disk):
    with written_whole(tmp_path / "file") as temporary:
        temporary.write_bytes(b"0123456789")
    assert disk.calls == [10, "swap", "folder"]


@posix
def test_a_posterior_too(tmp_path, made_up_posterior, small_campaign, small_pulls, disk):
    posterior = made_up_posterior(small_campaign, small_pulls)
    name, _ = posterior_files.write(tmp_path, posterior, mark="x")
    size = (tmp_path / posterior_files.FOLDER_NAME / name).stat().st_size
    assert disk.calls == [size, "swap", "folder"]


@posix
@pytest.mark.parametrize(
    ("missing", "left"), [("flush", ["swap", "folder"]), ("flush_folder", [10, "swap"])]
)
def test_without_it_that_would_be_seen(missing, left, tmp_path, disk, monkeypatch):
    monkeypatch.setattr(files, missing, lambda path: None)
    with written_whole(tmp_path / "file") as temporary:
        temporary.write_bytes(b"0123456789")
    assert disk.calls == left


def test_a_disk_that_flushes_no_folder_stops_nothing(tmp_path, monkeypatch):
    flush_folder(tmp_path / "missing")

    def refuse(handle):
        raise OSError("not here")

    monkeypatch.setattr(os, "fsync", refuse)
    flush_folder(tmp_path)


def test_where_folders_cannot_be_opened_none_is(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "open", lambda *_: pytest.fail("a folder was opened"))
    monkeypatch.setattr(files.os, "name", "nt")
    flush_folder(tmp_path)
