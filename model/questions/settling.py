"""The rule by which an answer is settled, and the first reason why it is not."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from arviz_stats.base import array_stats
from numpy.typing import NDArray

from model.base.constants import SETTLED_MIN_PULLS, SETTLED_PROB
from model.posterior.posterior import CHAIN, Posterior
from model.questions.effect import BandShares, band_ends
from model.questions.sensitivity import finding_of, survives_doubling
from model.records.answer import AnswerSummary, Finding, PullsSummary
from model.records.question import Measure, Question

Array = NDArray[np.float64]

MCSE_MARGIN = 2.0
"""A probability this many Monte Carlo standard errors from its threshold is not on one side."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """A finding and, where it is not settled, the first reason in plain words."""

    finding: Finding
    reason: str


def settle(
    posterior: Posterior,
    question: Question,
    effect: Array,
    shares: BandShares,
    pulls: PullsSummary,
    looks: Sequence[AnswerSummary],
) -> Verdict:
    """Apply the rule.

    Settled needs 0.95 for one region at this look and at the one before it,
    three pulls a side, a shared day, a margin of Monte Carlo error, and a
    finding that stands when the prior of the treatment effect is doubled.
    """
    candidate = finding_of(shares, SETTLED_PROB)
    reason = _first_reason(posterior, question, effect, candidate, shares, pulls, looks)
    return Verdict(finding=Finding.NOT_SETTLED if reason else candidate, reason=reason)


def _first_reason(
    posterior: Posterior,
    question: Question,
    effect: Array,
    candidate: Finding,
    shares: BandShares,
    pulls: PullsSummary,
    looks: Sequence[AnswerSummary],
) -> str:
    if question.over == "next" or question.measure is Measure.NEXT:
        return "what one more anchor or pull does is a chance, never a finding"
    if candidate is Finding.NOT_SETTLED:
        largest = max(shares.above, shares.inside, shares.below)
        return f"the likeliest of higher, no difference and lower has {largest:.0%}, not 95 %"
    if min(pulls.a.count, pulls.b.count) < SETTLED_MIN_PULLS:
        return f"fewer than {SETTLED_MIN_PULLS} pulls on a side"
    if pulls.shared_outings == 0:
        return "the two sides were never pulled on the same day"
    region = _region(effect, question, candidate)
    if region.mean() - MCSE_MARGIN * indicator_mcse(region, posterior) < SETTLED_PROB:
        return "too close to 95 % for the number of draws"
    survives = survives_doubling(posterior, question, effect, candidate, SETTLED_PROB)
    if survives is None:
        return "the draws cannot tell whether it stands under a wider prior"
    if not survives:
        return "it does not stand when the prior of the effect is doubled"
    if not looks:
        return "this is the first look; a finding needs two running"
    if _look_finding(looks[-1]) is not candidate:
        return "the look before this one did not say so; a finding needs two running"
    return ""


def _region(effect: Array, question: Question, finding: Finding) -> Array:
    lower, upper = band_ends(question.band)
    if finding is Finding.HIGHER:
        return (effect > upper).astype(float)
    if finding is Finding.LOWER:
        return (effect < lower).astype(float)
    return ((effect >= lower) & (effect <= upper)).astype(float)


def _look_finding(look: AnswerSummary) -> Finding:
    shares = BandShares(
        higher=look.p_higher,
        above=look.p_above_band,
        inside=look.p_inside_band,
        below=look.p_below_band,
    )
    return finding_of(shares, SETTLED_PROB)


def indicator_mcse(indicator: Array, posterior: Posterior) -> float:
    """Monte Carlo standard error of a probability, from the effective size of its indicator."""
    p = float(indicator.mean())
    if p in (0.0, 1.0):
        return 1 / indicator.size  # no draw outside: at most a few, if one had more draws
    n_chain = len(np.unique(posterior.draws[CHAIN].to_numpy()))
    by_chain = indicator.reshape(n_chain, -1)
    ess = float(array_stats.ess(by_chain, method="mean", chain_axis=0, draw_axis=1))
    return float(np.sqrt(p * (1 - p) / ess))
