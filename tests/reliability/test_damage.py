"""Damaged stores: one clear error on the command line, and a safe copy brings everything back."""

import sqlite3

import pytest

from app.cli import run
from model.service.copies import backup
from model.store.database import DATABASE_NAME
from model.store.store import Store

pytestmark = pytest.mark.reliability


@pytest.fixture
def sound(tmp_path, small_campaign, small_pulls, made_up_posterior):
    """A store with pulls, draws and a safe copy of it."""
    made = Store.create(tmp_path / "store", small_campaign)
    made.add_pulls(small_pulls, "pulls.csv")
    made.save_posterior(made_up_posterior(small_campaign, small_pulls, n_draws=100))
    with sqlite3.connect(made.folder / DATABASE_NAME) as writer:
        writer.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    writer.close()
    backup(made, tmp_path / "safe.zip")
    return made


@pytest.fixture
def kedgewise(capsys, monkeypatch, sound):
    """Run one command on the store; gives its code and what it says on standard error."""
    monkeypatch.setenv("KEDGEWISE_STORE", str(sound.folder))

    def call(*arguments):
        capsys.readouterr()
        return run(arguments), capsys.readouterr().err

    return call


def cut(path):
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def flip(path):
    """One page of the middle turned over: SQLite sees it, or a hash does."""
    content = bytearray(path.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 4096] = bytes(byte ^ 255 for byte in content[middle : middle + 4096])
    path.write_bytes(content)


def empty(path):
    path.write_bytes(b"")


def other(path):
    path.write_bytes(b"anchor, load\n" * 1000)


def folder(path):
    path.unlink()
    path.mkdir()


@pytest.mark.parametrize("damage", [cut, flip, empty, other, folder])
def test_a_database_that_cannot_be_read(damage, sound, small_pulls, kedgewise, tmp_path):
    damage(sound.folder / DATABASE_NAME)
    for command in (["ask"], ["fit"], ["backup", str(tmp_path / "no.zip")]):
        code, said = kedgewise(*command)
        assert code == 1
        assert said.count("error:") == 1
        assert "Traceback" not in said
        assert "kedgewise restore FILE" in said
    assert not (tmp_path / "no.zip").exists()

    code, said = kedgewise("restore", str(tmp_path / "safe.zip"))
    assert (code, said) == (0, "")
    again = Store.open(sound.folder)
    assert again.pulls() == small_pulls
    assert again.newest_posterior() is not None


@pytest.mark.parametrize("damage", [cut, flip, empty, lambda path: path.unlink()])
def test_draws_that_cannot_be_read(damage, sound, small_pulls, kedgewise, tmp_path):
    [path] = (sound.folder / "posteriors").iterdir()
    damage(path)
    code, said = kedgewise("ask")
    assert code == 1
    assert said.count("error:") == 1
    assert "Traceback" not in said
    assert "kedgewise fit" in said
    assert sound.pulls() == small_pulls

    assert kedgewise("restore", str(tmp_path / "safe.zip"), "--replace")[0] == 0
    again = Store.open(sound.folder)
    assert again.pulls() == small_pulls
    assert again.newest_posterior() is not None


def test_a_store_that_may_only_be_read_is_seen_and_copied(sound, kedgewise, monkeypatch, tmp_path):
    """Whoever may write everywhere is refused by the driver, in its own words."""
    from model.store import database

    def refuse(_):
        error = sqlite3.OperationalError("attempt to write a readonly database")
        error.sqlite_errorcode = sqlite3.SQLITE_READONLY
        raise error

    monkeypatch.setattr(database, "_connected_to_write", refuse)
    sound.folder.joinpath("log.csv").write_text(
        "pull,outing,anchor,seabed,ending,load_kn\n99,day 1,S6,firm sand,released,2.6\n"
    )
    code, said = kedgewise("import", str(sound.folder / "log.csv"))
    assert code == 1
    assert said.count("error:") == 1
    assert "cannot be opened for writing" in said
    assert "Traceback" not in said
    assert kedgewise("stores")[0] == 0
    assert kedgewise("modes")[0] == 0
    assert kedgewise("backup", str(tmp_path / "again.zip"))[0] == 0
