"""Words about checks, for the terminal and for pages."""

from collections.abc import Sequence
from typing import Final

from model.checks.blind_spots import BlindSpot
from model.checks.check import Status

STATUS_WORDS: Final = {
    Status.PASSED: "passed",
    Status.LOOK: "look",
    Status.FAILED: "failed",
    Status.NOT_CHECKED: "not checked",
}
"""What a check has come to, as it is printed."""
CALIBRATION: Final = (
    "These checks look at this campaign alone. How often chances and intervals like these are "
    "right over many campaigns is measured apart; tests/RESULTS.md of the project has the figures."
)


def unknown_words(unknown: Sequence[str]) -> str:
    """Which standing questions were not checked; empty where all were."""
    if not unknown:
        return ""
    return (
        f"Not checked, as the newest fit does not know all that they ask about: "
        f"{'; '.join(unknown)}. Run `kedgewise fit`, and check again."
    )


def by_question(spots: Sequence[BlindSpot]) -> dict[str, list[str]]:
    """What the pulls cannot say, by the question's name."""
    found: dict[str, list[str]] = {}
    for spot in spots:
        found.setdefault(spot.question, []).append(spot.text)
    return found
