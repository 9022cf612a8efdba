"""Whatever a file holds, it comes out as records or as an error that says what to do."""

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.base.errors import FaultyFile, InputError
from model.ingest.campaign_file import CampaignReading, read_campaign_text
from model.ingest.log_file import LogReading, read_log, read_log_text
from model.ingest.setup_text import parse_band, parse_setup
from model.records.question import Band, SetUp

HEADINGS = [
    *("pull", "outing", "date", "time", "seabed", "site", "anchor", "leader", "scope", "rode_m"),
    *("depth_ft", "bite", "start", "ending", "reading", "step", "load_kn", "last_held_kn"),
    *("held_s", "start_kn", "resolution_lbf", "mode", "camera", "buried_m", "signs", "soak_min"),
    *("notes", "reason", "", "own"),
]
CELLS = st.sampled_from(
    [
        *("", "1", "2", "0", "-1", "1e9", "nan", "2.6", "6.2", "3", "3.9", "99", "1" * 40, "٣"),
        *("day 1", "day 2", "old sheet", "S6", "W8", "firm sand", "soft mud", "north spit"),
        *("released", "held", "never set", "stopped", "void", "released then stopped"),
        *("fresh", "after slip", "after turn", "step", "peak", "900 rpm", "wire 2 m", "yes"),
        *(">0.9", "<", "±", "0.6±", "marker under=yes", "marker under=yes|", "=cmd()", "'=1"),
        *("2026-05-03", "09:10", "5:1", "\n", '"', ",", ";"),
    ]
)


def check_errors(error: InputError) -> None:
    assert str(error)
    if isinstance(error, FaultyFile):
        assert error.faults
        assert all(fault.found and fault.remedy for fault in error.faults)
    else:
        assert error.hint


@settings(max_examples=300, deadline=None)
@given(
    headings=st.lists(st.sampled_from(HEADINGS), max_size=14, unique=True),
    rows=st.lists(st.lists(CELLS | st.text(max_size=8), max_size=14), max_size=5),
    fills=st.booleans(),
    delimiter=st.sampled_from(",;"),
)
def test_any_rows(hollow_sound, headings, rows, fills, delimiter) -> None:
    needed = ["pull", "outing", "anchor", "seabed", "ending", "load_kn"] if fills else []
    header = list(dict.fromkeys([*needed, *headings]))
    file = io.StringIO(newline="")
    writer = csv.writer(file, delimiter=delimiter)
    writer.writerow(header)
    good = ["1", "day 1", "S6", "firm sand", "released", "2.6"]
    for row in rows:
        writer.writerow((good + row + [""] * 40)[: len(header)] if fills else row)
    try:
        reading = read_log_text(file.getvalue(), "log.csv", hollow_sound)
    except InputError as error:
        check_errors(error)
    else:
        assert isinstance(reading, LogReading)


@settings(max_examples=200, deadline=None)
@given(
    content=st.binary(max_size=300)
    | st.text(max_size=300).map(lambda t: t.encode("utf-8", "replace"))
)
def test_any_bytes(hollow_sound, tmp_path_factory, content: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_log(path, hollow_sound)
    check_errors(caught.value)


VALUES = st.sampled_from(
    [
        *("1", "-1", "nan", "1e400", "true", '""', '"x"', "[]", "[1]", '["a", 1]', "{}"),
        *("{a = 1}", "2026-05-03", "2026-05-03T10:00:00", "[{}]", '"S6"', "9" * 400),
    ]
)


@settings(max_examples=200, deadline=None)
@given(edits=st.lists(st.tuples(st.integers(0, 200), VALUES), min_size=1, max_size=4))
def test_any_value_of_a_campaign(data, edits: list[tuple[int, str]]) -> None:
    lines = (data / "campaign.toml").read_text(encoding="utf-8").split("\n")
    for place, value in edits:
        key, equals, _ = lines[place % len(lines)].partition(" = ")
        if equals and not key.startswith((" ", "#")):
            lines[place % len(lines)] = f"{key} = {value}"
    try:
        reading = read_campaign_text("\n".join(lines), "campaign.toml")
    except InputError as error:
        check_errors(error)
    else:
        assert isinstance(reading, CampaignReading)


@settings(max_examples=150, deadline=None)
@given(text=st.text(max_size=60) | st.text(alphabet="[]{}=\"'.#\nab1 ,", max_size=60))
def test_any_campaign(text: str) -> None:
    with pytest.raises(InputError) as caught:
        read_campaign_text(text, "campaign.toml")
    check_errors(caught.value)


@settings(max_examples=200, deadline=None)
@given(text=st.text(max_size=30) | st.text(alphabet="anchor=S6,lead scope.5±-", max_size=40))
def test_any_setup_or_band(hollow_sound, text: str) -> None:
    for parse, kind in ((lambda t: parse_setup(t, hollow_sound), SetUp), (parse_band, Band)):
        try:
            assert isinstance(parse(text), kind)
        except InputError as error:
            check_errors(error)


def test_deeply_nested_campaign() -> None:
    with pytest.raises(InputError):
        read_campaign_text("a = " + "[" * 100_000, "campaign.toml")


def test_fuzz_sees_a_traceback(hollow_sound, monkeypatch) -> None:
    """With the catch of cell faults gone, the same rows let one out."""
    monkeypatch.setattr("model.ingest.rows.CellFault", ZeroDivisionError)
    text = "pull,outing,anchor,seabed,ending,load_kn\n1,day 1,S6,firm sand,released,abc\n"
    with pytest.raises(Exception, match="'abc' is not a number") as caught:
        read_log_text(text, "log.csv", hollow_sound)
    assert not isinstance(caught.value, InputError)
