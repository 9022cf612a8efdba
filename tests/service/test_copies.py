"""Restoring a store: into an empty place, over a damaged one, and over a sound one if told."""

import datetime as dt
import shutil
import sqlite3
import threading
import time
from contextlib import nullcontext
from pathlib import Path

import pytest

from model.base.errors import InputError, KedgewiseError, NoStore, StoreError
from model.service import copies, fits, stores
from model.service.copies import backup, restore
from model.service.fits import fit_lock
from model.store import database
from model.store.database import DATABASE_NAME
from model.store.store import Store, needs_making


def noon():
    return dt.datetime(2026, 5, 4, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def copy(filled, tmp_path):
    return backup(filled, tmp_path / "safe.zip").path


def test_into_a_new_place_and_an_empty_one(copy, filled, tmp_path):
    (tmp_path / "empty").mkdir()
    for name in ("new", "empty"):
        done = restore(copy, tmp_path / name)
        assert (done.pulls, done.before) == (len(filled.pulls()), None)
        assert Store.open(tmp_path / name).pulls() == filled.pulls()


def test_a_damaged_store_makes_way_and_is_kept(copy, filled):
    pulls = filled.pulls()
    (filled.folder / DATABASE_NAME).write_bytes(b"not a database at all, and long enough" * 40)
    with pytest.raises(StoreError):
        Store.open(filled.folder)
    done = restore(copy, filled.folder, clock=noon)
    assert Store.open(filled.folder).pulls() == pulls
    assert done.before == filled.folder / "copies" / "replaced-20260504T120000Z"
    assert (done.before / DATABASE_NAME).read_bytes().startswith(b"not a database")


def test_a_sound_store_is_left_alone_unless_told(copy, filled, small_pulls):
    filled.add_pulls([pull for pull in small_pulls if pull.outing == "day 2"], "day-2.csv")
    with pytest.raises(InputError, match="there is a sound store") as caught:
        restore(copy, filled.folder)
    assert "--replace" in caught.value.hint
    assert len(filled.pulls()) == 16
    done = restore(copy, filled.folder, may_replace=True)
    assert done.pulls == 8
    assert len(Store.open(done.before).pulls()) == 16


def test_a_store_that_is_being_fitted_is_left_alone(copy, filled):
    with (
        fit_lock(filled.folder, wait_s=0.0),
        pytest.raises(KedgewiseError, match="another fit of"),
    ):
        restore(copy, filled.folder, may_replace=True)


def test_a_folder_of_other_things_is_refused(copy, tmp_path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "anchor.jpg").touch()
    with pytest.raises(InputError, match="is no store, and it is not empty"):
        restore(copy, tmp_path / "photos", may_replace=True)


def test_a_bad_copy_leaves_the_store_and_nothing_beside_it(filled, tmp_path):
    (tmp_path / "bad.zip").write_bytes(b"PK")
    before = sorted(path.name for path in filled.folder.parent.iterdir())
    with pytest.raises(InputError, match="no sound copy"):
        restore(tmp_path / "bad.zip", filled.folder, may_replace=True)
    assert sorted(path.name for path in filled.folder.parent.iterdir()) == before
    assert len(filled.pulls()) == 8


def test_a_fit_does_not_go_into_a_store_that_was_put_in_its_place(
    copy, filled, fitter, small_pulls, monkeypatch
):
    """The copy is older: what is fitted rests on pulls that it has not."""
    filled.add_pulls([pull for pull in small_pulls if pull.outing == "day 2"], "day-2.csv")
    fit = fitter.fit

    def fit_while_it_is_replaced(campaign, pulls, *, progress=None):
        made = fit(campaign, pulls, progress=progress)
        filled.folder.rename(filled.folder.with_name("away"))
        restore(copy, filled.folder)
        return made

    monkeypatch.setattr(fitter, "fit", fit_while_it_is_replaced)
    with pytest.raises(StoreError, match="was replaced while it was being fitted"):
        fits.fit(filled, fitter=fitter)
    assert Store.open(filled.folder).newest_stored() is None


def test_a_copy_that_cannot_be_read_takes_no_place(filled, tmp_path):
    """Its hashes are right: what it was made of was spoilt already."""
    with sqlite3.connect(filled.folder / DATABASE_NAME) as database:
        database.execute("UPDATE campaign SET record = '{}'")
    database.close()
    spoilt = backup(filled, tmp_path / "spoilt.zip").path
    sound = Store.create(tmp_path / "sound", _small())
    with pytest.raises(StoreError, match="a stored campaign cannot be read"):
        restore(spoilt, sound.folder, may_replace=True)
    assert Store.open(sound.folder).campaign().name
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []


def _small():
    from model.ingest.campaign_file import read_campaign

    return read_campaign(Path(__file__).parent / "data" / "small.toml")


def test_a_swap_that_fails_leaves_the_store_in_its_place(copy, filled, monkeypatch):
    rename = Path.rename

    def no_second(self, target):
        if self.name.startswith("."):
            raise OSError("in use")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", no_second)
    with pytest.raises(StoreError, match="could not be put in its place"):
        restore(copy, filled.folder, may_replace=True)
    assert len(Store.open(filled.folder).pulls()) == 8


@pytest.mark.parametrize("name", ["file", "file/below"])
def test_a_file_is_no_place_for_a_store(name, copy, tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises((InputError, StoreError)) as caught:
        restore(copy, tmp_path / name)
    assert caught.value.hint


def test_what_is_being_unpacked_is_no_store_that_is_listed(filled, tmp_path, monkeypatch):
    monkeypatch.setattr(stores, "data_folder", lambda: filled.folder.parent)
    shutil.copytree(filled.folder, filled.folder.with_name(".half-1a2b3c4d"))
    assert [one.name for one in stores.known()] == [filled.folder.name]


def _locked(folder, monkeypatch):
    def refuse(*_):
        raise sqlite3.OperationalError("database is locked")

    monkeypatch.setattr(database, "_prepare", refuse)


def _of_a_newer_version(folder, monkeypatch):
    with sqlite3.connect(folder / DATABASE_NAME) as holder:
        holder.execute("UPDATE schema_version SET version = 99")
    holder.close()


@pytest.mark.parametrize(
    ("trouble", "words"), [(_locked, "in use"), (_of_a_newer_version, "schema version 99")]
)
@pytest.mark.parametrize("may_replace", [False, True])
def test_a_store_that_cannot_be_opened_now_is_no_damaged_one(
    may_replace, trouble, words, copy, filled, monkeypatch
):
    trouble(filled.folder, monkeypatch)
    with pytest.raises(StoreError, match=words):
        restore(copy, filled.folder, may_replace=may_replace)
    assert not (filled.folder / "copies").exists()


def test_a_store_whose_making_was_interrupted_makes_way(copy, tmp_path):
    (tmp_path / "half").mkdir()
    (tmp_path / "half" / DATABASE_NAME).touch()
    assert restore(copy, tmp_path / "half").pulls == 8


def test_behind_a_link_the_store_itself_is_replaced(copy, filled, tmp_path):
    link = tmp_path / "link"
    link.symlink_to(filled.folder)
    done = restore(copy, link, may_replace=True)
    assert link.is_symlink()
    assert len(Store.open(done.before).pulls()) == 8


def test_a_restore_that_was_stopped_is_told_where_the_store_should_be(copy, filled, monkeypatch):
    rename = Path.rename

    def killed(self, target):
        if self.name.startswith("."):
            raise KeyboardInterrupt
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", killed)
    with pytest.raises(KeyboardInterrupt):
        restore(copy, filled.folder, may_replace=True)
    monkeypatch.undo()
    with pytest.raises(StoreError, match="was interrupted") as caught:
        Store.open(filled.folder)
    [left] = filled.folder.parent.glob(f".{filled.folder.name}-*")
    assert str(left) in caught.value.hint
    assert len(Store.open(left).pulls()) == 8


def test_nothing_is_made_in_the_place_of_a_store_that_was_moved(copy, filled, monkeypatch):
    moved = filled.folder.with_name(f".{filled.folder.name}-1a2b3c4d") / "copies" / "replaced-1"
    moved.parent.mkdir(parents=True)
    filled.folder.rename(moved)
    for make in (needs_making, Store.open, lambda folder: restore(copy, folder)):
        with pytest.raises(StoreError, match="was interrupted"):
            make(filled.folder)
    assert not filled.folder.exists()


def test_what_was_half_unpacked_is_no_store_and_keeps_from_nothing(copy, tmp_path):
    half = tmp_path / ".trials-1a2b3c4d"
    half.mkdir()
    (half / DATABASE_NAME).write_bytes(b"SQLite")
    with pytest.raises(NoStore):
        Store.open(tmp_path / "trials")
    assert restore(copy, tmp_path / "trials").pulls == 8


def _restored_beside_a_writer(copy, filled, small_pulls, monkeypatch):
    """A writer begins while the store is being swapped; gives what it was told, None if nothing."""
    told, moved = [], threading.Event()
    swap = copies._swap

    def log_one():
        moved.wait(10)
        try:
            filled.add_pulls([small_pulls[8]], "deck")
            told.append(None)
        except StoreError as error:
            told.append(error.message)

    def swap_slowly(*places):
        moved.set()
        time.sleep(0.5)  # meanwhile the writer opens the old file, and waits
        swap(*places)

    monkeypatch.setattr(copies, "_swap", swap_slowly)
    writer = threading.Thread(target=log_one)
    writer.start()
    done = restore(copy, filled.folder, may_replace=True)
    writer.join()
    return told[0], done


def test_who_writes_while_the_store_is_replaced_is_told(copy, filled, small_pulls, monkeypatch):
    told, done = _restored_beside_a_writer(copy, filled, small_pulls, monkeypatch)
    assert "was replaced by another store" in told
    assert len(Store.open(done.before).pulls()) == 8
    filled.add_pulls([small_pulls[8]], "deck")
    assert len(Store.open(filled.folder).pulls()) == 9


def test_without_the_lock_a_pull_would_end_in_the_replaced_store(
    copy, filled, small_pulls, monkeypatch
):
    monkeypatch.setattr(copies, "hold_writers", lambda _: nullcontext())
    told, done = _restored_beside_a_writer(copy, filled, small_pulls, monkeypatch)
    assert told is None
    assert len(Store.open(done.before).pulls()) == 9
    assert len(Store.open(filled.folder).pulls()) == 8
