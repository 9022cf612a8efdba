"""Cells of stored pulls, changed by the rules of a log."""

import pytest

from model.base.errors import FaultyFile
from model.ingest.log_rows import correctable, read_rows, rows_of, with_cell
from model.records.pull import Ending, ModeSeen


def changed(pulls, campaign, heading, text, **more):
    rows = with_cell(rows_of(pulls, campaign), heading, text, **more)
    return read_rows(rows, campaign, "by hand").pulls


def test_unchanged_rows_are_the_same_pulls(small_pulls, small_campaign):
    rows = rows_of(small_pulls, small_campaign)
    assert len(rows) == 17  # one slipped and set again
    assert read_rows(rows, small_campaign, "by hand").pulls == small_pulls


@pytest.mark.parametrize("words", ["=1+1", "'=1", "+44", "a,b", 'say "no"', "-", "@x"])
def test_words_that_a_spreadsheet_would_run_stay_as_they_are(words, small_pulls, small_campaign):
    [pull] = changed(small_pulls[:1], small_campaign, "notes", words)
    assert pull.notes == words


def test_what_all_rows_of_a_pull_say_changes_in_all(small_pulls, small_campaign):
    slipped = small_pulls[8]
    assert len(slipped.bites) == 2
    [pull] = changed([slipped], small_campaign, "anchor", "P9")
    assert (pull.anchor, pull.bites) == ("P9", slipped.bites)


def test_what_it_says_once_changes_in_its_first_row(small_pulls, small_campaign):
    [pull] = changed([small_pulls[8]], small_campaign, "notes", "wet")
    assert pull.notes == "wet"


@pytest.mark.parametrize("bite", [1, 2])
def test_a_bites_cell_changes_in_that_bite(bite, small_pulls, small_campaign):
    [pull] = changed([small_pulls[8]], small_campaign, "mode", "", bite=bite)
    modes = [one.mode for one in pull.bites]
    assert modes[bite - 1] is None
    assert modes[2 - bite] in set(ModeSeen)


def test_a_step_takes_the_place_of_the_load(small_pulls, small_campaign):
    [pull] = changed(small_pulls[:1], small_campaign, "step", "3.2")
    assert pull.bites[0].load_kn == 3.2
    assert pull.bites[0].ending is Ending.RELEASED


def test_what_a_log_refuses_is_refused(small_pulls, small_campaign):
    with pytest.raises(FaultyFile) as caught:
        changed(small_pulls[:3], small_campaign, "anchor", "Q1")
    assert [fault.line for fault in caught.value.faults] == [2, 3, 4]


def test_headings_that_may_be_changed(small_pulls, small_campaign):
    found = correctable(small_campaign, rows_of(small_pulls, small_campaign))
    assert {"step", "anchor", "leader", "chain", "mode", "notes"} <= set(found)
    assert not {"pull", "outing", "bite"} & set(found)
