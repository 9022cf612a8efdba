"""Good logs come out as the records they describe, with what was taken for granted said aloud."""

import datetime as dt

import pytest

from model.base.errors import FaultyFile, InputError
from model.base.units import to_kn, to_m
from model.ingest.log_file import read_log
from model.records.campaign import Campaign, Ladder, Step
from model.records.pull import BuriedRode, Ending, ModeSeen, Reading, Start
from model.records.treatment import Treatment

OLD = {"outing": "old sheet", "seabed": "soft mud"}
REVS = {"outing": "day 2"}


@pytest.fixture
def bite(rows, reads):
    """The first bite of a log whose only row is changed like that."""

    def read(*changes: dict, campaign: Campaign | None = None):
        return reads(rows(*changes), campaign).pulls[0].bites[-1]

    return read


@pytest.fixture
def one_outing(hollow_sound) -> Campaign:
    return hollow_sound.model_copy(update={"outings": hollow_sound.outings[:1]})


def test_example_log_holds_every_ending(data, hollow_sound) -> None:
    reading = read_log(data / "pulls.csv", hollow_sound)
    pulls = {(pull.outing, pull.code): pull for pull in reading.pulls}
    assert reading.rows == 13
    assert len(pulls) == 10
    endings = {bite.ending for pull in reading.pulls for bite in pull.bites}
    assert endings == set(Ending)
    first = pulls["day 1", "1"]
    assert (first.date, first.time) == (dt.date(2026, 5, 3), dt.time(9, 10))
    assert first.levels == {"leader": "chain only", "tip ballast": "none"}
    assert first.extras == {"skipper": "Ada"}
    assert first.bites[0].signs == {"marker under": True, "shank out": False}
    assert first.bites[0].mode is ModeSeen.UPRIGHT
    assert pulls["day 1", "2"].bites[0].held_s == 60
    assert pulls["day 1", "7"].is_void
    assert pulls["day 1", "7"].notes == "came up\nfoul"
    starts = [bite.start for bite in pulls["day 1", "8"].bites]
    assert starts == [Start.FRESH, Start.AFTER_SLIP, Start.AFTER_TURN]
    assert pulls["day 1", "8"].start_thrusts_kn == (0.0, 0.5, 0.0)
    assert pulls["old sheet", "1"].notes == "=old row 14"


@pytest.mark.parametrize(
    ("written", "ending"),
    [
        ("Never Set", Ending.NEVER_SET),
        ("never_set", Ending.NEVER_SET),
        ("RELEASED", Ending.RELEASED),
        ("released then stopped", Ending.RELEASED_THEN_STOPPED),
        ("Released-then-stopped", Ending.RELEASED_THEN_STOPPED),
        ("stopped", Ending.STOPPED),
        ("void", Ending.VOID),
    ],
)
def test_endings_in_plain_forms(written: str, ending: Ending, bite) -> None:
    load = "" if ending is Ending.NEVER_SET else "2.6"
    assert bite({"ending": written, "load_kn": load, "reason": "ferry"}).ending is ending


class TestSteps:
    def test_load_within_half_the_last_digit_is_the_step(self, bite, hollow_sound) -> None:
        ladder = Ladder(
            name="uneven",
            steps=tuple(Step(load_kn=load, dwell_s=15) for load in (0.96, 1.43, 2.04)),
            final_hold_s=60,
        )
        campaign = hollow_sound.model_copy(update={"ladders": (ladder, *hollow_sound.ladders[1:])})
        assert bite({"load_kn": "1.4"}, campaign=campaign).load_kn == 1.43
        assert bite({"load_kn": "2.0"}, campaign=campaign).load_kn == 2.04
        with pytest.raises(InputError, match=r"1\.4 kN is no step"):
            bite({"load_kn": "1.40"}, campaign=campaign)

    def test_label_stands_for_its_step(self, bite) -> None:
        assert bite(REVS | {"load_kn": "", "step": "1700 RPM"}).load_kn == 2.9

    def test_step_column_takes_a_load(self, bite) -> None:
        assert bite({"load_kn": "", "step": "3.9"}).load_kn == 3.9

    def test_each_outing_has_its_own_ladder(self, rows, reads) -> None:
        text = rows({"load_kn": "2.6"}, REVS | {"load_kn": "2.9"}, OLD | {"load_kn": "2.71"})
        loads = [pull.bites[0].load_kn for pull in reads(text).pulls]
        assert loads == [2.6, 2.9, 2.71]

    def test_last_held_is_kept(self, bite) -> None:
        assert bite({"last_held_kn": "1.0"}).last_held_kn == 1.0
        assert bite({"last_held_kn": "0"}).last_held_kn == 0.0

    def test_release_within_the_final_hold(self, bite) -> None:
        found = bite({"load_kn": "6.2", "held_s": "41"})
        assert (found.load_kn, found.held_s) == (6.2, 41.0)

    def test_reset_within_the_final_hold(self, bite) -> None:
        later = {"bite": "2", "start": "after slip", "load_kn": "6.2", "held_s": "20"}
        assert bite({"bite": "1", "load_kn": "6.2"}, later).held_s == 20.0

    def test_stopped_before_any_step_was_held(self, bite) -> None:
        assert bite({"ending": "stopped", "load_kn": "0", "reason": "ferry"}).load_kn is None

    def test_stopped_by_its_last_step_held(self, bite) -> None:
        row = {"ending": "stopped", "load_kn": "", "last_held_kn": "3.2", "reason": "ferry"}
        found = bite(row)
        assert (found.load_kn, found.last_held_kn) == (3.2, None)

    def test_notes_will_do_for_a_reason(self, rows, reads) -> None:
        text = rows({"ending": "stopped", "notes": "ferry came through"})
        assert reads(text).pulls[0].notes == "ferry came through"

    def test_void_load_is_kept_off_the_ladder(self, bite) -> None:
        assert bite({"ending": "void", "load_kn": "2.75", "reason": "bent"}).load_kn == 2.75


class TestPeaks:
    def test_old_sheet_reads_peaks_by_their_gauge(self, bite) -> None:
        found = bite(OLD | {"load_kn": "2.71"})
        assert (found.reading, found.load_kn, found.resolution_kn) == (Reading.PEAK, 2.71, 0.02)

    @pytest.mark.parametrize(("written", "width"), [("2.7", 0.1), ("2.70", 0.01), ("3", 1.0)])
    def test_last_digit_is_the_resolution(self, written, width, bite, hollow_sound) -> None:
        gauges = tuple(
            gauge.model_copy(update={"resolution_kn": None}) for gauge in hollow_sound.gauges
        )
        campaign = hollow_sound.model_copy(update={"gauges": gauges})
        found = bite(OLD | {"load_kn": written}, campaign=campaign)
        assert found.resolution_kn == pytest.approx(width)

    def test_resolution_of_the_row_comes_first(self, bite) -> None:
        assert bite(OLD | {"resolution_kn": "0.5"}).resolution_kn == 0.5

    def test_resolution_of_the_last_digit_is_converted(self, rows, reads, hollow_sound) -> None:
        row = {"reading": "peak", "load_kn": None, "load_lbf": "610", "outing": "day 1"}
        found = reads(rows(row)).pulls[0].bites[0]
        assert found.load_kn == pytest.approx(610 * 0.0044482216152605)
        assert found.resolution_kn == pytest.approx(0.0044482216152605)

    def test_peak_on_a_ladder_may_lie_between_and_above(self, bite) -> None:
        assert bite({"reading": "peak", "load_kn": "6.9"}).load_kn == 6.9

    def test_step_beside_a_peak_is_kept(self, rows, reads) -> None:
        pull = reads(rows({"reading": "peak", "load_kn": "3.74", "step": "3.9"})).pulls[0]
        assert pull.bites[0].load_kn == 3.74
        assert pull.extras == {"written step": "3.9"}

    def test_held_without_a_ladder(self, bite) -> None:
        found = bite(OLD | {"ending": "held", "load_kn": "5.9"})
        assert (found.load_kn, found.held_s, found.resolution_kn) == (5.9, None, None)


class TestUnits:
    @pytest.mark.parametrize("unit", ["n", "kn", "dan", "kgf", "kg", "lbf", "lb", "tf"])
    def test_load(self, unit: str, rows, reads) -> None:
        written = f"{3.9 / to_kn(1.0, unit):.6f}"
        row = {"load_kn": None, f"load_{unit}": written}
        assert reads(rows(row)).pulls[0].bites[0].load_kn == 3.9

    @pytest.mark.parametrize("unit", ["m", "ft", "cm", "in"])
    def test_length(self, unit: str, bite) -> None:
        found = bite({f"buried_{unit}": ">3"}).buried
        assert found.length_m == pytest.approx(3 * to_m(1.0, unit))

    def test_headings_however_spaced(self, rows, reads) -> None:
        text = rows({"load_kn": None, "Load KN": "2.6", "Last-held kn": "1.5"})
        assert reads(text).pulls[0].bites[0].last_held_kn == 1.5

    def test_kilograms_are_said_to_be_a_force(self, rows, reads) -> None:
        reading = reads(rows({"load_kn": None, "load_kg": "397.689", "reading": "peak"}))
        assert reading.pulls[0].bites[0].load_kn == pytest.approx(3.9, abs=1e-4)
        assert "load_kg: kilograms are read as kilograms-force." in reading.notes

    def test_semicolons_take_a_decimal_comma(self, rows, reads) -> None:
        row = {"load_kn": "2,6", "buried_m": ">0,9", "scope": "5,5", "notes": "a, b"}
        pull = reads(rows(row, delimiter=";")).pulls[0]
        assert pull.bites[0].load_kn == 2.6
        assert pull.bites[0].buried.length_m == 0.9
        assert (pull.scope, pull.notes) == (5.5, "a, b")

    def test_byte_order_mark_is_no_part_of_the_header(self, rows, tmp_path, hollow_sound) -> None:
        path = tmp_path / "log.csv"
        path.write_text(rows({"notes": "größer"}), encoding="utf-8-sig")
        assert read_log(path, hollow_sound).pulls[0].notes == "größer"


class TestBuried:
    @pytest.mark.parametrize(
        ("written", "kind", "length", "width"),
        [
            ("0.6", "reading", 0.6, 0.1),
            ("0.65", "reading", 0.65, 0.01),
            ("0.63±0.05", "reading", 0.63, 0.1),
            ("0.63 +- 0.05", "reading", 0.63, 0.1),
            (">0.9", "at_least", 0.9, None),
            ("≥ 0.9", "at_least", 0.9, None),
            ("<0.2", "less_than", 0.2, None),
        ],
    )
    def test_forms(self, written, kind, length, width, bite) -> None:
        expected = BuriedRode(kind=kind, length_m=length, resolution_m=width)
        assert bite({"buried_m": written}).buried == expected


class TestPullFacts:
    def test_scope_from_rode_depth_and_bow(self, rows, reads) -> None:
        pull = reads(rows({"rode_m": "25", "depth_m": "4.1"})).pulls[0]
        assert pull.scope == pytest.approx(25 / (4.1 + 0.9))
        assert pull.extras == {"written rode_m": "25", "written depth_m": "4.1"}

    @pytest.mark.parametrize("written", ["5", "5:1"])
    def test_scope_as_a_ratio(self, written: str, rows, reads) -> None:
        assert reads(rows({"scope": written})).pulls[0].scope == 5.0

    def test_names_without_regard_to_case_and_spaces(self, rows, reads) -> None:
        pull = reads(rows({"anchor": "s6", "seabed": "Firm  Sand", "leader": "WIRE 2 m"})).pulls[0]
        assert (pull.anchor, pull.seabed, pull.levels) == (
            "S6",
            "firm sand",
            {"leader": "wire 2 m"},
        )

    def test_later_row_may_leave_empty_what_the_first_says(self, rows, reads) -> None:
        later = {"bite": "2", "anchor": "", "seabed": "", "load_kn": "3.2"}
        first = {"bite": "1", "scope": "7", "site": "north spit", "leader": "wire 2 m"}
        reading = reads(rows(first, later))
        (pull,) = reading.pulls
        assert (pull.anchor, pull.scope, pull.levels) == ("S6", 7.0, {"leader": "wire 2 m"})
        assert pull.bites[1].start is Start.AFTER_SLIP
        assert "1 later bite without a start: taken as after slip." in reading.notes

    @pytest.mark.parametrize(
        "word", ["after slip", "after_slip", "re-set", "Reset", "after reset", "after release"]
    )
    def test_a_re_set_has_many_words(self, word: str, rows, reads) -> None:
        (pull,) = reads(rows({"bite": "1"}, {"bite": "2", "start": word, "load_kn": "3.2"})).pulls
        assert pull.bites[1].start is Start.AFTER_SLIP

    def test_one_that_does_not_set_again_after_a_turn_never_set(self, rows, reads) -> None:
        held = {"bite": "1", "ending": "held", "load_kn": "6.2"}
        gone = {"bite": "2", "start": "after turn", "ending": "never set", "load_kn": ""}
        (pull,) = reads(rows(held, gone)).pulls
        assert pull.has_set
        assert [bite.ending for bite in pull.bites] == [Ending.HELD, Ending.NEVER_SET]

    @pytest.mark.parametrize("word", ["on_side", "on side", "On its side"])
    def test_a_mode_has_many_words(self, word: str, rows, reads) -> None:
        assert reads(rows({"mode": word})).pulls[0].bites[0].mode is ModeSeen.ON_SIDE

    def test_where_pulls_stand_and_what_units_the_file_writes(self, rows, reads) -> None:
        first = {"load_kn": None, "load_lbf": "585", "buried_ft": "2", "bite": "1"}
        later = first | {"bite": "2", "load_lbf": "719.4"}
        reading = reads(rows(first, later, first | {"pull": "2"}))
        assert reading.lines == {"day 1/1": 2, "day 1/2": 4}
        assert (reading.load_unit, reading.length_unit) == ("lbf", "ft")
        by_step = reads(rows({"load_kn": None, "step": "2.6"}))
        assert (by_step.load_unit, by_step.length_unit) == ("kn", "m")

    def test_words_of_several_rows_are_joined(self, rows, reads) -> None:
        later = {"bite": "2", "load_kn": "3.2", "notes": "then harder", "boots": "blue"}
        (pull,) = reads(rows({"bite": "1", "notes": "soft", "boots": "red"}, later)).pulls
        assert pull.notes == "soft; then harder"
        assert pull.extras == {"boots": "red", "boots (bite 2)": "blue"}

    def test_formula_in_a_text_is_kept_as_text(self, rows, reads) -> None:
        pull = reads(rows({"notes": "=cmd|' /C calc'!A0", "skipper": "@sum(1)"})).pulls[0]
        assert pull.notes == "=cmd|' /C calc'!A0"
        assert pull.extras == {"skipper": "@sum(1)"}

    def test_outing_may_be_left_out_where_there_is_one(self, rows, reads, one_outing) -> None:
        reading = reads(rows({"outing": None}), one_outing)
        assert reading.pulls[0].outing == "day 1"
        assert "No column outing: every pull is taken to be of day 1." in reading.notes

    def test_least_log_that_will_do(self, reads, one_outing) -> None:
        text = "pull,anchor,seabed,ending,step\n1,S6,firm sand,released,3.9\n"
        pull = reads(text, one_outing).pulls[0]
        assert (pull.code, pull.scope, pull.site, pull.levels) == ("1", None, None, {})


def test_notes_say_what_was_taken_for_granted(rows, reads) -> None:
    text = rows(
        {"ending": "held", "load_kn": "6.2", "endng": "?", "date": "2026-05-03"},
        {"pull": "2", "ending": "held", "load_kn": "6.2", "held_s": "58", "date": "2026-05-09"},
        {"pull": "3", "scope": "7", "leader": "wire 2 m"},
    )
    assert reads(text).notes == (
        "leader: empty in 2 rows, taken as the baseline 'chain only'.",
        "tip ballast: empty in 3 rows, taken as the baseline 'none'.",
        "2 pulls without a scope: the usual 5 is taken.",
        "1 held bite without held_s: the ladder's final hold is taken.",
        "Held for less than the ladder's final hold, used as written: line 3.",
        "Another date than the outing's in the campaign: line 3.",
        "Column 'endng' is not known and kept as it came; did you mean ending?",
    )


def test_tester_may_head_a_column_almost_like_ours(rows, reads) -> None:
    pull = reads(rows({"load cell": "no. 4", "start time": "early"})).pulls[0]
    assert pull.extras == {"load cell": "no. 4", "start time": "early"}


def test_blank_rows_and_empty_columns_are_nothing(rows, reads) -> None:
    text = "\n" + rows({}).replace("\n", ",\n") + ",,,,,,\n\n"
    assert len(reads(text).pulls) == 1


@pytest.mark.parametrize("step", ["3.2 kN", "3.2kN", "3.2 KN", "3200 N"])
def test_a_step_may_name_its_own_unit(step, rows, reads) -> None:
    pull = reads(rows({"load_kn": None, "step": step})).pulls[0]
    assert pull.bites[0].load_kn == pytest.approx(3.2)


@pytest.mark.parametrize("heading", ["lead", "leaders", "rig"])
def test_a_treatment_under_another_heading_is_no_baseline(heading, rows, reads) -> None:
    """Kept as it came, the changed pull would be taken for one without the leader."""
    with pytest.raises(FaultyFile) as caught:
        reads(rows({heading: "wire 2 m"}))
    [fault] = caught.value.faults
    assert (fault.column, fault.line) == (heading, 1)
    assert f"{heading!r} seems to be leader, which has no column" in fault.found
    assert "Head it leader" in fault.remedy


def test_a_column_of_the_testers_own_is_kept(rows, reads) -> None:
    pull = reads(rows({"leader": "wire 2 m", "lead": "wire 2 m", "rig": "chain only"})).pulls[0]
    assert pull.extras == {"lead": "wire 2 m", "rig": "chain only"}


@pytest.mark.parametrize("cell", ["yes", "no", "6", "8"])
def test_what_any_column_might_hold_is_no_treatments_level(cell, rows, reads, hollow_sound) -> None:
    plain = Treatment(name="fouled", baseline="none", levels=("none", "yes", "no", "6", "8"))
    campaign = hollow_sound.model_copy(update={"treatments": (plain,)})
    assert reads(rows({"crew aboard": cell}), campaign).pulls[0].extras == {"crew aboard": cell}
