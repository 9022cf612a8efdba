"""Logs in workbooks: the same pulls as in text, and one clear fault for what is no table."""

import csv
import datetime as dt
import io
import random
import re
import zipfile

import pytest
from openpyxl import Workbook

from model.base.errors import FaultyFile
from model.ingest import log_file, workbook
from model.ingest.log_file import read_log, read_log_content
from model.ingest.log_writer import log_text
from model.records.columns import Columns
from model.records.pull import Reading

HEADER = ("pull", "outing", "anchor", "seabed", "leader", "ending", "load_kn")
FIRST = ("1", "day 1", "S6", "firm sand", "wire 2 m", "released", 2.6)


def book(*rows, spoil=lambda sheet: None, more=()):
    """A workbook's bytes; `more` are sheets behind it, with a word in all but one called empty."""
    made = Workbook()
    sheet = made.active
    for row in rows:
        sheet.append(row)
    spoil(sheet)
    for name in more:
        made.create_sheet(name).append([] if name == "empty" else ["x"])
    file = io.BytesIO()
    made.save(file)
    return file.getvalue()


def faults_of(content, campaign):
    with pytest.raises(FaultyFile) as caught:
        read_log_content(content, "log.xlsx", campaign)
    return caught.value.faults


def test_the_same_pulls_as_in_text(small_campaign, small_pulls, tmp_path):
    """As our own log is opened in a spreadsheet and saved again, guarded texts and all."""
    nasty = small_pulls[0].model_copy(update={"notes": "=1+1", "code": "007"})
    pulls = (nasty, *small_pulls[1:])
    rows = list(csv.reader(io.StringIO(log_text(pulls, small_campaign))))

    def show(sheet):
        sheet["A2"].value, sheet["A2"].number_format = 7, "000"

    path = tmp_path / "pulls.xlsx"
    path.write_bytes(book(*([_typed(cell) for cell in row] for row in rows), spoil=show))
    assert read_log(path, small_campaign).pulls == pulls


def _typed(text):
    """As a spreadsheet keeps it: a number as a number."""
    try:
        return float(text)
    except ValueError:
        return text or None


def test_days_times_and_yes_or_no(small_campaign):
    header = (*HEADER, "date", "time", "camera")
    row = (*FIRST, dt.date(2026, 5, 3), dt.time(9, 10), True)
    [pull] = read_log_content(book(header, row), "log.xlsx", small_campaign).pulls
    assert (pull.date, pull.time) == (dt.date(2026, 5, 3), dt.time(9, 10))
    assert pull.bites[0].has_camera is True


@pytest.mark.parametrize(("shown", "resolution"), [("General", 0.1), ("0.00", 0.01), ("0", 0.1)])
def test_a_peak_is_as_fine_as_the_sheet_shows_it(shown, resolution, small_campaign):
    def show(sheet):
        sheet["G2"].number_format = shown

    content = book((*HEADER, "reading"), (*FIRST[:-1], 3.2, "peak"), spoil=show)
    outings = [one.model_copy(update={"gauge": None}) for one in small_campaign.outings]
    by_the_sheet = small_campaign.model_copy(update={"outings": tuple(outings)})
    [pull] = read_log_content(content, "log.xlsx", by_the_sheet).pulls
    assert pull.bites[0].reading is Reading.PEAK
    assert pull.bites[0].resolution_kn == pytest.approx(resolution)


@pytest.mark.parametrize("format_", ["0.00", "#,##0.0"])
def test_a_format_changes_no_name(format_, small_campaign):
    """Else each pull would go in a second time once its column shows decimals."""

    def show(sheet):
        sheet["A2"].value, sheet["A2"].number_format = 101, format_

    for campaign in (small_campaign, small_campaign.model_copy(
            update={"columns": Columns(has_decimal_comma=True)})):  # fmt: skip
        [pull] = read_log_content(book(HEADER, FIRST, spoil=show), "log.xlsx", campaign).pulls
        assert pull.code == "101"


def test_empty_rows_and_columns_around_the_table(small_campaign):
    def widen(sheet):
        sheet["Z9"].number_format = "0.00"

    content = book((), (*HEADER, None), (), (*FIRST, None), (), spoil=widen)
    reading = read_log_content(content, "log.xlsx", small_campaign)
    assert len(reading.pulls) == 1
    assert reading.lines == {"day 1/1": 4}


def _merge(sheet):
    sheet.merge_cells("C2:C3")


def _formula(sheet):
    sheet["G2"] = "=1+1"


def _error(sheet):
    sheet["G2"] = "#REF!"


SECOND = ("2", *FIRST[1:])
SPOILT = {
    "merged cells": (book(HEADER, FIRST, SECOND, spoil=_merge), 2, "merged cells C2:C3", "Unmerge"),
    "a formula nobody worked out": (book(HEADER, FIRST, spoil=_formula), 2, "(G2)", "save it"),
    "an error": (book(HEADER, FIRST, spoil=_error), 2, "the error #REF! (G2)", "Write the value"),
    "a title": (book(("My trials",), HEADER, FIRST), 1, "'My trials' stands alone", "take it out"),
    "a total": (
        book(HEADER, FIRST, ("Total", None, None, None, None, None, 2.6)),
        3, "'Total' and not a pull", "Take that row out",
    ),
    "a second header": (
        book(HEADER, (None,) * 6 + ("kN",), FIRST),
        2, "a second header, of units", "Write each into its heading",
    ),
    "nothing": (book(), 1, "an empty file", "Write a header"),
    "a header alone": (book(HEADER), 1, "nothing below", "Add a row"),
}  # fmt: skip


@pytest.mark.parametrize("name", SPOILT)
def test_what_is_no_table_is_named_with_its_row(name, small_campaign):
    content, line, found, remedy = SPOILT[name]
    fault = next(one for one in faults_of(content, small_campaign) if found in one.found)
    assert fault.line == line
    assert remedy in fault.remedy


@pytest.mark.parametrize(
    "content",
    [
        b"PK\x03\x04",
        b"PK\x03\x04" + b"\0" * 500,
        book(HEADER, FIRST)[:-300],
        book(HEADER, FIRST)[:1000],
    ],
)
def test_a_damaged_workbook(content, small_campaign):
    [fault] = faults_of(content, small_campaign)
    assert "cannot be read" in fault.found
    assert "Save it again" in fault.remedy


def test_another_archive(small_campaign):
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("letter.txt", "hello")
    [fault] = faults_of(file.getvalue(), small_campaign)
    assert "cannot be read" in fault.found


def test_a_workbook_that_would_fill_the_memory(small_campaign, monkeypatch):
    monkeypatch.setattr(workbook, "MOST_UNPACKED_BYTES", 1000)
    [fault] = faults_of(book(HEADER, FIRST), small_campaign)
    assert "a workbook that unpacks to" in fault.found


def test_a_sheet_of_very_many_rows(small_campaign, monkeypatch):
    monkeypatch.setattr(workbook, "MOST_ROWS", 2)
    [fault] = faults_of(book(HEADER, FIRST, SECOND), small_campaign)
    assert "a sheet of 3 rows" in fault.found


def test_cells_far_out_make_none_between(small_campaign):
    """A formatted cell at the sheet's far corner is nothing; a written one is a fault."""

    def far(sheet):
        sheet["XFD1048576"].number_format = "0.00"

    assert read_log_content(book(HEADER, FIRST, spoil=far), "log.xlsx", small_campaign).pulls

    def written(sheet):
        sheet["XFD3"] = "x"

    [fault] = faults_of(book(HEADER, FIRST, spoil=written), small_campaign)
    assert "a cell in column 16384" in fault.found


def test_merged_cells_as_far_as_the_sheet_reaches(small_campaign):
    """The library makes each of them before anybody could look at the range."""
    file = io.BytesIO()
    sound = book(HEADER, FIRST, SECOND, spoil=_merge)
    with zipfile.ZipFile(io.BytesIO(sound)) as old, zipfile.ZipFile(file, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b"C2:C3", b"A1:XFD1048576"))
    [fault] = faults_of(file.getvalue(), small_campaign)
    assert "A1:XFD1048576" in fault.found


def test_flipped_bytes_are_a_fault_or_do_nothing(small_campaign):
    sound, rng = book(HEADER, FIRST), random.Random(1)
    faulty = 0
    for _ in range(300):
        spoilt = bytearray(sound)
        spoilt[rng.randrange(4, len(spoilt))] ^= 1 << rng.randrange(8)
        try:
            read_log_content(bytes(spoilt), "log.xlsx", small_campaign)
        except FaultyFile:
            faulty += 1
    assert faulty > 50


def test_other_sheets_are_named_and_a_hidden_one_is_not_the_first(small_campaign):
    def hide(sheet):
        sheet.sheet_state = "hidden"

    content = book(HEADER, FIRST, more=("day 2", "empty"))
    reading = read_log_content(content, "log.xlsx", small_campaign)
    assert "The sheet 'day 2' was not read: only the first is." in reading.notes
    assert not any("'empty'" in note for note in reading.notes)
    hidden = book(HEADER, FIRST, spoil=hide, more=("shown",))
    assert "a header and nothing below" in faults_of(hidden, small_campaign)[0].found


@pytest.mark.parametrize(
    ("rows", "found"),
    [
        ([("what", "when"), ("a day out", "2026-05-03")], "there is no column pull"),
        ([], "an empty file"),
        ([HEADER, (*FIRST[:-1], "=1/0")], "a formula without its value"),
        ([HEADER, (*FIRST[:-1], "much")], "'much' is not a number"),
    ],
)
def test_the_sheets_that_were_not_read_are_told_with_faults(rows, found, small_campaign):
    with pytest.raises(FaultyFile, match=found) as caught:
        read_log_content(book(*rows, more=("Pulls", "empty")), "log.xlsx", small_campaign)
    assert caught.value.hint.endswith("Only the first sheet is read; 'Pulls' was not.")
    with pytest.raises(FaultyFile, match=found) as caught:
        read_log_content(book(*rows, more=("empty",)), "log.xlsx", small_campaign)
    assert "sheet" not in caught.value.hint


def test_a_formula_that_gives_an_empty_text_says_nothing(small_campaign):
    """As spreadsheets store ``=IF(A2="","","")``."""
    sound = book((*HEADER, "notes"), (*FIRST, "x"))
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(sound)) as old, zipfile.ZipFile(file, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name.endswith("sheet1.xml"):
                cell = b'<c r="H2" t="str"><f>IF(1,"","")</f><v></v></c>'
                data, count = re.subn(rb'<c r="H2".*?</c>', cell, data)
                assert count == 1
            new.writestr(name, data)
    [pull] = read_log_content(file.getvalue(), "log.xlsx", small_campaign).pulls
    assert pull.notes == ""


def test_a_scope_that_became_a_time(small_campaign):
    content = book((*HEADER, "scope"), (*FIRST, dt.time(5, 1)))
    [pull] = read_log_content(content, "log.xlsx", small_campaign).pulls
    assert pull.scope == 5.0


def test_a_pull_called_like_a_total(small_campaign):
    row = ("Count 1", *FIRST[1:])
    assert read_log_content(book(HEADER, row), "log.xlsx", small_campaign).pulls


def test_an_old_workbook_is_told_from_text(small_campaign):
    [fault] = faults_of(b"\xd0\xcf\x11\xe0" + b"\0" * 100, small_campaign)
    assert "an old workbook (.xls)" in fault.found


def test_words_that_look_like_a_formula_stay_words(small_campaign):
    def words(sheet):
        sheet["H2"].value = "=1+1"
        sheet["H2"].data_type = "s"

    content = book((*HEADER, "notes"), (*FIRST, ""), spoil=words)
    [pull] = read_log_content(content, "log.xlsx", small_campaign).pulls
    assert pull.notes == "=1+1"


# --- the tester's own sheet, again and again --------------------------------------------------

GROUPS = ("what", None, None, None, None, None, "how it went")
UNITS = (None, None, None, None, None, None, "(kN)")
AGAIN = {
    "a title over the header": (book(("My trials", "2026"), HEADER, FIRST), 1, "stand on line 2"),
    "groups over the header": (book(GROUPS, HEADER, FIRST), 1, "the headings stand on line 2"),
    "units below the header": (book(HEADER, UNITS, FIRST), 2, "a second header, of units"),
    "the header once a page": (book(HEADER, FIRST, HEADER, SECOND), 3, "the header once more"),
    "a sum below": (book(HEADER, FIRST, (), ("Sum", *[None] * 5, 2.6)), 4, "'Sum' and not a pull"),
    "a day as a number": (
        book((*HEADER, "date"), (*FIRST, 46145)), 2, "may be a spreadsheet's number of a day",
    ),
    "a decimal comma as text": (book(HEADER, (*FIRST[:-1], "2,6")), 2, "has a decimal comma"),
    "a unit in the cell": (book(HEADER, (*FIRST[:-1], "2.6 kN")), 2, "'2.6 kN' is not a number"),
    "merged cells": (book(HEADER, FIRST, SECOND, spoil=_merge), 2, "merged cells C2:C3"),
    "a formula nobody worked out": (book(HEADER, FIRST, spoil=_formula), 2, "(G2)"),
}  # fmt: skip


@pytest.mark.parametrize("name", AGAIN)
def test_each_is_one_fault(name, small_campaign):
    content, line, found = AGAIN[name]
    [fault] = faults_of(content, small_campaign)
    assert fault.line == line
    assert found in fault.found
    assert fault.remedy


@pytest.mark.parametrize("name", ["a title over the header", "units below the header"])
def test_without_the_look_for_headers_it_is_a_puzzle(name, small_campaign, monkeypatch):
    monkeypatch.setattr(log_file, "without_headers", lambda table, *_: (table, []))
    assert len(faults_of(AGAIN[name][0], small_campaign)) > 1


def test_the_same_in_text(small_campaign):
    for rows, found in (
        ("My trials,,,,,,\n{}\n{}\n", "the headings stand on line 2"),
        ("{}\n,,,,,,kN\n{}\n", "a second header, of units"),
    ):
        text = rows.format(",".join(HEADER), ",".join(map(str, FIRST)))
        [fault] = faults_of(text.encode(), small_campaign)
        assert found in fault.found


def test_what_is_only_untidy_goes_in(small_campaign):
    """Empty rows between, numbers as text, a hidden row, a second sheet, an empty formula."""

    def hide(sheet):
        sheet.row_dimensions[4].hidden = True

    texts = ("2", *FIRST[1:-1], "2.6")
    content = book(HEADER, FIRST, (), texts, (), spoil=hide, more=("notes",))
    reading = read_log_content(content, "log.xlsx", small_campaign)
    assert [pull.code for pull in reading.pulls] == ["1", "2"]
    assert "Hidden rows are read like all others: line 4." in reading.notes
    assert "The sheet 'notes' was not read: only the first is." in reading.notes


def test_again_and_again(small_campaign):
    """The same sheet with a row more gives the same pulls, and the new one."""
    once = read_log_content(book(HEADER, FIRST), "log.xlsx", small_campaign).pulls
    twice = read_log_content(book(HEADER, FIRST, SECOND), "log.xlsx", small_campaign).pulls
    assert twice[:1] == once


@pytest.mark.parametrize(
    ("name", "most", "found"),
    [
        ("MOST_MARKS", 10, "million cells"),
        ("MOST_CHARACTERS", 10, "million characters"),
        ("LONGEST_CELL", 8, "a cell of 9 characters (D2)"),
    ],
)
def test_what_would_take_for_ever(name, most, found, small_campaign, monkeypatch):
    monkeypatch.setattr(workbook, name, most)
    [fault] = faults_of(book(HEADER, FIRST), small_campaign)
    assert found in fault.found


# --- a tester's own sheets ------------------------------------------------------------------------

OWN = Columns(
    headings={"Nr": "pull", "Tag": "outing", "Anker": "anchor", "Grund": "seabed",
              "Vorlauf": "leader", "Ende": "ending", "Zug kN": "load_kn", "am": "date"},
    has_decimal_comma=True,
    date_order="day first",
)  # fmt: skip
OWN_HEADER = ("Nr", "Tag", "Anker", "Grund", "Vorlauf", "Ende", "Zug kN", "am")


@pytest.fixture
def own_campaign(small_campaign):
    return small_campaign.model_copy(update={"columns": OWN})


@pytest.mark.parametrize("load", [2.6, "2,6"])
@pytest.mark.parametrize("day", [dt.date(2026, 5, 3), "3.5.2026", "03/05/2026", "2026-05-03"])
def test_own_headings_commas_and_dates(load, day, own_campaign):
    content = book(OWN_HEADER, (*FIRST[:-1], load, day))
    [pull] = read_log_content(content, "log.xlsx", own_campaign).pulls
    assert (pull.bites[0].load_kn, pull.date) == (2.6, dt.date(2026, 5, 3))
    assert pull.levels["leader"] == "wire 2 m"


def test_faults_speak_of_the_sheets_own_headings(own_campaign):
    [fault] = faults_of(book(OWN_HEADER, (*FIRST[:-1], "viel", None)), own_campaign)
    assert (fault.column, fault.line) == ("Zug kN", 2)


def test_a_point_that_may_part_thousands(own_campaign):
    [fault] = faults_of(book(OWN_HEADER, (*FIRST[:-1], "1.200", None)), own_campaign)
    assert "may be a thousand times as much" in fault.found


def test_two_headings_for_one(own_campaign):
    content = book((*OWN_HEADER, "anchor"), (*FIRST, None, "P9"))
    [fault] = faults_of(content, own_campaign)
    assert "anchor and Anker say the same" in fault.found
