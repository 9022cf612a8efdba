"""Open data packages: what goes out comes back the same, history included; conflicts are listed."""

import csv
import io
import json
import random
import re
import zipfile

import pytest
from frictionless import Package
from package_files import contents, written

from model.base.errors import FaultyFile, InputError, StoreError
from model.ingest.log_fields import fields_of
from model.ingest.log_rows import rows_of
from model.service import package_reader
from model.service.package_reader import holds_package
from model.service.packages import export_package, import_package
from model.store.store import Store


def test_a_round_trip_keeps_every_version(package, lived, tmp_path):
    taken = import_package(package, tmp_path / "again")
    assert (taken.is_new, taken.added) == (True, 15)
    again = Store.open(tmp_path / "again")
    assert again.history() == lived.history()
    assert again.pulls() == lived.pulls()
    assert again.removed_pulls() == lived.removed_pulls()


def test_a_second_round_trip_is_the_same_package(package, tmp_path):
    import_package(package, tmp_path / "again")
    export_package(Store.open(tmp_path / "again"), tmp_path / "second.zip")
    assert contents(tmp_path / "second.zip") == contents(package)


def test_it_is_a_data_package_by_its_standard(package, tmp_path):
    """Checked by frictionless, which knows Data Package and Table Schema."""
    folder = tmp_path / "unpacked"
    with zipfile.ZipFile(package) as archive:
        archive.extractall(folder)
    report = Package(str(folder / "datapackage.json")).validate()
    assert report.valid, report.flatten(["rowNumber", "fieldName", "message"])
    broken = (folder / "pulls.csv").read_text().replace("fresh,released,step,2.6", "fresh,x,x,x", 1)
    (folder / "pulls.csv").write_text(broken)
    assert not Package(str(folder / "datapackage.json")).validate().valid


def test_words_that_a_spreadsheet_would_run_are_guarded(package):
    rows = list(csv.DictReader(io.StringIO(contents(package)["pulls.csv"])))
    assert {row["kept_why"] for row in rows} == {"", "'=read off the video"}
    assert "'=1+1" in {row["notes"] for row in rows}


def test_into_a_store_that_is_there_only_new_pulls_go(package, lived, small_pulls, tmp_path):
    other = Store.create(tmp_path / "other", lived.campaign())
    other.add_pulls(small_pulls[8:12], "mine.csv")
    taken = import_package(package, other.folder)
    assert (taken.is_new, taken.added, taken.skipped) == (False, 11, 4)
    assert {pull.id for pull in other.pulls()} == {pull.id for pull in lived.pulls()}


def test_conflicts_are_listed_and_nothing_is_taken_in(package, lived, small_pulls, tmp_path):
    other = Store.create(tmp_path / "other", lived.campaign())
    mine = [small_pulls[8].model_copy(update={"notes": "mine"}), small_pulls[9]]
    other.add_pulls(mine, "mine.csv")
    with pytest.raises(FaultyFile) as caught:
        import_package(package, other.folder)
    [fault] = caught.value.faults
    assert "notes: mine → nothing" in fault.found
    assert other.pulls() == tuple(mine)


def test_another_campaign_is_a_conflict(package, small_campaign, tmp_path):
    other = Store.create(tmp_path / "other", small_campaign)
    with pytest.raises(InputError, match="about:  → later"):
        import_package(package, other.folder)
    assert other.pulls() == ()


def test_a_version_out_of_its_place_is_no_sound_package(package, tmp_path):
    files = contents(package)
    rows = files["pulls.csv"].splitlines(keepends=True)
    bad = files | {"pulls.csv": "".join([*rows, rows[1]])}
    with pytest.raises(InputError, match=r"version 1 of pull .* is not in its place"):
        import_package(written(tmp_path / "bad.zip", bad), tmp_path / "again")


def test_no_package_is_written_over_another_file(package, lived):
    before = package.read_bytes()
    with pytest.raises(InputError, match="is there already"):
        export_package(lived, package)
    assert package.read_bytes() == before


def test_where_it_cannot_be_written(lived, tmp_path):
    with pytest.raises(StoreError, match="could not be written"):
        export_package(lived, tmp_path / "no" / "such.zip")


BROKEN = {
    "no pulls": lambda files: {k: v for k, v in files.items() if k != "pulls.csv"},
    "no campaigns": lambda files: files | {"campaigns.json": "[]"},
    "campaigns that are no list": lambda files: files | {"campaigns.json": '{"a": 1}'},
    "campaigns cut off": lambda files: files | {"campaigns.json": files["campaigns.json"][:50]},
    "a campaign that is none": lambda files: (
        files | {"campaigns.json": '[{"campaign": {}, "stored_at": "2026-05-04"}]'}
    ),
    "no such campaign": lambda files: (
        files | {"pulls.csv": files["pulls.csv"].replace("false,1,", "false,9,")}
    ),
    "a time that is none": lambda files: (
        files | {"campaigns.json": files["campaigns.json"].replace("2026", "late", 1)}
    ),
    "no such column": lambda files: (
        files | {"pulls.csv": files["pulls.csv"].replace("stored_at", "stored", 1)}
    ),
    "a text that is none": lambda files: files | {"pulls.csv": "\0"},
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_package_that_is_damaged_leaves_nothing(name, package, tmp_path):
    bad = written(tmp_path / "bad.zip", BROKEN[name](contents(package)))
    with pytest.raises((InputError, FaultyFile)):
        import_package(bad, tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_a_pull_that_cannot_be_read_is_a_fault(package, tmp_path):
    files = contents(package)
    bad = files | {"pulls.csv": files["pulls.csv"].replace(",S6,", ",Q1,")}
    with pytest.raises(FaultyFile, match="Q1"):
        import_package(written(tmp_path / "bad.zip", bad), tmp_path / "again")


def test_what_is_a_package(package, tmp_path):
    assert holds_package(package)
    for name, content in {"a.csv": b"pull,anchor", "b.xlsx": b"PK\x03\x04", "c": b""}.items():
        (tmp_path / name).write_bytes(content)
        assert not holds_package(tmp_path / name)
    assert not holds_package(tmp_path / "missing.zip")


def test_half_a_package_is_told_as_such_and_not_as_a_store_that_is_not_there(package, tmp_path):
    half = tmp_path / "half.zip"
    half.write_bytes(package.read_bytes()[:200])
    assert holds_package(half)
    with pytest.raises(InputError, match=r"half\.zip is no sound data package"):
        import_package(half, tmp_path / "new")


def test_the_descriptor_says_that_the_data_are_invented(package):
    descriptor = json.loads(contents(package)["datapackage.json"])
    assert descriptor["description"].startswith("Invented data.")
    kinds = {f["name"]: f["type"] for f in descriptor["resources"][0]["schema"]["fields"]}
    assert (kinds["load_kn"], kinds["buried_m"], kinds["leader"]) == ("number", "string", "string")


def test_a_testers_own_columns_keep_their_names(filled, tmp_path):
    own = {"who": "Ada", "source": "log book", "revision": "b", "campaign": "spring"}
    pull = filled.pulls()[0].model_copy(update={"code": "77", "extras": own})
    filled.add_pulls([pull], "own.csv")
    export_package(filled, tmp_path / "own.zip")
    import_package(tmp_path / "own.zip", tmp_path / "again")
    assert Store.open(tmp_path / "again").history() == filled.history()


def test_a_column_called_like_one_of_the_package_is_refused(filled, tmp_path):
    pull = filled.pulls()[0].model_copy(update={"code": "77", "extras": {"kept_who": "Ada"}})
    filled.add_pulls([pull], "own.csv")
    with pytest.raises(InputError, match="'kept_who'"):
        export_package(filled, tmp_path / "own.zip")
    assert not (tmp_path / "own.zip").exists()


def test_every_column_of_a_log_has_its_meaning(small_pulls, small_campaign):
    """Else it would go out as one of the tester's own."""
    treatments = [treatment.name for treatment in small_campaign.treatments]
    headings = rows_of(small_pulls, small_campaign)[0]
    own = [f["name"] for f in fields_of(list(headings), treatments)
           if str(f.get("description", "")).startswith("The tester")]  # fmt: skip
    assert own == []


def test_flipped_bytes_are_refused_or_do_nothing(package, tmp_path):
    sound, rng = package.read_bytes(), random.Random(1)
    refused = 0
    for number in range(200):
        spoilt = bytearray(sound)
        spoilt[rng.randrange(len(spoilt))] ^= 1 << rng.randrange(8)
        (tmp_path / "bad.zip").write_bytes(spoilt)
        try:
            import_package(tmp_path / "bad.zip", tmp_path / f"into {number}")
        except InputError:
            refused += 1
            assert not (tmp_path / f"into {number}").exists()
    assert refused > 100


def test_a_file_in_it_that_leaves_the_folder_goes_nowhere(package, tmp_path):
    bad = written(tmp_path / "bad.zip", contents(package) | {"../evil": "x", "/evil": "x"})
    before = {one for one in tmp_path.rglob("*") if one.name == "evil"}
    import_package(bad, tmp_path / "deep" / "again")
    assert {one for one in tmp_path.rglob("*") if one.name == "evil"} == before == set()


def test_a_size_that_is_not_true_unpacks_to_no_more(package, tmp_path):
    """The size that a trap claims for a file is as much as is ever read of it."""
    files = contents(package) | {"campaigns.json": "[" + " " * 5_000_000 + "]"}
    with zipfile.ZipFile(tmp_path / "bad.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            archive.writestr(name, text)
        archive.getinfo("campaigns.json").file_size = 100  # as the directory at the end says it
    with pytest.raises(InputError, match="is no sound data package"):
        import_package(tmp_path / "bad.zip", tmp_path / "again")


def test_a_package_nested_deeper_than_can_be_read(package, tmp_path):
    files = contents(package) | {"campaigns.json": "[" * 100_000}
    with pytest.raises(InputError, match="nested deeper than can be read"):
        import_package(written(tmp_path / "deep.zip", files), tmp_path / "new")
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    ("bound", "most", "found"),
    [
        ("MOST_ROWS", 3, "more than 3 rows"),
        ("MAX_COLUMNS", 3, "more than 3 columns"),
        ("MOST_BYTES", {"datapackage.json": 100}, "unpacks to"),
    ],
)
def test_a_package_that_would_fill_the_memory(bound, most, found, package, tmp_path, monkeypatch):
    monkeypatch.setattr(package_reader, bound, most)
    with pytest.raises(InputError, match=found):
        import_package(package, tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_a_spreadsheets_way_to_write_true_keeps_a_pull_out(package, tmp_path):
    """Read as not removed, the pull that was taken out would be back."""
    files = contents(package)
    files["pulls.csv"] = (
        files["pulls.csv"].replace(",true,", ",TRUE,").replace(",false,", ",FALSE,")
    )
    assert ",TRUE," in files["pulls.csv"]
    import_package(written(tmp_path / "shouted.zip", files), tmp_path / "new")
    assert "day 1/2" not in {pull.id for pull in Store.open(tmp_path / "new").pulls()}


@pytest.mark.parametrize(
    ("spoilt", "found"),
    [
        (lambda text: text.replace(",true,", ",maybe,"), "neither true nor false"),
        (lambda text: "", "has no column kept_revision"),
        (
            lambda text: re.sub(r"[0-9T:.-]+\+00:00", "0001-01-01T00:00:00+14:00", text),
            "out of range",
        ),
    ],
)
def test_pulls_that_cannot_be_told_are_no_empty_package(spoilt, found, package, tmp_path):
    files = contents(package)
    files["pulls.csv"] = spoilt(files["pulls.csv"])
    with pytest.raises(InputError, match=found):
        import_package(written(tmp_path / "bad.zip", files), tmp_path / "new")
    assert not (tmp_path / "new").exists()
