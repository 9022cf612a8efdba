"""What the two sides' own pulls say by themselves, beside the pooled answer; or why they cannot."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from model.arrays.campaign_arrays import buried_range
from model.base.constants import INTERVAL_PROB
from model.questions.alone import EffectAlone, Range, buried_effect_alone, effect_alone, first_bites
from model.questions.answer import Alone, Estimate, OwnCount
from model.questions.effect import UNITS
from model.questions.own_shares import TRIES, own_count, share_difference
from model.questions.sensitivity import depends_on_scope
from model.questions.sides import SidePull, is_at_scope, question_seabeds
from model.records.answer import Interval
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Measure, Question

NO_ONE_ANCHOR: Final = "in general there is no one anchor"
NO_ONE_SEABED: Final = "the question is about more than one seabed"


def alone_of(campaign: Campaign, question: Question, a: SidePull, b: SidePull) -> Alone | str:
    """What the two sides' own pulls say; else why they cannot, in a clause.

    Where scope acts on the measure only pulls at the set-up's own: others have no place in one
    mean, nor have other seabeds or anchors. An empty clause for measures that a share or a mean
    of own pulls does not have: best, capped and nine-in-ten loads, and the next pull.
    """
    if question.measure not in {Measure.TYPICAL, Measure.BURIED, *TRIES}:
        return ""
    if question.a.anchor is None:
        return NO_ONE_ANCHOR
    if len(question_seabeds(campaign, question)) != 1:
        return NO_ONE_SEABED
    is_any_scope = not depends_on_scope(question.measure)
    own_a, own_b = (
        [pull for pull in side.used if is_any_scope or is_at_scope(campaign, setup, pull)]
        for setup, side in ((question.a, a), (question.b, b))
    )
    if question.measure is Measure.TYPICAL:
        return _typical(campaign, own_a, own_b)
    if question.measure is Measure.BURIED:
        return _buried(own_a, own_b)
    counts = [
        own_count(campaign, question, own, n_aside=len(side.used) - len(own))
        for own, side in ((own_a, a), (own_b, b))
    ]
    return _chance(*counts)


def _typical(campaign: Campaign, own_a: Sequence[Pull], own_b: Sequence[Pull]) -> Alone | str:
    a, b = first_bites(campaign, own_a), first_bites(campaign, own_b)
    found = effect_alone(a, b)
    return _missing(len(a), len(b)) if found is None else _alone(found, UNITS["ratio"])


def _buried(own_a: Sequence[Pull], own_b: Sequence[Pull]) -> Alone | str:
    """By first bites, as the measure is: what a re-set buries is left out."""
    a_m, b_m = _lengths(own_a), _lengths(own_b)
    found = buried_effect_alone(a_m, b_m)
    if found is None:
        return _missing(len(a_m), len(b_m))
    a, b = (
        OwnCount(count=len(lengths), left_out=sum(pull.has_set for pull in own) - len(lengths))
        for own, lengths in ((own_a, a_m), (own_b, b_m))
    )
    return _alone(found, UNITS["ratio"], a, b)


def _lengths(pulls: Sequence[Pull]) -> list[Range]:
    """Ranges of buried rode of first bites, m."""
    found = [buried_range(pull.bites[0]) for pull in pulls if pull.bites[0].buried is not None]
    return [(each["buried_lower_m"], each["buried_upper_m"]) for each in found]


def _chance(a: OwnCount, b: OwnCount) -> Alone | str:
    if not min(a.count, b.count):
        return _missing(a.count, b.count)
    return _alone(share_difference(a, b), UNITS["chance"], a, b)


def _missing(a: int, b: int) -> str:
    names = [name for name, count in (("A", a), ("B", b)) if not count]
    return f"no pull of {' or '.join(names)} tells of it"


def _alone(
    found: EffectAlone, unit: str, a: OwnCount | None = None, b: OwnCount | None = None
) -> Alone:
    ends = (found.quantile(p) for p in ((1 - INTERVAL_PROB) / 2, 0.5, (1 + INTERVAL_PROB) / 2))
    lower, median, upper = (float(np.exp(end)) if unit == UNITS["ratio"] else end for end in ends)
    interval = Interval(prob=INTERVAL_PROB, lower=lower, upper=upper)
    return Alone(
        effect=Estimate(median=median, interval=interval, unit=unit),
        p_higher=1 - found.cdf(0.0),
        a=a,
        b=b,
    )
