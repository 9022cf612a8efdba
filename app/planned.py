"""What ``kedgewise next``, ``day`` and ``rehearse`` share: their ends, and the page to print."""

from pathlib import Path
from typing import TYPE_CHECKING, Final

from app.asking import no_answer, tell_what_is_behind
from app.day_page import day_page
from model.base.errors import InputError, StoreError
from model.records.answer import NotYet
from model.service.day_plans import Day
from model.service.demo import Demo
from model.service.next_pulls import next_pulls
from model.service.planning_start import Begun, Wish
from model.store.files import written_whole
from model.store.store import Store

if TYPE_CHECKING:
    from model.planning.ranking import Ranked

DEMO_PAIRS: Final = 3
"""Next pulls that the demo ends with."""
PAGE_ENDINGS: Final = (".html", ".htm")


def require_planned[Found](found: Found | NotYet, store_option: str) -> Found:
    """What was planned; ends the command where nothing can be planned yet."""
    if isinstance(found, NotYet):
        raise no_answer(found, store_option)
    return found


def demo_pulls(made: Demo) -> "tuple[Begun, tuple[Ranked, ...]]":
    """The best next pairs of the demo's main question."""
    found = next_pulls(Store.open(made.folder), Wish(), has_outlook=False)
    planned = require_planned(found, "")
    return planned.begun, planned.ranking.pairs[:DEMO_PAIRS]


def tell_behind(opened: Store, begun: Begun, store_option: str) -> None:
    """Say which pulls came after the fit, and that a newer fit failed."""
    posterior = begun.posterior
    is_quick = posterior is not None and posterior.state == "quick"
    tell_what_is_behind(opened, store_option, is_quick=is_quick)


def require_page(path: Path | None) -> None:
    """Refuse to write a page over what is none, before anything is worked out.

    Raises
    ------
    InputError
    """
    if path is not None and path.suffix.lower() not in PAGE_ENDINGS:
        raise InputError(
            f"{path} is no name for a page to print", hint="Let it end in .html, as day.html."
        )
    if path is not None and not path.absolute().parent.is_dir():
        raise InputError(
            f"there is no folder {path.absolute().parent} to write {path.name} in",
            hint="Make it first, or name another.",
        )


def write_page(path: Path, day: Day, hours: float, store_option: str) -> None:
    """Write the page to print, whole; a plan made anew takes the place of the one before.

    Raises
    ------
    InputError
        If no pull fits into the day.
    StoreError
        If it cannot be written.
    """
    if not day.plan.pulls:
        raise InputError(
            f"no pair of pulls fits into {hours:g} hours, so there is nothing to print",
            hint="Give more --hours.",
        )
    try:
        with written_whole(path) as temporary:
            temporary.write_text(day_page(day, hours, store_option), "utf-8")
    except OSError as error:
        raise StoreError(
            f"the page could not be written to {path} ({error})",
            hint="Check the folder, and room and permissions there.",
        ) from error
