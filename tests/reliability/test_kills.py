"""Killed at random moments: nothing acknowledged is lost. Five hundred kills: tests/RESULTS.md."""

import pytest

pytestmark = pytest.mark.reliability


def test_nothing_is_lost_and_the_worker_catches_up(script):
    code, found = script("kills.py", "--kills", 24, "--seed", 7)
    assert found["faults"] == []
    assert code == 0
    assert found["kills"] == 24
    assert found["acknowledged"] >= 13
    assert found["passed_fits"] >= 1
    assert found["kept_answers"] >= 1  # else nobody was killed while answering
    assert found["caught_up_s"] is not None


def test_who_acknowledges_before_storing_is_found_out(script):
    options = ("--only", "deck", "--broken", "acknowledge-first")
    code, found = script("kills.py", "--kills", 24, "--seed", 7, *options)
    assert code == 1
    assert any(fault.startswith("lost: mark") for fault in found["faults"])


def test_a_row_that_is_stored_before_its_file_is_found_out(script):
    options = ("--only", "worker", "--broken", "file-after-row")
    code, found = script("kills.py", "--kills", 1, "--seed", 7, *options)
    assert code == 1
    assert any("the posterior" in fault for fault in found["faults"])
