"""The rule by which an answer is settled, and the first reason why it is not."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.constants import SETTLED_MIN_PULLS, SETTLED_PROB
from model.base.percents import percent_words
from model.posterior.posterior import Posterior
from model.questions.effect import BandShares, band_ends
from model.questions.monte_carlo import indicator_mcse
from model.questions.sensitivity import finding_of, survives_doubling
from model.records.answer import AnswerSummary, Finding, PullsSummary
from model.records.question import Measure, Question

Array = NDArray[np.float64]

NOTHING_DIFFERS: Final = "the model knows of nothing by which the two sides could differ in this"
"""Why there is no finding where the effect is none in every draw."""

MCSE_MARGIN: Final = 2.0
"""A probability this many Monte Carlo standard errors from its threshold is not on one side."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """A finding and, where it is not settled, the first reason in plain words."""

    finding: Finding
    reason: str


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What the rule looks at; `candidate` is the finding of this look's draws alone."""

    posterior: Posterior
    question: Question
    effect: Array
    shares: BandShares
    pulls: PullsSummary
    looks: Sequence[AnswerSummary]
    reached_kn: float
    candidate: Finding


def settle(
    posterior: Posterior,
    question: Question,
    effect: Array,
    shares: BandShares,
    pulls: PullsSummary,
    looks: Sequence[AnswerSummary],
    reached_kn: float,
) -> Verdict:
    """Apply the rule: every one of ``CONDITIONS`` must hold.

    Settled needs 0.95 for one region at this look and at the one before it,
    six pulls a side, a shared day, a margin of Monte Carlo error, and a
    finding that stands when the prior of the treatment effect is doubled.
    `reached_kn` is the strongest top step behind the two sides, kN.
    """
    candidate = finding_of(shares, SETTLED_PROB)
    evidence = Evidence(
        posterior=posterior,
        question=question,
        effect=effect,
        shares=shares,
        pulls=pulls,
        looks=looks,
        reached_kn=reached_kn,
        candidate=candidate,
    )
    found = (condition(evidence) for condition in CONDITIONS)
    reason = next((reason for reason in found if reason), "")
    return Verdict(finding=Finding.NOT_SETTLED if reason else candidate, reason=reason)


def is_about_one_more(question: Question) -> bool:
    """Whether a question is about one more anchor or pull: a chance, never a finding."""
    return question.over == "next" or question.measure is Measure.NEXT


def _is_about_what_is(evidence: Evidence) -> str:
    if is_about_one_more(evidence.question):
        return "what one more anchor or pull does is a chance, never a finding"
    return ""


def _lets_the_sides_differ(evidence: Evidence) -> str:
    """No draw differs from another: an equality that was put in must not come out as a finding."""
    if np.ptp(evidence.effect) == 0.0:
        return NOTHING_DIFFERS
    return ""


def _is_within_reach(evidence: Evidence) -> str:
    """A chance to hold what no pull ever tried comes from the model's tail alone."""
    hold_kn = evidence.question.hold_kn
    if hold_kn is None or hold_kn <= evidence.reached_kn:
        return ""
    return "the load is more than any of these pulls could reach"


def _reaches_the_threshold(evidence: Evidence) -> str:
    if evidence.candidate is not Finding.NOT_SETTLED:
        return ""
    shares = evidence.shares
    share, name = max(
        (shares.inside, "no practical difference"),
        (shares.above, "higher beyond the band"),
        (shares.below, "lower beyond the band"),
    )
    return f"{name} is the likeliest with {percent_words(share)}, and a finding needs 95 %"


def _has_enough_pulls(evidence: Evidence) -> str:
    if min(evidence.pulls.a.count, evidence.pulls.b.count) < SETTLED_MIN_PULLS:
        return f"fewer than {SETTLED_MIN_PULLS} pulls on a side"
    return ""


def _shares_a_day(evidence: Evidence) -> str:
    if evidence.pulls.shared_outings == 0:
        return "the two sides were never pulled on the same day"
    return ""


def _is_clear_of_simulation_error(evidence: Evidence) -> str:
    region = _region(evidence.effect, evidence.question, evidence.candidate)
    margin = MCSE_MARGIN * indicator_mcse(region, evidence.posterior)
    if region.mean() - margin < SETTLED_PROB:
        return "too close to 95 % for the number of draws"
    return ""


def _stands_under_a_wider_prior(evidence: Evidence) -> str:
    survives = survives_doubling(
        evidence.posterior, evidence.question, evidence.effect, evidence.candidate, SETTLED_PROB
    )
    if survives is None:
        return "the draws cannot tell whether it stands under a wider prior"
    return "" if survives else "it does not stand when the prior of the effect is twice as wide"


def _was_so_at_the_last_look(evidence: Evidence) -> str:
    if not evidence.looks and evidence.question not in evidence.posterior.campaign.questions:
        return "a finding needs two looks running, and only a standing question is looked at again"
    if not evidence.looks:
        return "this is the first look, and a finding needs two running"
    if look_finding(evidence.looks[-1]) is not evidence.candidate:
        return "the look before this one did not say so, and a finding needs two running"
    return ""


CONDITIONS: Final[tuple[Callable[[Evidence], str], ...]] = (
    _is_about_what_is,
    _lets_the_sides_differ,
    _is_within_reach,
    _reaches_the_threshold,
    _has_enough_pulls,
    _shares_a_day,
    _is_clear_of_simulation_error,
    _stands_under_a_wider_prior,
    _was_so_at_the_last_look,
)
"""What a finding needs, in the order in which reasons are named; each says why not, or nothing."""


def _region(effect: Array, question: Question, finding: Finding) -> Array:
    lower, upper = band_ends(question.band)
    if finding is Finding.HIGHER:
        return (effect > upper).astype(float)
    if finding is Finding.LOWER:
        return (effect < lower).astype(float)
    return ((effect >= lower) & (effect <= upper)).astype(float)


def look_finding(look: AnswerSummary) -> Finding:
    """What the draws of a kept answer alone said: the region that held 0.95, if one did."""
    shares = BandShares(
        higher=look.p_higher,
        above=look.p_above_band,
        inside=look.p_inside_band,
        below=look.p_below_band,
    )
    return finding_of(shares, SETTLED_PROB)
