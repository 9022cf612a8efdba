"""A store in a folder that may only be read, as on a backup disk: read, copied, never written."""

import os
import shutil
import stat
import tempfile
from pathlib import Path

import pytest

from model.base.errors import StoreError, StoreReadOnly
from model.service import stores
from model.service.worker import worker_lock
from model.store import database as database_module
from model.store import files
from model.store.backup import save_copy, unpack_copy
from model.store.database import DATABASE_NAME
from model.store.store import Store

NOBODY = 65534


@pytest.fixture
def outside():
    """A folder that every user may look into, unlike those of pytest."""
    place = Path(tempfile.mkdtemp())
    place.chmod(0o777)
    yield place
    shutil.rmtree(place, ignore_errors=True)


@pytest.fixture
def read_only(full_store, made_up_posterior, small_campaign, small_pulls, outside):
    """The folder of a store that whoever runs this may read and not write."""
    full_store.save_posterior(made_up_posterior(small_campaign, small_pulls, n_draws=50))
    # What is imported late must be there before another user, who may not read it, looks for it.
    unpack_copy(save_copy(full_store.folder, outside / "warm.zip").path, outside / "warm")
    full_store.newest_posterior()
    folder = Path(shutil.copytree(full_store.folder, outside / "store"))
    paths = [*folder.rglob("*"), folder]
    for path in paths:
        path.chmod(0o555 if path.is_dir() else 0o444)
    is_root = os.geteuid() == 0
    if is_root:
        os.seteuid(NOBODY)
    yield folder
    if is_root:
        os.seteuid(0)
    for path in reversed(paths):
        path.chmod(stat.S_IRWXU)


def test_it_is_read_and_copied(read_only, small_pulls, small_campaign, outside):
    store = Store.open(read_only)
    assert store.pulls() == small_pulls
    assert store.campaign() == small_campaign
    assert store.newest_posterior().draws.sizes["draw"] == 50
    saved = save_copy(read_only, outside / "safe.zip")
    assert (saved.posteriors, saved.left_out) == (1, ())
    unpack_copy(outside / "safe.zip", outside / "again")
    assert Store.open(outside / "again").pulls() == small_pulls
    assert sorted(path.name for path in read_only.iterdir()) == [DATABASE_NAME, "posteriors"]


def test_what_would_write_says_why_it_cannot(
    read_only, small_pulls, made_up_posterior, small_campaign
):
    store = Store.open(read_only)
    fresh = small_pulls[0].model_copy(update={"code": "77"})
    for write in (
        lambda: store.add_pulls([fresh], "deck"),
        lambda: store.save_posterior(made_up_posterior(small_campaign, small_pulls, seed=5)),
        lambda: store.begin_attempt("facts"),
    ):
        with pytest.raises(StoreError, match=r"cannot be opened for writing|could not be written"):
            write()
    assert store.pulls() == small_pulls


def test_without_the_way_to_read_only_it_would_not_open(read_only, monkeypatch):
    monkeypatch.setattr(database_module, "NOT_WRITABLE", ())
    with pytest.raises(StoreError, match="cannot be opened for writing"):
        Store.open(read_only)


def test_what_stands_in_a_log_beside_it_is_not_passed_over(read_only, monkeypatch):
    """A killed writer's pulls are in the log: without it they would seem not to be there."""
    as_owner = os.geteuid() == NOBODY
    if as_owner:
        os.seteuid(0)
    read_only.chmod(0o755)
    (read_only / f"{DATABASE_NAME}-wal").write_bytes(b"a pull" * 100)
    read_only.chmod(0o555)
    if as_owner:
        os.seteuid(NOBODY)
    with pytest.raises(StoreError, match="cannot be opened for writing") as caught:
        Store.open(read_only)
    assert "copy the folder to where you may write" in caught.value.hint
    assert stores.describe(read_only).hint == caught.value.hint
    monkeypatch.setattr(database_module, "_has_log", lambda _: False)
    with pytest.raises(StoreError, match="cannot be opened for writing") as caught:
        Store.open(read_only).begin_attempt("facts")
    assert "copy the folder" not in caught.value.hint
    monkeypatch.setattr(database_module, "_is_whole", lambda _: True)
    assert len(Store.open(read_only).pulls()) == 16  # as if nothing were in the log


def test_a_worker_there_is_told_that_it_may_only_read(read_only, monkeypatch):
    with pytest.raises(StoreReadOnly, match=r"worker\.lock cannot be locked"):
        worker_lock(read_only)
    monkeypatch.setattr(files, "NOT_WRITABLE", ())
    with pytest.raises(StoreError) as caught:
        worker_lock(read_only)
    assert not isinstance(caught.value, StoreReadOnly)


def test_a_folder_in_the_place_of_the_database_is_damage(tmp_path):
    (tmp_path / DATABASE_NAME).mkdir()
    with pytest.raises(StoreError, match="it is a folder") as caught:
        Store.open(tmp_path)
    assert "kedgewise restore" in caught.value.hint
