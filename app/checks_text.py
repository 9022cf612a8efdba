"""What the checks found, as text for a terminal of 80 columns."""

from collections.abc import Iterator
from typing import Final

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from app.answer_text import INVENTED
from app.cautions import SHORT
from app.checks_words import CALIBRATION, STATUS_WORDS, by_question, unknown_words
from model.checks.check import Check, Status
from model.service.checks import Checked

STYLES: Final = {Status.PASSED: "green", Status.LOOK: "yellow", Status.FAILED: "bold red",
                 Status.NOT_CHECKED: "dim"}  # fmt: skip
"""The words say it; colours only repeat it."""


def checks_view(found: Checked) -> RenderableType:
    """The verdict first, then each check, then what the pulls cannot say."""
    return Group(*_parts(found))


def _parts(found: Checked) -> Iterator[RenderableType]:
    verdict = found.verdict
    yield Text("Can this be trusted? ", style="bold") + Text(verdict.reason)
    if found.unknown:
        yield Text(unknown_words(found.unknown))
    yield Text("")
    for check in found.checks:
        yield from _check(check)
    spots = by_question(found.found.blind_spots)
    if spots:
        yield Text("What these pulls cannot say", style="bold")
        for question, texts in spots.items():
            yield Padding(Text(f"{question}: {' '.join(texts)}"), (0, 0, 0, 2))
        yield Text("")
    notes = [CALIBRATION, SHORT, *([INVENTED] if found.campaign.is_invented else [])]
    yield Text(" ".join(notes), style="dim")


def _check(check: Check) -> Iterator[RenderableType]:
    word = STATUS_WORDS[check.status]
    yield Text(f"{word:<7}", style=STYLES[check.status]) + Text(f" {check.title}?", style="bold")
    yield Padding(Text(check.reason), (0, 0, 0, 8))
    if check.remedy:
        yield Padding(Text(check.remedy, style="italic"), (0, 0, 0, 8))
    yield Text("")
