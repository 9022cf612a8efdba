"""Restoring a store: into an empty place, over a damaged one, and over a sound one if told."""

import datetime as dt

import pytest

from model.base.errors import InputError, KedgewiseError, StoreError
from model.service.copies import backup, restore
from model.service.fits import fit_lock
from model.store.database import DATABASE_NAME
from model.store.store import Store


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
