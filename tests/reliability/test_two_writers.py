"""Two writers and a reader. A thousand pulls each: tests/RESULTS.md."""

import pytest

pytestmark = pytest.mark.reliability


def test_no_pull_is_lost_and_nobody_meets_an_error(script):
    code, found = script("two_writers.py", "--pulls", 25)
    assert [one["faults"] for one in found.values()] == [[], []]
    assert code == 0
    assert (found["own pulls"]["stored"], found["the same pulls"]["stored"]) == (50, 25)
    assert found["own pulls"]["reads"] > 5


def test_without_the_lock_taken_at_once_users_meet_errors(script):
    code, found = script("two_writers.py", "--pulls", 40, "--broken", "deferred")
    assert code == 1
    assert any("database is locked" in fault for fault in found["own pulls"]["faults"])
