"""A short fuzz of every importer, and files made to take all there is: one error, nothing stored.

The long run is `fuzz_importers.py`; what came of it stands in tests/RESULTS.md.
"""

import json

import fuzzed_files
import hostile_files
import importer_trials
import pytest
from fuzz_importers import RESULTS, rounds_of, run_round
from fuzzed_logs import DATA, zipped
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from importer_trials import ACCEPTED, STAGES, Ground

from app.cli import run
from model.base.errors import KedgewiseError
from model.ingest import log_file, rows, table, workbook
from model.ingest.cells import CellFault
from model.service import package_reader
from model.store.kept_facts import KeptFacts

pytestmark = pytest.mark.reliability

FILES = 40
"""Of each kind: with the giants well below the forty seconds that this may take."""
BAD = (DATA / "pulls.csv").read_bytes().replace(b"released,", b"dragged,", 1)


@pytest.fixture(scope="module")
def ground(tmp_path_factory):
    return Ground(tmp_path_factory.mktemp("ground"))


@pytest.mark.parametrize("kind", STAGES)
def test_spoilt_files(kind, ground):
    """Anything wrong fails with the file made as small as it can be."""
    reached = set()

    @settings(
        max_examples=FILES,
        database=None,
        deadline=None,
        derandomize=True,
        phases=[Phase.generate, Phase.shrink],
        suppress_health_check=list(HealthCheck),
    )
    @given(content=ground.strategy(kind), is_new=st.booleans())
    def one(content, is_new):
        outcome = ground.try_one(kind, content, is_new=is_new, is_traced=False)
        reached.add(outcome.stage)
        assert not outcome.wrong, outcome.wrong

    one()
    assert {STAGES[kind][-2][0], ACCEPTED} & reached  # not all stop at the door


LOGS = ("100,000 columns", "a giant cell", "many short rows", "very many signs", "giant digits")
BOOKS = ("a bomb", "many cells", "one giant cell", "a dimension without end")
CAMPAIGNS = ("brackets", "dotted", "headings", "a giant whole number", "unknown keys")


@pytest.mark.parametrize(
    ("kind", "name", "made"),
    [
        *(("csv", name, hostile_files.LOGS[name]) for name in LOGS),
        *(("xlsx", name, hostile_files.WORKBOOKS[name]) for name in BOOKS),
        *(("toml", name, hostile_files.CAMPAIGNS[name]) for name in CAMPAIGNS),
    ],
)
def test_a_file_made_to_take_all_there_is(kind, name, made, ground):
    content = made()
    outcome = ground.try_one(
        kind,
        content.encode() if isinstance(content, str) else content,
        is_new=False,
        is_traced=kind != "toml",  # tracing takes longer than the import
    )
    assert isinstance(outcome.error, KedgewiseError)
    assert not outcome.wrong


PACKAGES = (
    *("a bomb", "many lists", "many short rows", "many wide rows", "giant digits"),
    *("very many names that hide", "very many names taken apart"),
    *("very many values that are no names", "a descriptor of lists"),
)


@pytest.mark.parametrize("name", PACKAGES)
def test_a_package_made_to_take_all_there_is(name, ground):
    content = hostile_files.packages_from(ground.package)[name]()
    outcome = ground.try_one("package", content, is_new=True)
    assert isinstance(outcome.error, KedgewiseError)
    assert not outcome.wrong


# --- with its mechanism removed ---------------------------------------------------------------


def test_the_fuzz_sees_a_traceback(ground, monkeypatch):
    monkeypatch.setattr(rows, "CellFault", ZeroDivisionError)
    content = (DATA / "pulls.csv").read_bytes().replace(b"3.9", b"x", 1)
    outcome = ground.try_one("csv", content, is_new=False)
    assert "a traceback: CellFault" in outcome.wrong
    assert isinstance(outcome.error, CellFault)


def test_the_fuzz_sees_it_in_a_round(ground, monkeypatch):
    monkeypatch.setattr(package_reader, "_NOT_OURS", (KeyError,))
    found = run_round(ground, "package", 1, 40)
    assert any("a traceback" in each["wrong"] for each in found["wrong"])


def test_the_fuzz_sees_half_an_import(ground, monkeypatch):
    """Pulls stored one by one, in transactions of their own, before the fault of a later one."""
    real = KeptFacts.add_pulls

    def one_by_one(self, pulls, source, **more):
        for pull in pulls:
            done = real(self, [pull], source, **more)
        return done

    head, *lines = (DATA / "pulls.csv").read_bytes().split(b"\n")
    fresh = lines[0].replace(b"1,", b"91,", 1)
    changed = lines[4].replace(b"0.4 kg", b"none")  # it is stored with other content
    content = b"\n".join([head, fresh, changed, b""])
    assert "was changed" not in ground.try_one("csv", content, is_new=False).wrong
    monkeypatch.setattr(KeptFacts, "add_pulls", one_by_one)
    assert "was changed" in ground.try_one("csv", content, is_new=False).wrong


@pytest.mark.parametrize(
    ("kind", "guard", "content"),
    [
        ("csv", (table, "MAX_ROWS"), (hostile_files.HEADER + "1\n" * 6_000).encode()),
        ("xlsx", (workbook, "MOST_MARKS"), hostile_files.sheet(
            ("<row>" + "<c><v>1</v></c>" * 40 + "</row>") * 150
        )),
    ],
)  # fmt: skip
def test_the_fuzz_sees_what_takes_too_much(kind, guard, content, ground, monkeypatch):
    """Bound and file made small alike: with the bound away the file takes more than it may."""
    monkeypatch.setattr(importer_trials, "MOST_MEGABYTES", 2.0)
    monkeypatch.setattr(*guard, 1000)
    assert not ground.try_one(kind, content, is_new=False).wrong
    monkeypatch.setattr(*guard, 10**9)
    assert "MB" in ground.try_one(kind, content, is_new=False).wrong


def test_the_fuzz_sees_a_package_that_takes_too_much(ground, monkeypatch):
    whole = json.loads(ground.package["campaigns.json"])
    whole[-1]["campaign"]["treatments"][0]["levels"] = [1] * 20_000
    members = ground.package | {"campaigns.json": json.dumps(whole).encode()}
    content = zipped(list(members.items()))
    monkeypatch.setattr(importer_trials, "MOST_MEGABYTES", 4.0)
    monkeypatch.setattr(package_reader, "MOST_VALUES", 1000)
    assert not ground.try_one("package", content, is_new=False).wrong
    monkeypatch.setattr(package_reader, "MOST_VALUES", 10**9)
    assert "MB" in ground.try_one("package", content, is_new=False).wrong


def test_most_spoilt_packages_get_past_the_descriptor(ground, monkeypatch):
    """Else the fuzz would try the door alone, as it would with spoilt descriptors only."""

    def deep():
        stages = run_round(ground, "package", 1, 100)["stages"]
        assert stages["descriptor"] > 0  # spoilt ones are among them
        return 1 - sum(stages[name] for name in ("file", "opened", "descriptor")) / 100

    assert deep() > 0.6
    monkeypatch.setattr(fuzzed_files, "PACKAGE_CHANGES", ("descriptor",))
    assert deep() < 0.6


# --- at the command line ----------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["csv", "xlsx", "toml", "package"])
def test_the_command_line_says_it_once_and_ends_with_2(kind, ground, capsys, monkeypatch):
    monkeypatch.setenv("KEDGEWISE_STORE", str(ground.store))
    contents = {
        "csv": ("bad.csv", BAD),
        "xlsx": ("bad.xlsx", b"PK\x03\x04" + b"\0" * 99),
        "toml": ("bad.toml", b"name = "),
        "package": ("bad.zip", hostile_files.packages_from(ground.package)["giant digits"]()),
    }
    name, content = contents[kind]
    path = ground.folder / name
    path.write_bytes(content)
    assert run(["new" if kind == "toml" else "import", str(path), "--json"]) == 2
    said = capsys.readouterr()
    assert json.loads(said.out)["error"]
    assert said.err.count("error: ") == 1
    assert "Traceback" not in said.err


def test_the_stages_are_watched(ground):
    """A stage that nothing enters any more would make the depth a story."""
    sound = {
        "csv": (DATA / "pulls.csv").read_bytes(),
        "toml": (DATA / "campaign.toml").read_bytes(),
        "package": (ground.folder / "sound.zip").read_bytes(),
    }
    for kind, content in sound.items():
        outcome = ground.try_one(kind, content, is_new=kind == "package")
        assert (outcome.stage, outcome.wrong) == (ACCEPTED, "")
    assert log_file.read_row.__name__ == "read_row"  # and put back as it was


def test_the_long_run_found_nothing_wrong():
    """Of the rounds whose results are kept."""
    kept = [json.loads(path.read_text("utf-8")) for path in sorted(RESULTS.glob("*.json"))]
    assert {(each["kind"], each["seed"]) for each in kept} <= set(rounds_of(20_000, 1))
    assert all(each["wrong"] == [] and each["files"] == 500 for each in kept)
