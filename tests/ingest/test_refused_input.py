"""What nobody can have meant is refused, at once and in words: figures, names, whole files."""

import time
from pathlib import Path

import pytest

from model.base.errors import FaultyFile, InputError
from model.ingest.campaign_file import read_campaign, read_campaign_text
from model.ingest.log_file import read_log
from model.ingest.setup_text import parse_band
from model.ingest.text_file import printable, read_text

HUGE = "0x" + "f" * 5000
"""An integer of more digits than the interpreter writes out."""

# name: (piece of the campaign file, put so, column, found, remedy)
CAMPAIGNS = {
    "a number of very many digits": (
        "top_thrust = 6.2",
        f"top_thrust = {HUGE}",
        "boats[1].top_thrust",
        "'a number of very many digits' is no number",
        "without quotes",
    ),
    "such a number for a name": (
        'name = "north spit"',
        f"name = {HUGE}",
        "sites[1].name",
        "'a number of very many digits' is no text",
        "in quotes",
    ),
    "such a number for a band": (
        'band = "±0.15"',
        f"band = {HUGE}",
        "questions[2].band",
        "very many digits",
        "±0.10",
    ),
    "such a number for a set-up": (
        'b = "anchor=S6, leader=chain only"',
        f"b = {HUGE}",
        "questions[1].b",
        "very many digits",
        "anchor=S6",
    ),
    "such a number for the steps": (
        "steps = [0.5, 1.0",
        f"steps = {HUGE} # [0.5, 1.0",
        "ladders.uneven.steps",
        "is no list of steps",
        "[0.5, 1.0, 1.5]",
    ),
    "a key of very many parts": (
        'class = "mud"',
        "a" + ".a" * 20_000 + " = 1",
        None,
        "a key of more than 50 parts",
        "[section]",
    ),
    "a key of very many quoted parts": (
        'class = "mud"',
        "x = { 'a'" + ' . "a.b"' * 60 + " = 1 }",
        None,
        "a key of more than 50 parts",
        "[section]",
    ),
    "a label that is another step's load": (
        'label = "900 rpm"',
        'label = "2.9"',
        "ladders.revs.steps[1]",
        "the label '2.9', which reads as the step 2.9 kN",
        "900 rpm",
    ),
    "a band wider than the scale": (
        'band = "±0.15"',
        'band = "±7"',
        "questions[2].band",
        "between -1 and 1: five points are written 0.05",
        "±0.10",
    ),
    "an outing with a slash": (
        'name = "day 2"',
        'name = "day/2"',
        "outings[2].name",
        "'day/2'",
        "must not hold '/'",
    ),
    "a question's name with a line break": (
        'main_question = "leader on S6"',
        '[[questions]]\nname = "a\\nb"\na = "anchor=S6"\nb = "anchor=W8"\n[x]',
        "questions[1].name",
        "'a\\nb'",
        "on one line",
    ),
    "a seabed twice in a question": (
        'seabeds = ["firm sand", "soft mud"]',
        'seabeds = ["soft mud", "soft mud"]',
        "questions[2]",
        "named twice",
        "Put this table right",
    ),
    "the next anchor beside a named one": (
        'measure = "typical"',
        'measure = "typical"\nover = "next"',
        "questions[1]",
        "names no anchor",
        "Put this table right",
    ),
}

# name: (piece of the campaign file, put so, column, found, remedy); nothing else is at fault
ALONE = {
    "a dwell of nothing": (
        "dwell_s = 15\nfinal_hold_s = 60\nsteps = [0.5",
        "dwell_s = 0\nfinal_hold_s = 60\nsteps = [0.5",
        "ladders.uneven.dwell_s",
        "0 is out of range",
        "Write 0.001 to 3600",
    ),
    "a dwell of nothing at one step": (
        "dwell_s = 20",
        "dwell_s = -20",
        "ladders.revs.steps[3].dwell_s",
        "-20 is out of range",
        "Write 0.001 to 3600",
    ),
    "a final hold of nothing": (
        "final_hold_s = 60",
        "final_hold_s = 0",
        "ladders.uneven.final_hold_s",
        "0 is out of range",
        "Write 0.001 to 86400",
    ),
    "a day that is not": (
        "date = 2026-05-04",
        "date = 2026-02-30",
        "outings[2].date",
        "2026-02-30 is no day or time that there is",
        "Write a day of the calendar, as 2026-05-03",
    ),
    "a month that is not": (
        "since = 2026-01-15",
        "since = 2026-13-15",
        "anchors[2].since",
        "2026-13-15 is no day",
        "Write a day of the calendar",
    ),
    "a day of too few digits": (
        "date = 2026-05-04",
        "date = 2026-5-4",
        "outings[2].date",
        "2026-5-4 is no day",
        "as 2026-05-03",
    ),
    "a year whose digits were mistaken": (
        "date = 2026-05-04",
        "date = 0026-05-04",
        "outings[2].date",
        "0026-05-04 is in the year 26",
        "Write a day of the years 1900 to 2100",
    ),
    "a year far ahead": (
        "since = 2026-01-15",
        "since = 2926-01-15",
        "anchors[2].since",
        "2926-01-15 is in the year 2926",
        "Write a day of the years 1900 to 2100",
    ),
    "a load that everything holds": (
        "hold = 4.0",
        "hold = 0",
        "questions[2].hold",
        "0 kN is no load that can be held",
        "Write 0.001 kN to 1000 kN",
    ),
    "a load that nothing holds": (
        "hold = 4.0",
        "hold = 1e308",
        "questions[2].hold",
        "1e+308 kN is no load that can be held",
        "Write 0.001 kN to 1000 kN",
    ),
}


@pytest.mark.parametrize("name", ALONE)
def test_campaign_has_this_fault_alone(name: str, data: Path) -> None:
    old, new, column, found, remedy = ALONE[name]
    text = (data / "campaign.toml").read_text(encoding="utf-8")
    assert old in text
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text(text.replace(old, new, 1), "campaign.toml")
    (fault,) = caught.value.faults
    assert fault.column == column
    assert found in fault.found
    assert remedy in fault.remedy


def test_a_day_that_is_not_is_shown_with_its_line() -> None:
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text('name = "x"\nx = [\n  2026-05-03, 2026-06-31T10:00:00]\n', "x.toml")
    (fault,) = caught.value.faults
    assert (fault.line, fault.found[:19]) == (3, "2026-06-31T10:00:00")


@pytest.mark.parametrize("name", CAMPAIGNS)
def test_campaign_is_refused(name: str, data: Path) -> None:
    old, new, column, found, remedy = CAMPAIGNS[name]
    text = (data / "campaign.toml").read_text(encoding="utf-8")
    assert old in text
    begun = time.perf_counter()
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text(text.replace(old, new, 1), "campaign.toml")
    assert time.perf_counter() - begun < 2
    faults = [fault for fault in caught.value.faults if fault.column == column]
    assert any(found in fault.found and remedy in fault.remedy for fault in faults)


def test_long_keys_are_not_seen_where_there_are_none(data: Path) -> None:
    text = (data / "campaign.toml").read_text(encoding="utf-8")
    prose = "A made-up bay. " * 200 + "." * 200 + ", ".join(["0.5"] * 200)
    text = text.replace('about = "', f'about = """\n{prose}\n"""\n#"', 1)
    assert read_campaign_text(text, "campaign.toml").campaign.about.startswith("A made-up bay.")


def test_an_empty_list_of_what_is_needed() -> None:
    text = 'name = "Bare"\nseabeds = []\n[[boats]]\nname = "b"\ntop_thrust = 6\n'
    text += '[[outings]]\nname = "d"\nladder = "unknown"\n[[anchors]]\ncode = "S6"\nmass_kg = 6\n'
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text(text, "bare.toml")
    (fault,) = caught.value.faults
    assert (fault.found, fault.remedy) == ("no seabeds", "Add [[seabeds]]")


def test_one_row_over_and_over_is_one_fault_a_row_and_soon_said(rows, faults) -> None:
    begun = time.perf_counter()
    found = faults(rows(*({"notes": str(number)} for number in range(20_000))))
    assert time.perf_counter() - begun < 20  # each compared with all took minutes
    assert len(found) == 19_999
    assert {fault.found for fault in found} == {
        "bite 1 of pull 1 of day 1 stands in line 2 already"
    }


def test_peak_above_the_boats_thrust_is_said(rows, reads) -> None:
    high = {"reading": "peak", "load_kn": "8.1"}
    said = "Peaks above the boat's top thrust, used as written: line 3."
    assert said in reads(rows({}, {"pull": "2"} | high)).notes


@pytest.mark.parametrize("peak_kn", ["6.1", "5.2"])
def test_held_peak_about_the_top(peak_kn: str, rows, reads) -> None:
    held = {"reading": "peak", "ending": "held", "load_kn": peak_kn}
    assert reads(rows(held)).pulls[0].bites[0].load_kn == float(peak_kn)


def test_more_digits_than_a_cell_is_good_for(rows, reads) -> None:
    peak = {"outing": "day 1", "reading": "peak", "load_kn": "2.612345678"}
    assert reads(rows(peak)).pulls[0].bites[0].resolution_kn == 1e-4


def test_length_at_the_very_limit(rows, reads) -> None:
    # 100 m in inches: rounding may take it just above 100 m again.
    (pull,) = reads(rows({"buried_in": "3937.0078740157483"})).pulls
    assert pull.bites[0].buried.length_m == 100.0


def test_very_long_cell(rows, faults) -> None:
    (fault,) = faults(rows({"notes": "n" * 131_073}))
    assert "a cell of more than 131072 characters" in fault.found
    assert fault.remedy.startswith("Shorten it")


@pytest.mark.parametrize(
    ("content", "found"),
    [
        ("a,b\n".encode("utf-32"), "UTF-32 text"),
        ("a,b\n".encode("utf-16"), "UTF-16 text"),
        (b"a,b\n1,2\n\xef\xbb\xbfa,b\n", "a byte order mark at the beginning of a line (byte 7)"),
    ],
)
def test_files_of_other_encodings_or_two_in_one(content: bytes, found: str, tmp_path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    with pytest.raises(FaultyFile) as caught:
        read_text(path)
    (fault,) = caught.value.faults
    assert found in fault.found
    assert fault.line == (3 if "mark" in found else 1)


@pytest.mark.parametrize(
    "content", [b"a = \xff", b"\xff\xfea", b"PK\x03\x04", b"a = 1\0", b"a" * 3_000_000]
)
def test_campaign_file_is_not_told_of_spreadsheets(content: bytes, tmp_path) -> None:
    path = tmp_path / "campaign.toml"
    path.write_bytes(content)
    with pytest.raises(FaultyFile) as caught:
        read_campaign(path)
    said = f"{caught.value.faults[0].remedy} {caught.value.hint}"
    assert "CSV" not in said
    assert "the log" not in said
    assert "Nothing was made of this file" in said


def test_a_file_without_end_is_read_to_the_limit_only(monkeypatch, tmp_path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("x" * 50)
    # As a pipe or device tells it: no size.
    sizes = type("Sizes", (), {"st_size": 0, "st_mode": 0o020666})
    monkeypatch.setattr(Path, "stat", lambda _path, **_: sizes)
    with pytest.raises(FaultyFile, match=r"over 1e-05 MB"):
        read_text(path, max_bytes=10)


def test_name_of_a_file_that_is_no_text(hollow_sound) -> None:
    path = Path("nowhere") / "log\udcff.csv"
    assert printable(path) == "log\\udcff.csv"
    with pytest.raises(InputError) as caught:
        read_log(path, hollow_sound)
    assert str(caught.value).encode("utf-8")


@pytest.mark.parametrize("text", ["±7", "±1", "-7..7", "-0.1..1"])
def test_band_wider_than_the_scale(text: str) -> None:
    with pytest.raises(InputError, match=r"five points are written 0\.05"):
        parse_band(text)
