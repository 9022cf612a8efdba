"""What to pull next, and whether it can settle the question."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from model.base.errors import InputError
from model.base.progress import Progress
from model.records.answer import NotYet
from model.service.planning_start import Begun, Wish, begin
from model.store.store import Store

if TYPE_CHECKING:
    from model.planning.outlook import Outlook
    from model.planning.ranking import Ranking

DAY_HOURS: Final = 6.0
"""Hours of a day on the water where none are given."""
HOURS: Final = (0.25, 24.0)
"""Least and most of them."""
CAMPAIGNS: Final = 100
PAIRS: Final = 6
"""Best pairs that are rehearsed."""
DAYS: Final = 2
"""Days that a chance to settle looks ahead."""


@dataclass(frozen=True, kw_only=True)
class NextPulls:
    """Ranked candidates and pairs, and where they may lead.

    Parameters
    ----------
    outlook : Outlook or None
        None where it was not asked for.
    pulls_a_day : int
        Pulls that a day's hours are enough for.
    """

    begun: Begun
    ranking: "Ranking"
    outlook: "Outlook | None"
    pulls_a_day: int


def next_pulls(
    store: Store,
    wish: Wish,
    *,
    hours: float = DAY_HOURS,
    has_outlook: bool = True,
    seed: int = 1,
    progress: Progress | None = None,
) -> NextPulls | NotYet:
    """Rank what could be pulled next; with the outlook, rehearse two days of the best pairs.

    Raises
    ------
    InputError
        If the hours are no hours of a day.
    UnknownName, InputError, FitFailed, StoreError, PosteriorInvalid
        See :func:`model.service.planning_start.begin`.
    """
    require_hours(hours)
    begun = begin(store, wish)
    if isinstance(begun, NotYet):
        return begun
    from model.planning.outlook import outlook
    from model.planning.policies import Informative
    from model.planning.ranking import best_pairs, rank
    from model.planning.rehearsal import Settings, rehearse

    start = begun.start
    ranking = rank(start, last=begun.last, tried=begun.tried)
    a_day = pulls_a_day(begun, hours)
    found = None
    if has_outlook:
        if progress is not None:
            progress(0.1, f"rehearsing {CAMPAIGNS} campaigns")
        kept, pairs = best_pairs(start, ranking, PAIRS)
        settings = Settings(
            n_campaign=CAMPAIGNS, most_pulls=DAYS * a_day, pulls_a_day=a_day, seed=seed
        )
        rehearsed = rehearse(kept, Informative(start=kept, pairs=pairs), settings)
        found = outlook(kept, rehearsed, begun.main_standing)
    return NextPulls(begun=begun, ranking=ranking, outlook=found, pulls_a_day=a_day)


def require_hours(hours: float) -> None:
    """Refuse hours that no day has.

    Raises
    ------
    InputError
    """
    low, high = HOURS
    if not low <= hours <= high:
        raise InputError(f"{hours:g} hours to plan", hint=f"Between {low:g} and {high:g}.")


def pulls_a_day(begun: Begun, hours: float) -> int:
    """Even number of pulls that a day is enough for, its rig changed before every one."""
    minutes = begun.start.campaign.minutes
    return max(2, 2 * int(60 * hours / (minutes.pull + minutes.rig_change) / 2))


def checkpoints(most_pulls: int, pulls_a_day: int) -> Sequence[int]:
    """Numbers of pulls at which a chance to settle is told."""
    wanted = {pulls_a_day // 2, pulls_a_day, most_pulls // 2, most_pulls}
    return sorted(pulls for pulls in wanted if 0 < pulls <= most_pulls)
