"""How often it was so among a side's own pulls, and how far apart two such shares may lie."""

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
from scipy.special import betainc

from model.arrays.campaign_arrays import bites_that_count
from model.arrays.ranges import capacity_range
from model.questions.alone import EffectAlone
from model.questions.answer import OwnCount
from model.records.campaign import Campaign
from model.records.pull import Ending, ModeSeen, Pull, Start
from model.records.question import Measure, Question

CELLS: Final = 1000
"""Of a chance from 0 to 1: a tenth of a percentage point."""

SHARE_PRIOR: Final = (1.0, 1.0)
"""Beta prior of each side's chance: each one as likely as any other."""

Tries = list[bool | None]
"""One entry a try: whether it was so; None where that cannot be told."""


def _upright(_campaign: Campaign, _question: Question, pull: Pull) -> Tries:
    """First bites as they were seen: how an anchor dug in again says nothing of how it sets."""
    if not pull.has_set:
        return []
    mode = pull.bites[0].mode
    return [None if mode is None else mode is ModeSeen.UPRIGHT]


def _sets(_campaign: Campaign, _question: Question, pull: Pull) -> Tries:
    return [pull.has_set]


def _resets(_campaign: Campaign, _question: Question, pull: Pull) -> Tries:
    """One try each time it let go under thrust; where the crew took that off nobody knows."""
    again: Tries = [True for bite in pull.bites if bite.start is Start.AFTER_SLIP]
    stopped: Tries = [None for bite in pull.bites if bite.ending is Ending.RELEASED_THEN_STOPPED]
    is_gone = pull.ending is Ending.RELEASED and bites_that_count(pull)[-1] is None
    return [*again, *stopped, *([False] if is_gone else [])]


def _turns(_campaign: Campaign, _question: Question, pull: Pull) -> Tries:
    return [
        bite.ending is not Ending.NEVER_SET for bite in pull.bites if bite.start is Start.AFTER_TURN
    ]


def _holds(campaign: Campaign, question: Question, pull: Pull) -> Tries:
    """At its first release; not told where it ended below, or let go at a step around the load."""
    if not pull.has_set or question.hold_kn is None:
        return [False]
    boat = campaign.boat(campaign.outing(pull.outing).boat)
    ladder = campaign.ladder_of(pull.outing)
    found = capacity_range(pull.bites[0], ladder, 0.0, boat.top_thrust_kn)
    if found.lower_kn >= question.hold_kn:
        return [True]
    return [False] if found.upper_kn <= question.hold_kn else [None]


TRIES: Final[dict[Measure, Callable[[Campaign, Question, Pull], Tries]]] = {
    Measure.UPRIGHT: _upright,
    Measure.SETS: _sets,
    Measure.RESETS: _resets,
    Measure.TURNS: _turns,
    Measure.HOLD: _holds,
}
"""By chance: what counts as a try of a pull, and whether it was so."""


def own_count(
    campaign: Campaign, question: Question, pulls: Sequence[Pull], *, n_aside: int = 0
) -> OwnCount:
    """How often it was so among some used pulls, for a chance that is in :data:`TRIES`.

    Parameters
    ----------
    n_aside : int
        Pulls that are left out whatever they were, as those at another scope.
    """
    tries = [one for pull in pulls for one in TRIES[question.measure](campaign, question, pull)]
    told = [one for one in tries if one is not None]
    left_out = len(tries) - len(told) + n_aside
    return OwnCount(count=len(told), so=sum(told), left_out=left_out)


def share_difference(a: OwnCount, b: OwnCount) -> EffectAlone:
    """Difference of two chances, each from its own count under :data:`SHARE_PRIOR`."""
    edges = np.linspace(0.0, 1.0, CELLS + 1)
    masses = []
    for side in (a, b):
        so = side.so or 0
        above, below = SHARE_PRIOR[0] + so, SHARE_PRIOR[1] + side.count - so
        masses.append(np.diff(betainc(above, below, edges)))
    weight = np.correlate(masses[0], masses[1], mode="full")
    effect = np.arange(-(CELLS - 1), CELLS) / CELLS
    return EffectAlone(effect=effect, weight=weight / weight.sum())
