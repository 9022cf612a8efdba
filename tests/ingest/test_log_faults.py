"""Every bad entry has its fault: line, column, what was found, what would do."""

import pytest

from model.base.errors import PRINTED_FAULTS, FaultyFile

PLAIN = {"pull": "1", "outing": "day 1", "anchor": "S6", "seabed": "firm sand"}
NEVER = {"ending": "never set", "load_kn": ""}
SLIP = {"bite": "2", "start": "after slip"}
TURN = {"bite": "2", "start": "after turn"}
PEAK = {"reading": "peak"}
OLD = {"outing": "old sheet", "seabed": "soft mud"}

# name: (second row of the file, column, words in what was found, words in the remedy)
ONE_ROW = {
    "a load that is a word": ({"load_kn": "abc"}, "load_kn", "'abc' is not a number", "digits"),
    "no load": ({"load_kn": ""}, "load_kn", "released, and no load", "at which it let go"),
    "a load of nothing": ({"load_kn": "0"}, "load_kn", "a load of 0", "never set"),
    "a negative load": ({"load_kn": "-3"}, "load_kn", "'-3' is out of range", "0 to 1000"),
    "an exponent": ({"load_kn": "1e9"}, "load_kn", "'1e9' is not a number", "3.9"),
    "not a number": ({"load_kn": "nan"}, "load_kn", "'nan' is not a number", "3.9"),
    "infinity": ({"load_kn": "inf"}, "load_kn", "'inf' is not a number", "3.9"),
    "a unit in the cell": ({"load_kn": "2.6 kN"}, "load_kn", "is not a number", "digits only"),
    "a peak beyond any boat": (
        PEAK | {"load_kn": "1001"},
        "load_kn",
        "'1001' is out of range",
        "0 to 1000",
    ),
    "a peak beyond this boat": (
        PEAK | {"load_kn": "54"},
        "load_kn",
        "54 kN on a boat of 6.2 kN",
        "a lost decimal point",
    ),
    "a last step beyond this boat": (
        OLD | {"ending": "stopped", "load_kn": "", "last_held_kn": "54", "reason": "ferry"},
        "last_held_kn",
        "54 kN on a boat of 6.2 kN",
        "a lost decimal point",
    ),
    "a held peak well below the top": (
        PEAK | {"ending": "held", "load_kn": "2.0"},
        "load_kn",
        "held at 2 kN, well below the top step 6.2 kN",
        "Write stopped and a reason",
    ),
    "a resolution finer than any cell": (
        PEAK | {"resolution_kn": "0.00001"},
        "resolution_kn",
        "a resolution of 1e-05 kN",
        "from 0.0001 kN to below its load",
    ),
    "a peak of nothing": (PEAK | {"load_kn": "0.0"}, "load_kn", "a load of 0", "in full"),
    "a decimal comma": ({"load_kn": "2,6"}, "load_kn", "a decimal comma", "semicolons"),
    "a load off the ladder": (
        {"load_kn": "2.8"},
        "load_kn",
        "2.8 kN is no step of the ladder 'uneven'",
        "nearest are 2.6 kN and 3.2 kN",
    ),
    "a load above the ladder": (
        {"load_kn": "7.0"},
        "load_kn",
        "7 kN is above the top",
        "top step is 6.2 kN",
    ),
    "a load that may be two steps": ({"load_kn": "3"}, "load_kn", "2.6 kN or 3.2 kN", "digit"),
    "a step nobody labelled": (
        {"outing": "day 2", "load_kn": "", "step": "1250 rpm"},
        "step",
        "'1250 rpm' is no step",
        "Did you mean '1200 rpm'? Known: 900 rpm",
    ),
    "a step and another load": (
        {"step": "3.2"},
        "load_kn",
        "2.6 kN, where the row also says 3.2 kN",
        "reading = peak",
    ),
    "held below the top": (
        {"ending": "held", "load_kn": "3.2"},
        "load_kn",
        "held at 3.2 kN, below the top step 6.2 kN",
        "Write stopped and a reason",
    ),
    "held for less than a dwell": (
        {"ending": "held", "load_kn": "6.2", "held_s": "10"},
        "held_s",
        "held for 10 s, less than one dwell of 15 s",
        "final hold is 60 s",
    ),
    "held without a load": (
        {"ending": "held", "load_kn": ""},
        "load_kn",
        "held, and no load",
        "the top step",
    ),
    "stopped without a load": (
        {"ending": "stopped", "load_kn": "", "reason": "ferry"},
        "load_kn",
        "stopped, and no load",
        "or 0 if it held none",
    ),
    "stopped without a reason": (
        {"ending": "stopped", "reason": ""},
        "reason",
        "stopped without a reason",
        "why the crew stopped",
    ),
    "void without a reason": (
        {"ending": "void", "load_kn": "", "notes": ""},
        "reason",
        "void without a reason",
        "what spoilt it",
    ),
    "never set with a load": (
        {"ending": "never set"},
        "load_kn",
        "never set, which takes no load",
        "Leave it empty",
    ),
    "never set with seconds held": (
        NEVER | {"held_s": "60"},
        "held_s",
        "never set, which takes no load",
        "Leave it empty",
    ),
    "never set, and a mode": (
        NEVER | {"mode": "on_side"},
        "mode",
        "a mode beside never set",
        "if it set after all",
    ),
    "never set, and a length buried": (
        NEVER | {"buried_m": "0.6"},
        "buried_m",
        "buried rode beside never set",
        "if it set after all",
    ),
    "never set, and more buried than could be read": (
        NEVER | {"buried_m": ">0.9"},
        "buried_m",
        "buried rode beside never set",
        "Leave it empty",
    ),
    "last held above the release": (
        {"last_held_kn": "3.2"},
        "last_held_kn",
        "last held at 3.2 kN, yet let go at 2.6 kN",
        "below the one",
    ),
    "last held off the ladder": (
        {"last_held_kn": "1.7"},
        "last_held_kn",
        "1.7 kN is no step",
        "1.5 kN and 2 kN",
    ),
    "a resolution beside a step": (
        {"resolution_kn": "0.1"},
        "resolution_kn",
        "a resolution beside a step",
        "reading = peak",
    ),
    "a resolution wider than the load": (
        PEAK | {"resolution_kn": "6"},
        "resolution_kn",
        "a resolution of 6 kN",
        "below its load",
    ),
    "a start on a fresh bite": (
        {"start_kn": "1.0"},
        "start_kn",
        "a starting thrust on a fresh bite",
        "after a slip or a turn",
    ),
    "an ending nobody knows": (
        {"ending": "slipped"},
        "ending",
        "'slipped' is none of its words",
        "released then stopped",
    ),
    "no ending": ({"ending": ""}, "ending", "no ending", "never set, released"),
    "a start nobody knows": ({"start": "new"}, "start", "'new'", "after turn"),
    "a reading nobody knows": ({"reading": "guess"}, "reading", "'guess'", "step, peak"),
    "a step where there is no ladder": (
        OLD | {"reading": "step"},
        "reading",
        "no known ladder",
        "Write peak",
    ),
    "a mode nobody knows": ({"mode": "sideways"}, "mode", "'sideways'", "upright, on_side"),
    "a camera that may be": ({"camera": "maybe"}, "camera", "neither yes nor no", "nothing"),
    "a buried length in words": ({"buried_m": "deep"}, "buried_m", "'deep'", "digits"),
    "less than nothing buried": ({"buried_m": "-0.6"}, "buried_m", "'-0.6' is out", "0 to 100"),
    "more buried than is ever out": ({"buried_m": "101"}, "buried_m", "'101' is out", "0 to 100"),
    "buried on a scale that is none": (
        {"buried_m": "0.6±101"},
        "buried_m",
        "'101' is out",
        "0 to 100",
    ),
    "at least nothing buried": ({"buried_m": ">0"}, "buried_m", "'>0' is no length", ">0.9"),
    "nothing buried": ({"buried_m": "0"}, "buried_m", "'0' is no length", "<0.2"),
    "a sign without an answer": ({"signs": "marker under"}, "signs", "is no sign", "name=yes"),
    "an unknown sign": (
        {"signs": "marker undr=yes"},
        "signs",
        "no sign 'marker undr'",
        "Did you mean 'marker under'?",
    ),
    "a sign twice": (
        {"signs": "marker under=yes|marker under=no"},
        "signs",
        "stands twice",
        "Write it once",
    ),
    "an unknown anchor": ({"anchor": "S66"}, "anchor", "no anchor 'S66'", "Did you mean 'S6'?"),
    "no anchor": ({"anchor": ""}, "anchor", "no anchor", "Write the anchor"),
    "an unknown level": (
        {"leader": "wire 3 m"},
        "leader",
        "no level 'wire 3 m'",
        "Did you mean 'wire 2 m'? Known: chain only, wire 2 m",
    ),
    "an unknown seabed": (
        {"seabed": "firm snad"},
        "seabed",
        "no seabed 'firm snad'",
        "Did you mean 'firm sand'?",
    ),
    "an unknown site": (
        {"site": "north split"},
        "site",
        "no site 'north split'",
        "Did you mean 'north spit'?",
    ),
    "an unknown outing": (
        {"outing": "day 3"},
        "outing",
        "no outing 'day 3'",
        "Known: day 1, day 2, old sheet",
    ),
    "no outing among three": ({"outing": ""}, "outing", "no outing", "day 1, day 2, old sheet"),
    "a seabed that the site has not": (
        {"site": "inner pool"},
        "seabed",
        "firm sand at the site 'inner pool', which is soft mud",
        "another site",
    ),
    "a seabed that the outing's site has not": (
        {"seabed": "soft mud"},
        "seabed",
        "soft mud at the site 'north spit' of day 1, which is firm sand",
        "another site",
    ),
    "a pull called by a long text": (
        {"pull": "x" * 121},
        "pull",
        "a pull called by 121 characters",
        "up to 120",
    ),
    "a pull called by two lines": (
        {"pull": "1\n2"},
        "pull",
        "a line break or another control character in '1\\n2'",
        "on one line",
    ),
    "no pull": ({"pull": ""}, "pull", "no pull", "Number the pulls"),
    "a scope below 1": ({"scope": "0.8"}, "scope", "'0.8' is out of range", "1 to 100"),
    "a rode shorter than the depth": (
        {"rode_m": "5", "depth_m": "8"},
        "rode_m",
        "a scope of 0.562",
        "at least the depth",
    ),
    "a rode without a depth": ({"rode_m": "25"}, "rode_m", "without a depth", "Add the depth"),
    "a scope against rode and depth": (
        {"rode_m": "25", "depth_m": "4.1", "scope": "7"},
        "scope",
        "scope 7, where rode and depth make 5",
        "one of the three",
    ),
    "a date in another order": ({"date": "03/05/2026"}, "date", "no date", "2026-05-03"),
    "a day that is not": ({"date": "2026-02-30"}, "date", "no date", "2026-05-03"),
    "a year that nobody pulled in": (
        {"date": "0026-05-03"},
        "date",
        "0026-05-03 is in the year 26",
        "1900 to 2100",
    ),
    "a year to come": ({"date": "2926-05-03"}, "date", "in the year 2926", "1900 to 2100"),
    "a time that is not": ({"time": "25:10"}, "time", "no time of day", "09:10"),
    "a first bite of number 2": ({"bite": "2"}, "bite", "bite 2 of pull 1 where bite 1", "order"),
    "half a bite": ({"bite": "1.5"}, "bite", "'1.5' is not whole", "1 to 50"),
    "a first bite after a slip": (
        {"start": "after slip"},
        "start",
        "a first bite that is not fresh",
        "Write fresh",
    ),
    "a negative soak": ({"soak_min": "-5"}, "soak_min", "'-5' is out of range", "0 to"),
}


@pytest.mark.parametrize("name", ONE_ROW)
def test_one_bad_row(name: str, rows, faults) -> None:
    row, column, found, remedy = ONE_ROW[name]
    good = PLAIN | {"pull": "0"}
    (fault,) = faults(rows(good, row, good | {"pull": "9"}))
    assert (fault.source, fault.line, fault.column) == ("log.csv", 3, column)
    assert found in fault.found
    assert remedy in fault.remedy


def test_what_may_stand_beside_never_set(rows, reads) -> None:
    """None buried that could be seen, a camera, a sign: of an anchor that lay there and no more."""
    more = {"camera": "yes", "buried_m": "<0.2", "signs": "marker under=no", "mode": " "}
    (pull,) = reads(rows(NEVER | more)).pulls
    assert pull.bites[0].buried.kind == "less_than"


def test_what_an_anchor_that_did_not_set_again_cannot_show(rows, faults) -> None:
    held = {"ending": "held", "load_kn": "6.2", "mode": "upright"}
    (fault,) = faults(rows(held, TURN | NEVER | {"mode": "upright"}))
    assert (fault.line, fault.column) == (3, "mode")


# name: (changes to the first bite, changes to the second, line, column, found, remedy)
TWO_ROWS = {
    "one identity twice": (
        {},
        {},
        "pull",
        "bite 1 of pull 1 of day 1 stands in line 2 already",
        "name of its own",
    ),
    "a re-set at the thrust it started under": (
        {},
        SLIP,
        "load_kn",
        "bite 2 ended at 2.6 kN, and 2.6 kN was on",
        "write what to in start_kn",
    ),
    "a re-set below the thrust it started under": (
        {},
        SLIP | {"load_kn": "1.5"},
        "load_kn",
        "bite 2 ended at 1.5 kN, and 2.6 kN was on",
        "end the pull with the bite before",
    ),
    "a re-set at what the crew eased to": (
        {},
        SLIP | {"load_kn": "1.5", "start_kn": "1.5"},
        "load_kn",
        "1.5 kN was on when it began",
        "start_kn",
    ),
    "a re-set at the top within one dwell": (
        {"load_kn": "6.2"},
        SLIP | {"load_kn": "6.2", "held_s": "15"},
        "load_kn",
        "6.2 kN was on when it began",
        "write held_s",
    ),
    "a peak below the peak before": (
        PEAK | OLD,
        SLIP | PEAK | OLD | {"load_kn": "2.4"},
        "load_kn",
        "bite 2 ended at 2.4 kN, and 2.6 kN was on",
        "start_kn",
    ),
    "a start above the release before": (
        {},
        SLIP | {"load_kn": "3.9", "start_kn": "3.2"},
        "start_kn",
        "a start at 3.2 kN, above the 2.6 kN",
        "eased to",
    ),
    "stopped below the thrust it started under": (
        {},
        SLIP | {"ending": "stopped", "load_kn": "1.5", "reason": "ferry"},
        "load_kn",
        "bite 2 ended at 1.5 kN",
        "start_kn",
    ),
    "a turn below the thrust it started under": (
        {},
        TURN | {"load_kn": "2.0", "start_kn": "5.4"},
        "load_kn",
        "bite 2 ended at 2 kN, and 5.4 kN was on when it began",
        "write what to in start_kn",
    ),
    "a turn under more than the boat can pull": (
        {},
        TURN | {"ending": "void", "load_kn": "", "start_kn": "6.6", "reason": "fouled"},
        "start_kn",
        "a start at 6.6 kN, above the 6.2 kN that the boat can pull",
        "on after the turn",
    ),
    "a re-set that held less than its start": (
        {},
        SLIP | {"load_kn": "3.9", "last_held_kn": "1.5"},
        "last_held_kn",
        "last held at 1.5 kN, and 2.6 kN was on when it began",
        "that this bite held",
    ),
    "a re-set after a held one": (
        {"ending": "held", "load_kn": "6.2"},
        SLIP | {"load_kn": "6.2", "held_s": "20"},
        "start",
        "the bite in line 2 did not end released",
        "It ended held",
    ),
    "a re-set after the crew stopped": (
        {"ending": "released then stopped"},
        SLIP | {"load_kn": "3.2"},
        "start",
        "did not end released",
        "after turn",
    ),
    "a bite after a void one": (
        {"ending": "void", "load_kn": "", "reason": "fouled"},
        SLIP | {"load_kn": "3.2"},
        "bite",
        "a bite after the void one in line 2",
        "End the pull",
    ),
    "a bite after one that never set": (
        NEVER,
        SLIP | {"load_kn": "3.2"},
        "bite",
        "a bite after one that never set in line 2",
        "a pull of its own",
    ),
    "never set as a later bite": (
        {},
        SLIP | NEVER,
        "ending",
        "never set in a pull that has set",
        "a pull of its own",
    ),
    "a later bite that is fresh": (
        {},
        {"bite": "2", "start": "fresh", "load_kn": "3.2"},
        "start",
        "a later bite that is fresh",
        "after slip",
    ),
    "a gap in the bites": (
        {},
        {"bite": "3", "start": "after slip", "load_kn": "3.2"},
        "bite",
        "bite 3 of pull 1 where bite 2 comes",
        "in order",
    ),
    "another anchor": (
        {},
        SLIP | {"load_kn": "3.2", "anchor": "W8"},
        "anchor",
        "'W8', and line 2 of this pull 'S6'",
        "the same in every row",
    ),
    "another seabed": (
        OLD,
        SLIP | OLD | {"load_kn": "3.2", "seabed": "firm sand"},
        "seabed",
        "'firm sand', and line 2",
        "the same in every row",
    ),
    "another scope": (
        {"scope": "5"},
        SLIP | {"load_kn": "3.2", "scope": "7"},
        "scope",
        "'7.0', and line 2 of this pull '5.0'",
        "the same in every row",
    ),
    "a level where the first row is at the baseline": (
        {"leader": ""},
        SLIP | {"load_kn": "3.2", "leader": "wire 2 m"},
        "leader",
        "'wire 2 m', and line 2 of this pull 'chain only'",
        "the same in every row",
    ),
}


@pytest.mark.parametrize("name", TWO_ROWS)
def test_rows_of_one_pull(name: str, rows, faults) -> None:
    first, second, column, found, remedy = TWO_ROWS[name]
    (fault,) = faults(rows({"bite": "1"} | first, {"bite": "1"} | second))
    assert (fault.line, fault.column) == (3, column)
    assert found in fault.found
    assert remedy in fault.remedy


def test_bites_out_of_order(rows, faults) -> None:
    (fault,) = faults(rows(SLIP | {"load_kn": "3.2"}, {"bite": "1"}))
    assert (fault.line, fault.column) == (2, "bite")
    assert "bite 2 of pull 1 where bite 1 comes" in fault.found
    assert "in order: 1, 2, 3" in fault.remedy


def test_all_faults_at_once_in_order_of_lines(rows, faults) -> None:
    found = faults(
        rows(
            {"anchor": "S66", "load_kn": "2.8"},
            {"pull": "2", "ending": "slipped", "camera": "maybe"},
            {"pull": "3", "load_kn": "abc", "scope": "0.5"},
        )
    )
    assert [(fault.line, fault.column) for fault in found] == [
        (2, "anchor"),
        (2, "load_kn"),
        (3, "ending"),
        (3, "camera"),
        (4, "load_kn"),
        (4, "scope"),
    ]


def test_printed_faults_are_capped_and_counted(rows, reads) -> None:
    text = rows(*({"pull": str(number), "load_kn": f"abc{number}"} for number in range(200)))
    with pytest.raises(FaultyFile) as caught:
        reads(text)
    assert len(caught.value.faults) == 200
    assert caught.value.message.startswith("200 faults:")
    assert caught.value.message.endswith(f"and {200 - PRINTED_FAULTS} more")
    assert caught.value.message.count("log.csv, line") == PRINTED_FAULTS


def test_quoted_line_ends_keep_line_numbers(rows, faults) -> None:
    text = rows({"notes": "two\nlines\r\nand three"}, {"pull": "2", "load_kn": "abc"})
    (fault,) = faults(text)
    assert text.split("\n")[fault.line - 1].startswith("2,")
    assert fault.line == 5


def test_record_that_refuses_becomes_a_fault(rows, faults, monkeypatch) -> None:
    """Whatever slips through our own rules meets the record, and no traceback gets out."""
    monkeypatch.setattr("model.ingest.pulls.start_thrust_faults", lambda *_: iter(()))
    (fault,) = faults(rows({"bite": "1"}, SLIP | {"load_kn": "1.5"}))
    assert fault.line == 2
    assert "bite 2 let go below the thrust" in fault.found
