"""A question rehearsed before it is pulled: policies side by side, and true effects one by one."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from model.base.errors import InputError
from model.base.progress import Progress
from model.records.answer import NotYet
from model.service.next_pulls import DAY_HOURS, PAIRS, pulls_a_day, require_hours
from model.service.planning_start import Begun, Wish, begin
from model.store.store import Store

if TYPE_CHECKING:
    from model.planning.outlook import Outlook
    from model.planning.policies import Policy
    from model.planning.rehearsed import Rehearsed
    from model.planning.start import Start

CAMPAIGNS: Final = (10, 5000)
"""Least and most campaigns that a rehearsal may have."""
MOST_PULLS: Final = 200
MOST_JOBS: Final = 64


@dataclass(frozen=True, kw_only=True)
class Rehearsal:
    """What came of it.

    Parameters
    ----------
    by_policy : tuple of Rehearsed
        Truths from what is believed now, one for each way to choose.
    by_effect : tuple of (float, Rehearsed)
        Chosen by what pulls tell, for true effects from one side of the band to the other; the
        effect on the scale of the band's ends. Empty where they were not asked for.
    outlook : Outlook
        Of the first way to choose: whether to go on.
    """

    begun: Begun
    by_policy: "tuple[Rehearsed, ...]"
    by_effect: "tuple[tuple[float, Rehearsed], ...]"
    outlook: "Outlook"


def rehearse_question(  # noqa: PLR0913 - each is an option of its own
    store: Store,
    wish: Wish,
    *,
    hours: float = DAY_HOURS,
    n_campaign: int = 100,
    most_pulls: int = 24,
    seed: int = 1,
    n_jobs: int = 1,
    has_effects: bool = True,
    progress: Progress | None = None,
) -> Rehearsal | NotYet:
    """Rehearse the main question of a wish.

    Parameters
    ----------
    has_effects : bool
        Also for one true effect after the other, which takes twice as long again.

    Raises
    ------
    InputError
        If there are too few or too many campaigns, pulls, processes or hours.
    UnknownName, FitFailed, StoreError, PosteriorInvalid
        See :func:`model.service.planning_start.begin`.
    """
    _require_within("campaigns", n_campaign, *CAMPAIGNS)
    _require_within("pulls", most_pulls, 2, MOST_PULLS)
    if n_jobs != -1:
        _require_within("processes", n_jobs, 1, MOST_JOBS)
    require_hours(hours)
    begun = begin(store, wish)
    if isinstance(begun, NotYet):
        return begun
    from model.planning.outlook import outlook
    from model.planning.policies import UNIT
    from model.planning.ranking import best_pairs, rank
    from model.planning.rehearsal import Settings
    from model.planning.sweep import Task, by_effect, effects_of, possible, sweep

    kept, pairs = best_pairs(begun.start, rank(begun.start, last=begun.last), PAIRS)
    settings = Settings(
        n_campaign=n_campaign,
        most_pulls=UNIT * -(-most_pulls // UNIT),
        pulls_a_day=pulls_a_day(begun, hours),
        seed=seed,
    )
    policies = policies_of(kept, pairs)
    effects = possible(kept, effects_of(kept.main.question.band))
    tasks = [Task(policy=policy, settings=settings) for policy in policies]
    if has_effects:
        tasks += by_effect(policies[0], settings, effects)
    found = sweep(kept, tasks, n_jobs=n_jobs, progress=progress)
    n = len(policies)
    return Rehearsal(
        begun=begun,
        by_policy=found[:n],
        by_effect=tuple(zip(effects, found[n:], strict=True)) if has_effects else (),
        outlook=outlook(kept, found[0], begun.main_standing),
    )


def policies_of(start: "Start", pairs: object) -> "tuple[Policy, ...]":
    """Ways to choose among the candidates of a start: the first by what pulls tell."""
    import numpy as np

    from model.planning.policies import Alternate, Informative, Rotate

    both = np.asarray(pairs)
    first, second = (int(index) for index in both[0])
    return (
        Informative(start=start, pairs=both),
        Informative(start=start, pairs=both, per_hour=True),
        Rotate(candidates=range(len(start.candidates))),
        *((Alternate(first=first, second=second),) if first != second else ()),
    )


def _require_within(what: str, given: int, least: int, most: int) -> None:
    if not least <= given <= most:
        raise InputError(f"{given} {what} for a rehearsal", hint=f"Between {least} and {most}.")
