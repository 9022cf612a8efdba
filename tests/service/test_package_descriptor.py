"""What a package's descriptor says is held against what is written, and must be what is read."""

import json

import pytest
from frictionless import Package
from package_files import contents, written

from model.base.errors import InputError
from model.service import package_descriptor, package_reader
from model.service.package_descriptor import HISTORY_NAMES, described_columns
from model.service.packages import export_package, import_package
from model.store.store import Store


@pytest.fixture
def described(package, tmp_path):
    """The package with its descriptor changed in place."""

    def changed(change):
        files = contents(package)
        descriptor = json.loads(files["datapackage.json"])
        change(descriptor)
        text = json.dumps(descriptor)
        return written(tmp_path / "changed.zip", files | {"datapackage.json": text})

    return changed


def schema(descriptor):
    return descriptor["resources"][0]["schema"]


def field(descriptor, name):
    return next(one for one in schema(descriptor)["fields"] if one["name"] == name)


def without(name):
    def change(descriptor):
        schema(descriptor)["fields"].remove(field(descriptor, name))

    return change


def a_field(name, /, **keys):
    return lambda descriptor: field(descriptor, name).update(keys)


CONTRADICTING = {
    "no resources": (
        lambda descriptor: descriptor.pop("resources"),
        "datapackage.json: resources: Field required",
    ),
    "resources that are none": (
        lambda descriptor: descriptor.update(resources="pulls.csv"),
        "datapackage.json: resources: Input should be a valid array",
    ),
    "no pulls": (
        lambda descriptor: descriptor["resources"].pop(0),
        "no resource 'pulls'",
    ),
    "no campaigns": (
        lambda descriptor: descriptor["resources"].pop(1),
        "no resource 'campaigns'",
    ),
    "another file": (
        lambda descriptor: descriptor["resources"][0].update(path="pulls-2.csv"),
        "the path of the resource 'pulls' is 'pulls-2.csv', and must be 'pulls.csv'",
    ),
    "another encoding": (
        lambda descriptor: descriptor["resources"][0].update(encoding="latin-1"),
        "the encoding of the resource 'pulls' is 'latin-1', and must be 'utf-8'",
    ),
    "no schema": (
        lambda descriptor: descriptor["resources"][0].pop("schema"),
        "no schema of the resource 'pulls'",
    ),
    "no fields": (
        lambda descriptor: schema(descriptor).pop("fields"),
        r"resources\.0\.schema\.fields: Field required",
    ),
    "another key": (
        lambda descriptor: schema(descriptor).update(primaryKey=["pull"]),
        r"the primary key of pulls is .\['pull'\]., and must be",
    ),
    "a word for missing": (
        lambda descriptor: schema(descriptor).update(missingValues=["", "-"]),
        "what stands for a missing value is",
    ),
    "no such field": (
        without("kept_is_removed"),
        "datapackage.json: no field 'kept_is_removed'",
    ),
    "a field of the log not said": (
        without("load_kn"),
        "pulls.csv has a column 'load_kn', which datapackage.json does not list",
    ),
    "a field that is not there": (
        lambda descriptor: schema(descriptor)["fields"].append({"name": "tide", "type": "string"}),
        "pulls.csv has no column tide",
    ),
    "a field under another name": (
        a_field("load_kn", name="load_lbf", type="string"),
        "pulls.csv has no column load_lbf",
    ),
    "a field twice": (
        lambda descriptor: schema(descriptor)["fields"].append(field(descriptor, "pull")),
        "the field 'pull' stands twice",
    ),
    "a field without a name": (
        lambda descriptor: field(descriptor, "load_kn").pop("name"),
        "a field without a name",
    ),
    "another type": (
        a_field("load_kn", type="string"),
        "the type of the field 'load_kn' is 'string', and must be 'number'",
    ),
    "another type of the history": (
        a_field("kept_revision", type="string"),
        "the type of the field 'kept_revision' is 'string', and must be 'integer'",
    ),
    "another type of a level": (
        a_field("leader", type="integer"),
        "the type of the field 'leader' is 'integer', and must be 'string'",
    ),
    "no type": (
        lambda descriptor: field(descriptor, "load_kn").pop("type"),
        "the type of the field 'load_kn' is not said, and must be 'number'",
    ),
    "a decimal comma": (
        a_field("load_kn", decimalChar=","),
        "decimalChar of the field 'load_kn' is ',', and must be '.'",
    ),
    "a newer version": (
        lambda descriptor: descriptor.update(version="2.0.0"),
        r"changed\.zip, datapackage\.json: the package is of version '2.0.0', and this",
    ),
    "a version that is none": (
        lambda descriptor: descriptor.update(version=2),
        "datapackage.json: version: Input should be a valid string",
    ),
}


@pytest.mark.parametrize("name", CONTRADICTING)
def test_a_descriptor_that_says_otherwise(name, described, lived, tmp_path, monkeypatch):
    change, found = CONTRADICTING[name]
    bad, before = described(change), lived.history()
    for folder in (tmp_path / "new", lived.folder):
        with pytest.raises(InputError, match=found) as caught:
            import_package(bad, folder)
        assert caught.value.hint.startswith("Nothing of it was stored.")
    assert not (tmp_path / "new").exists()
    assert lived.history() == before
    # As it was before anything was read of it.
    monkeypatch.setattr(package_reader, "described_columns", lambda *_: ())
    monkeypatch.setattr(package_reader, "require_described", lambda *_: None)
    assert import_package(bad, tmp_path / "new").is_new


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (None, "it lacks datapackage.json"),
        ("", r"datapackage\.json: it is no JSON \(EOF"),
        ("{", r"datapackage\.json: it is no JSON \(EOF"),
        ("[" * 100_000, r"datapackage\.json: it is no JSON \(recursion"),
        ("9" * 5000, r"datapackage\.json: it is no JSON \(number out of range"),
        ("[]", r"datapackage\.json: it: Input should be an object"),
        ("\0", r"bad\.zip, datapackage\.json, line 1: a NUL byte"),
    ],
)
def test_a_descriptor_that_is_none(text, found, package, tmp_path):
    files = contents(package)
    del files["datapackage.json"]
    files |= {} if text is None else {"datapackage.json": text}
    with pytest.raises(InputError, match=found):
        import_package(written(tmp_path / "bad.zip", files), tmp_path / "new")
    assert not (tmp_path / "new").exists()


HARMLESS = {
    "as it was before its version was said": lambda descriptor: descriptor.pop("version"),
    "a later version that reads the same": lambda descriptor: descriptor.update(version="1.4.0"),
    "title and description": lambda descriptor: descriptor.update(title="Mine", description=""),
    "no title": lambda descriptor: descriptor.pop("title"),
    "keys of others": lambda descriptor: descriptor.update(
        licenses=[{"name": "CC0-1.0"}], keywords=["anchors"], profile="data-package"
    ),
    "keys of a resource": lambda descriptor: descriptor["resources"][0].update(bytes=1, hash="x"),
    "another file besides": lambda descriptor: descriptor["resources"].append(
        {"name": "photos", "path": ["a.jpg", "b.jpg"]}
    ),
    "a field described": a_field("load_kn", title="Load", description="kN", format="default"),
    "fields in another order": lambda descriptor: schema(descriptor)["fields"].reverse(),
    "usual missing values": lambda descriptor: schema(descriptor).update(missingValues=[""]),
    "capitals": lambda descriptor: descriptor["resources"][0].update(encoding="UTF-8"),
}


@pytest.mark.parametrize("name", HARMLESS)
def test_a_descriptor_that_differs_in_what_does_not_matter(name, described, lived, tmp_path):
    import_package(described(HARMLESS[name]), tmp_path / "new")
    assert Store.open(tmp_path / "new").history() == lived.history()


def test_a_column_of_pulls_that_stands_twice(package, tmp_path, monkeypatch):
    """Only one of the two would be read."""
    files = contents(package)
    head, _, rest = files["pulls.csv"].partition("\n")
    rows = [f"{row},x" for row in rest.splitlines()]
    bad = written(
        tmp_path / "bad.zip", files | {"pulls.csv": "\n".join([f"{head},kept_who", *rows, ""])}
    )
    with pytest.raises(InputError, match=r"pulls\.csv has the column 'kept_who' twice"):
        import_package(bad, tmp_path / "new")
    monkeypatch.setattr(package_reader, "require_described", lambda *_: None)
    assert import_package(bad, tmp_path / "new").is_new


def test_the_descriptor_of_own_columns_is_its_own(filled, tmp_path):
    """Guarded names, and names that only a tester's log has."""
    pull = filled.pulls()[0].model_copy(update={"code": "77", "extras": {"=tide": "low"}})
    filled.add_pulls([pull], "own.csv")
    export_package(filled, tmp_path / "own.zip")
    columns = described_columns(contents(tmp_path / "own.zip")["datapackage.json"], "own.zip")
    assert "=tide" in columns
    import_package(tmp_path / "own.zip", tmp_path / "new")
    assert Store.open(tmp_path / "new").history() == filled.history()


@pytest.mark.parametrize("is_early", [False, True])
def test_a_store_without_a_pull_goes_out_and_in_again(is_early, store, tmp_path):
    export_package(store, tmp_path / "empty.zip")
    files = contents(tmp_path / "empty.zip")
    if is_early:  # its columns were those of the history alone
        descriptor = json.loads(files["datapackage.json"])
        del descriptor["version"]
        fields = schema(descriptor)["fields"]
        schema(descriptor)["fields"] = [one for one in fields if one["name"] in HISTORY_NAMES]
        files["datapackage.json"] = json.dumps(descriptor)
        files["pulls.csv"] = ",".join(HISTORY_NAMES) + "\n"
    else:
        folder = tmp_path / "unpacked"
        folder.mkdir()
        for name, text in files.items():
            (folder / name).write_text(text)
        assert Package(str(folder / "datapackage.json")).validate().valid
    import_package(written(tmp_path / "again.zip", files), tmp_path / "new")
    assert Store.open(tmp_path / "new").history() == store.history()


def test_an_endless_list_of_fields(described, tmp_path, monkeypatch):
    def change(descriptor):
        schema(descriptor)["fields"] += [{"name": f"c{i}", "type": "string"} for i in range(500)]

    with pytest.raises(InputError, match="more than 500 fields"):
        import_package(described(change), tmp_path / "new")
    monkeypatch.setattr(package_descriptor, "MAX_COLUMNS", 10_000)
    with pytest.raises(InputError, match="has no column c0, c1, c2"):
        import_package(described(change), tmp_path / "new")
