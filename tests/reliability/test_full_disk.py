"""A disk that is full: one clear error, nothing acknowledged lost, and on it goes with room."""

import subprocess
import sys

import pytest

from model.base.errors import StoreError
from model.service import corrections
from model.service.copies import backup, restore
from model.store import posterior_files
from model.store.store import Store

pytestmark = pytest.mark.reliability
NO_ROOM = "no room left|disk I/O error|File too large|No space left"


def log(store, code, notes=""):
    row = {"pull": code, "outing": "day 1", "anchor": "S6", "seabed": "firm sand"}
    row |= {"ending": "released", "load_kn": "2.6", "notes": notes}
    return corrections.add_row(Store.open(store.folder), row)


@pytest.fixture
def posterior(made_up_posterior, store):
    log(store, "first")
    return made_up_posterior(store.campaign(), store.pulls(), n_draws=200)


def test_pulls_until_the_disk_is_full(small_disk, store):
    log(store, "first")
    told = ["first"]

    def log_on():
        for number in range(500):
            log(store, f"{number}", notes="n" * 20_000)
            told.append(f"{number}")

    with small_disk.full(left_bytes=200_000), pytest.raises(StoreError, match=NO_ROOM):
        log_on()
    assert 1 < len(told) < 500
    assert [pull.code for pull in Store.open(store.folder).pulls()] == told
    log(store, "last")
    assert len(Store.open(store.folder).pulls()) == len(told) + 1


def test_what_is_stored_can_be_read_on_a_full_disk(small_disk, store):
    log(store, "first")
    with small_disk.full():
        assert [pull.code for pull in Store.open(store.folder).pulls()] == ["first"]
        with pytest.raises(StoreError):
            log(store, "second")
    assert [pull.code for pull in Store.open(store.folder).pulls()] == ["first"]


def test_a_posterior_that_finds_no_room(small_disk, store, posterior, made_up_posterior):
    store.save_posterior(posterior)
    next_one = made_up_posterior(store.campaign(), store.pulls(), n_draws=4000, seed=1)
    with small_disk.full(left_bytes=100_000):
        with pytest.raises(StoreError, match="could not be written"):
            store.save_posterior(next_one)
        # What was half written is gone: a pull still finds its room.
        log(store, "second")
        assert store.newest_posterior().provenance.id == posterior.provenance.id
    assert len(list((store.folder / posterior_files.FOLDER_NAME).iterdir())) == 1
    assert len(store.pulls()) == 2


def test_half_a_posterior_left_behind_would_keep_pulls_out(
    small_disk, store, posterior, made_up_posterior, monkeypatch
):
    """Only a disk of its own shows it: elsewhere each file has its own limit."""
    next_one = made_up_posterior(store.campaign(), store.pulls(), n_draws=4000, seed=1)
    monkeypatch.setattr(type(store.folder), "unlink", lambda *_, **__: None)
    with small_disk.full(left_bytes=100_000), monkeypatch.context() as patch:
        with pytest.raises(StoreError):
            store.save_posterior(next_one)
        patch.undo()
        left = list((store.folder / posterior_files.FOLDER_NAME).glob("*.part"))
        assert left
        if small_disk.is_mounted:
            with pytest.raises(StoreError, match=NO_ROOM):
                log(store, "second")


def test_a_copy_that_finds_no_room_and_one_that_does(small_disk, store, posterior, tmp_path):
    store.save_posterior(posterior)
    with small_disk.full(), pytest.raises(StoreError, match=NO_ROOM):
        backup(store, small_disk.folder / "safe.zip")
    assert not (small_disk.folder / "safe.zip").exists()
    copy = backup(store, tmp_path / "safe.zip").path
    with small_disk.full(), pytest.raises(StoreError):
        restore(copy, small_disk.folder / "again")
    assert not (small_disk.folder / "again").exists()
    assert restore(copy, small_disk.folder / "again").pulls == 1


def test_the_command_line_says_it_in_one_message(small_disk, store, tmp_path):
    log(store, "first")
    rows = "\n".join(f"{n},day 1,S6,firm sand,released,2.6,{'n' * 300}" for n in range(3000))
    (tmp_path / "log.csv").write_text(f"pull,outing,anchor,seabed,ending,load_kn,notes\n{rows}\n")
    command = [sys.executable, "-c", "from app.cli import main; main()", "import"]
    with small_disk.full(left_bytes=100_000):
        done = subprocess.run(
            [*command, str(tmp_path / "log.csv"), "--store", str(store.folder)],
            capture_output=True,
            text=True,
            check=False,
        )
    assert done.returncode == 1
    assert done.stderr.count("error:") == 1
    assert "Traceback" not in done.stderr
    assert "Nothing of this step was stored" in done.stderr
    assert len(Store.open(store.folder).pulls()) == 1
