"""Safe copies: whole, checked, and of nothing but a store."""

import io
import json
import sqlite3
import zipfile

import pytest

from model.base.errors import InputError, StoreError
from model.store import backup, files, posterior_files
from model.store.backup import MANIFEST, save_copy, unpack_copy
from model.store.database import DATABASE_NAME, Database
from model.store.store import Store


@pytest.fixture
def fitted_store(full_store, made_up_posterior, small_campaign, small_pulls):
    for identity in ("first", "second"):
        full_store.save_posterior(
            made_up_posterior(small_campaign, small_pulls, n_draws=50, identity=identity)
        )
    return full_store


@pytest.fixture
def copy(fitted_store, tmp_path):
    save_copy(fitted_store.folder, tmp_path / "safe.zip")
    return tmp_path / "safe.zip"


def contents(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def written(path, files):
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return path


def test_a_store_comes_back_whole(copy, fitted_store, tmp_path):
    unpack_copy(copy, tmp_path / "again")
    again = Store.open(tmp_path / "again")
    assert again.pulls() == fitted_store.pulls()
    assert again.campaign() == fitted_store.campaign()
    assert again.newest_posterior().draws.identical(fitted_store.newest_posterior().draws)
    assert sorted(contents(copy)) == sorted(
        [
            MANIFEST,
            DATABASE_NAME,
            *(f"posteriors/{path.name}" for path in (fitted_store.folder / "posteriors").iterdir()),
        ]
    )


def test_a_copy_in_the_middle_of_an_import_has_all_of_it_or_nothing(store, small_pulls, tmp_path):
    """The writer's transaction is open while the copy is made: not yet stored, not in it."""
    with store._database.writing() as session:
        store._put_pulls(session, small_pulls, {}, "pulls.csv")
        session.flush()
        save_copy(store.folder, tmp_path / "during.zip")
    save_copy(store.folder, tmp_path / "after.zip")
    counts = []
    for name in ("during", "after"):
        unpack_copy(tmp_path / f"{name}.zip", tmp_path / name)
        counts.append(len(Store.open(tmp_path / name).pulls()))
    assert counts == [0, 16]


def test_a_posterior_given_up_meanwhile_is_looked_for_anew(
    fitted_store, made_up_posterior, small_campaign, small_pulls, tmp_path, monkeypatch
):
    copy_to = Database.copy_to

    def copy_and_let_a_fit_end(self, target):
        copy_to(self, target)
        monkeypatch.setattr(Database, "copy_to", copy_to)
        fitted_store.save_posterior(
            made_up_posterior(small_campaign, small_pulls, n_draws=50, identity="third")
        )

    monkeypatch.setattr(Database, "copy_to", copy_and_let_a_fit_end)
    saved = save_copy(fitted_store.folder, tmp_path / "safe.zip")
    assert (saved.posteriors, saved.left_out) == (2, ())
    unpack_copy(tmp_path / "safe.zip", tmp_path / "again")
    assert Store.open(tmp_path / "again").newest_posterior().provenance.id == "third"


def test_a_damaged_posterior_does_not_keep_the_pulls_from_being_copied(fitted_store, tmp_path):
    path = max((fitted_store.folder / "posteriors").iterdir())
    path.write_bytes(path.read_bytes()[:100])
    saved = save_copy(fitted_store.folder, tmp_path / "safe.zip")
    assert saved.left_out == (path.name,)
    unpack_copy(tmp_path / "safe.zip", tmp_path / "again")
    assert len(Store.open(tmp_path / "again").pulls()) == 16


def test_no_copy_is_written_over_another_file(copy, fitted_store):
    before = copy.read_bytes()
    with pytest.raises(InputError, match="is there already"):
        save_copy(fitted_store.folder, copy)
    assert copy.read_bytes() == before


def test_where_a_copy_cannot_be_written_no_half_is_left(fitted_store, tmp_path, monkeypatch):
    def no_room(path):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "flush", no_room)
    with pytest.raises(StoreError, match="No space left"):
        save_copy(fitted_store.folder, tmp_path / "safe.zip")
    assert not list(tmp_path.glob("safe*"))


def test_a_folder_that_is_not_there(fitted_store, tmp_path):
    with pytest.raises(StoreError, match="could not be written"):
        save_copy(fitted_store.folder, tmp_path / "no" / "such" / "safe.zip")


def with_manifest(files, **changes):
    manifest = json.loads(files[MANIFEST])
    manifest["files"] |= changes
    return files | {MANIFEST: json.dumps(manifest)}


BROKEN = {
    "text": (lambda data, files: b"pull,anchor\n", "no sound copy"),
    "nothing": (lambda data, files: b"", "no sound copy"),
    "cut off": (lambda data, files: data[: len(data) // 2], "no sound copy"),
    "a byte changed": (
        lambda data, files: data[:3000] + bytes([data[3000] ^ 255]) + data[3001:],
        "no sound copy",
    ),
    "another archive": (lambda data, files: {"letter.txt": "hello"}, "no manifest"),
    "a manifest of nothing": (lambda data, files: files | {MANIFEST: "{}"}, "cannot be read"),
    "a newer kind of copy": (
        lambda data, files: files | {MANIFEST: '{"kedgewise_copy": 2, "files": {}}'},
        "cannot be read",
    ),
    "no database": (
        lambda data, files: {k: v for k, v in files.items() if k != DATABASE_NAME},
        "it lacks",
    ),
    "no database in the manifest": (
        lambda data, files: files | {MANIFEST: '{"files": {}}'},
        "it lacks",
    ),
    "out of the folder": (lambda data, files: files | {"../evil": "x"}, "it holds '../evil'"),
    "out of the folder, listed": (
        lambda data, files: with_manifest(files | {"posteriors/../../evil": "x"}),
        "it holds 'posteriors/../../evil'",
    ),
    "an absolute path": (lambda data, files: with_manifest(files, **{"/evil": "0"}), "'/evil'"),
    "a hidden name": (lambda data, files: files | {"posteriors/..": "x"}, "it holds"),
    "another database": (
        lambda data, files: files | {DATABASE_NAME: b"SQLite format 3\0"},
        "is not what was copied",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_no_sound_copy_is_refused_and_leaves_nothing(name, copy, tmp_path):
    spoil, words = BROKEN[name]
    spoilt = spoil(copy.read_bytes(), contents(copy))
    bad = tmp_path / "bad.zip"
    if isinstance(spoilt, bytes):
        bad.write_bytes(spoilt)
    else:
        written(bad, spoilt)
    with pytest.raises(InputError, match=words) as caught:
        unpack_copy(bad, tmp_path / "again")
    assert "Nothing was restored" in caught.value.hint
    assert not (tmp_path / "again").exists()
    assert not (tmp_path / "evil").exists()


def test_a_copy_that_would_fill_the_disk(copy, tmp_path, monkeypatch):
    monkeypatch.setattr(backup, "MOST_UNPACKED_BYTES", 1000)
    with pytest.raises(InputError, match="would unpack to more than 1000 bytes"):
        unpack_copy(copy, tmp_path / "again")


def test_without_the_hashes_a_changed_database_would_get_in(copy, tmp_path, monkeypatch):
    unpack_copy(copy, tmp_path / "one")
    with sqlite3.connect(tmp_path / "one" / DATABASE_NAME) as database:
        database.execute("DELETE FROM pull WHERE id > 8")
    database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    database.close()
    files = contents(copy) | {DATABASE_NAME: (tmp_path / "one" / DATABASE_NAME).read_bytes()}
    bad = written(tmp_path / "bad.zip", files)
    with pytest.raises(InputError, match="is not what was copied"):
        unpack_copy(bad, tmp_path / "two")

    monkeypatch.setattr(backup.hashlib, "sha256", _any_hash(files))
    unpack_copy(bad, tmp_path / "two")
    monkeypatch.undo()
    assert len(Store.open(tmp_path / "two").pulls()) == 8


def _any_hash(files):
    """A hash that agrees with the manifest whatever it is fed; files come in its order."""
    said = iter(json.loads(files[MANIFEST])["files"].values())

    class Agreeing(io.BytesIO):
        def update(self, data):
            pass

        def hexdigest(self):
            return next(said)

    return Agreeing


def test_a_file_of_a_store_and_not_a_copy(fitted_store, tmp_path):
    with pytest.raises(InputError, match="no sound copy"):
        unpack_copy(fitted_store.folder / DATABASE_NAME, tmp_path / "again")


def test_names_of_posteriors_are_names_that_copies_take(fitted_store):
    for path in (fitted_store.folder / posterior_files.FOLDER_NAME).iterdir():
        assert backup._POSTERIOR.fullmatch(f"posteriors/{path.name}")
