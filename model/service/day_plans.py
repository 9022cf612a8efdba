"""A day's plan: made, its order of arms kept, made anew from where the day stands."""

import json
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from model.base.progress import Progress
from model.records.answer import NotYet
from model.service.next_pulls import require_hours
from model.service.planning_start import Begun, Wish, begin
from model.store.files import written_whole
from model.store.store import Store

if TYPE_CHECKING:
    from model.planning.day_plan import DayPlan
    from model.planning.rehearsed import Rehearsed

SEEDS_FILE: Final = "day-plans.json"
"""Beside the database: the seed of each day's order, so that a plan made anew keeps its coins."""
CAMPAIGNS: Final = 100
NEW_DAY: Final = "new day"


@dataclass(frozen=True, kw_only=True)
class Day:
    """A plan, and what may come of it.

    Parameters
    ----------
    rehearsed : Rehearsed or None
        The plan pulled to its end many times; None where it has no pulls.
    """

    begun: Begun
    plan: "DayPlan"
    rehearsed: "Rehearsed | None"


def plan(
    store: Store,
    wish: Wish,
    *,
    hours: float,
    seed: int | None = None,
    progress: Progress | None = None,
) -> Day | NotYet:
    """Plan the hours that are left, from where the day stands.

    Parameters
    ----------
    seed : int or None
        Of the order of arms; None for the one kept for this day, or a new one, which is kept.

    Raises
    ------
    InputError
        If the hours are no hours of a day.
    UnknownName, FitFailed, StoreError, PosteriorInvalid
        See :func:`model.service.planning_start.begin`.
    """
    require_hours(hours)
    begun = begin(store, wish)
    if isinstance(begun, NotYet):
        return begun
    from model.planning.day_plan import plan_day

    if progress is not None:
        progress(0.2, "choosing pulls for the day")
    day_seed = _seed(store.folder, _day(begun, wish), _before_it_began(begun, wish), seed)
    found = plan_day(begun.start, 60 * hours, seed=day_seed, last=begun.last, patches=begun.patches)
    if progress is not None:
        progress(0.6, f"rehearsing the plan {CAMPAIGNS} times")
    return Day(begun=begun, plan=found, rehearsed=_rehearsed(begun, found))


def _rehearsed(begun: Begun, found: "DayPlan") -> "Rehearsed | None":
    if not found.pulls:
        return None
    from model.planning.policies import Follow
    from model.planning.rehearsal import Settings, rehearse

    wanted = tuple(dict.fromkeys(pull.candidate for pull in found.pulls))
    start = begun.start.keeping(wanted)
    order = [wanted.index(pull.candidate) for pull in found.pulls]
    settings = Settings(n_campaign=CAMPAIGNS, most_pulls=len(order), pulls_a_day=len(order))
    return rehearse(start, Follow(candidates=order), settings)


def _day(begun: Begun, wish: Wish) -> str:
    """The day's name among those kept; a new one is another after each outing."""
    new = f"{NEW_DAY} after {len(begun.start.campaign.outings)} outings"
    return f"{wish.today or new} / {begun.start.main.question.name}"


def _before_it_began(begun: Begun, wish: Wish) -> str:
    """What the day was called while it had no outing: its order goes on."""
    names = [outing.name for outing in begun.start.campaign.outings]
    before = names.index(wish.today) if wish.today in names else len(names)
    return f"{NEW_DAY} after {before} outings / {begun.start.main.question.name}"


def _seed(folder: Path, day: str, earlier: str, seed: int | None) -> int:
    """The seed of a day: given, kept, or new and kept from now on."""
    path = folder / SEEDS_FILE
    kept = _kept(path)
    found = kept.get(day, kept.get(earlier)) if seed is None else seed
    if found is None:
        found = secrets.randbelow(1_000_000)
    if kept.get(day) != found:
        try:
            with written_whole(path) as temporary:
                temporary.write_text(json.dumps(kept | {day: found}, indent=1) + "\n", "utf-8")
        except OSError:  # a plan can be had from a store that may only be read
            return found
    return found


def _kept(path: Path) -> dict[str, int]:
    try:
        found = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):  # damaged or none: a new coin is as good
        return {}
    if not isinstance(found, dict):
        return {}
    return {str(day): seed for day, seed in found.items() if isinstance(seed, int)}
