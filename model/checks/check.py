"""One check in plain words, and what all of them come to."""

from collections.abc import Sequence
from enum import StrEnum
from typing import Final

from model.records.base import Record

LOOK_RATE: Final = 0.05
"""Share of right models that a check with a false-alarm rate may call "look", at most."""
FAIL_RATE: Final = 0.001
"""The same of "failed": beyond it chance is no explanation that a reader would take."""


class Status(StrEnum):
    """What a check has come to."""

    PASSED = "passed"
    LOOK = "look"
    FAILED = "failed"


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


def worst(found: Sequence[Status]) -> Status:
    """The gravest of some statuses; passed where there are none."""
    return next((one for one in (Status.FAILED, Status.LOOK) if one in found), Status.PASSED)


def roll_up(checks: Sequence[Check]) -> Verdict:
    """What all checks come to: as good as the gravest of them."""
    status = worst([check.status for check in checks])
    named = "; ".join(check.title for check in checks if check.status is status)
    if status is Status.PASSED:
        reason = f"Nothing speaks against it: all {len(checks)} checks passed. That proves nothing."
    elif status is Status.LOOK:
        reason = f"With care. Look at: {named}."
    else:
        reason = f"No. Failed: {named}. Do not publish before that is put right."
    return Verdict(status=status, reason=reason)


def chance_words(p: float) -> str:
    """How often chance alone does as much, as ``once in 40 campaigns``."""
    if p >= 0.4:
        return "in every other campaign"
    if p < FAIL_RATE:
        return f"less than once in {round(1 / FAIL_RATE)} campaigns"
    return f"once in {round(1 / p)} campaigns"
