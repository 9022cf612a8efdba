"""One check in plain words, and what all of them come to."""

from collections.abc import Sequence
from enum import StrEnum
from typing import Final

from model.records.base import Record

LOOK_RATE: Final = 0.05
"""Level of a test from which a look is due.

The share of right models that is called "look" where the test knows nothing of the pulls that it
looks at. A posterior knows them: twice the level is then the most it can be (Meng 1994), and most
often it is less.
"""
FAIL_RATE: Final = 0.001
"""The same of "failed": beyond it chance is no explanation that a reader would take."""


class Status(StrEnum):
    """What a check has come to."""

    PASSED = "passed"
    LOOK = "look"
    FAILED = "failed"
    NOT_CHECKED = "not_checked"
    """No pull, or no question, tells of it: neither good nor bad."""


class Check(Record):
    """One check.

    Parameters
    ----------
    name : str
        Short and fixed, for programs.
    title : str
        The question that it answers.
    reason : str
        What was found, with its numbers, in plain words.
    remedy : str
        What to do; empty where nothing is to be done.
    """

    name: str
    title: str
    status: Status
    reason: str
    remedy: str = ""


class Verdict(Record):
    """The one line over all checks."""

    status: Status
    reason: str


def status_at(p: float) -> Status:
    """What a check says of what chance alone would bring about with probability `p`."""
    if p < FAIL_RATE:
        return Status.FAILED
    return Status.LOOK if p < LOOK_RATE else Status.PASSED


def not_checked(name: str, title: str, why: str) -> Check:
    """A check of which nothing could be judged."""
    reason = f"{why}: not checked."
    return Check(name=name, title=title, status=Status.NOT_CHECKED, reason=reason)


NO_PULL: Final = "No pull tells of this"
NO_QUESTION: Final = "There is no standing question"


def worst(found: Sequence[Status]) -> Status:
    """The gravest of some statuses; passed where none of them is a look or failed."""
    return next((one for one in (Status.FAILED, Status.LOOK) if one in found), Status.PASSED)


def roll_up(checks: Sequence[Check]) -> Verdict:
    """What all checks come to: as good as the gravest of those that were made."""
    made = [check for check in checks if check.status is not Status.NOT_CHECKED]
    status = worst([check.status for check in made]) if made else Status.NOT_CHECKED
    named = "; ".join(check.title for check in checks if check.status is status)
    if status is Status.NOT_CHECKED:
        reason = "Nothing could be checked."
    elif status is Status.PASSED:
        left = len(checks) - len(made)
        not_made = f", {left} could not be made" if left else ""
        reason = (
            f"Nothing speaks against it: all {len(made)} checks passed{not_made}. That proves "
            "nothing."
        )
    elif status is Status.LOOK:
        reason = f"With care. Look at: {named}."
    else:
        reason = f"No. Failed: {named}. Do not publish before that is put right."
    return Verdict(status=status, reason=reason)


def chance_words(p: float) -> str:
    """How often chance alone does as much, as ``once in 40 campaigns``."""
    if p >= 0.95:
        return "in nearly every campaign"
    if p >= 0.35:
        return f"in {round(10 * p)} of 10 campaigns"
    if p < FAIL_RATE:
        return f"less than once in {round(1 / FAIL_RATE)} campaigns"
    return f"once in {round(1 / p)} campaigns"
