"""What a check says, and what all of them come to."""

import pytest

from model.checks.check import (
    FAIL_RATE,
    LOOK_RATE,
    Check,
    Status,
    chance_words,
    not_checked,
    roll_up,
    status_at,
    worst,
)
from model.checks.fit import fit_check
from model.posterior.posterior import FitCheck

PASSED = FitCheck(
    status="passed",
    divergences=0,
    rhat_max=1.004,
    bfmi_min=0.9,
    ess_bulk_min=900.0,
    ess_tail_min=700.0,
)


def one(status, title="is it so"):
    return Check(name="x", title=title, status=status, reason="because")


def test_the_gravest_check_is_the_verdict():
    both = [one(Status.PASSED), one(Status.LOOK, "does it hang on one pull")]
    assert roll_up(both).status is Status.LOOK
    assert "does it hang on one pull" in roll_up(both).reason
    assert roll_up([*both, one(Status.FAILED, "did it work")]).status is Status.FAILED
    assert "did it work" in roll_up([*both, one(Status.FAILED, "did it work")]).reason
    assert "proves nothing" in roll_up([one(Status.PASSED)] * 3).reason
    assert worst([]) is Status.PASSED


def test_what_was_not_checked_is_not_counted_as_passed():
    blank = not_checked("y", "is it", "No pull tells of this")
    assert blank.reason == "No pull tells of this: not checked."
    found = roll_up([one(Status.PASSED), one(Status.PASSED), blank])
    assert found.status is Status.PASSED
    assert "all 2 checks passed, 1 could not be made" in found.reason
    assert roll_up([one(Status.LOOK), blank]).status is Status.LOOK
    assert roll_up([blank]).status is Status.NOT_CHECKED


def test_the_stated_rates_are_where_the_words_change():
    assert status_at(LOOK_RATE) is Status.PASSED
    assert status_at(0.999 * LOOK_RATE) is Status.LOOK
    assert status_at(FAIL_RATE) is Status.LOOK
    assert status_at(0.999 * FAIL_RATE) is Status.FAILED


@pytest.mark.parametrize(
    ("p", "words"),
    [
        (1.0, "in nearly every campaign"),
        (0.6, "in 6 of 10 campaigns"),
        (0.35, "in 4 of 10"),
        (0.34, "once in 3"),
        (0.025, "once in 40"),
        (1e-5, "less than once in 1000"),
    ],
)
def test_chances_in_campaigns(p, words):
    assert words in chance_words(p)


def test_the_fit_check_is_told_in_words():
    found = fit_check(PASSED)
    assert found.status is Status.PASSED
    assert "1.004" in found.reason
    assert "700 effective draws" in found.reason


def test_a_fit_that_failed_or_a_newer_one_that_did_fails():
    bad = PASSED.model_copy(update={"status": "failed", "reasons": ("12 divergent draws",)})
    assert fit_check(bad).status is Status.FAILED
    assert "12 divergent draws" in fit_check(bad).reason
    newer = fit_check(PASSED, ["chains disagree"])
    assert newer.status is Status.FAILED
    assert "chains disagree" in newer.reason
    assert newer.remedy
