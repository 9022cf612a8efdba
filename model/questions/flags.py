"""What a reader must know before leaning on an answer."""

from math import log
from typing import Final

import numpy as np

from model.base.constants import SETTLED_MIN_PULLS
from model.outcomes.prediction import sigmoid
from model.posterior.posterior import Posterior
from model.questions.effect import MeasureDraws, Predictions
from model.questions.sensitivity import own_share, terms_at_prior
from model.questions.sides import SidePull, is_at_scope
from model.records.answer import Flag
from model.records.campaign import Campaign
from model.records.pull import Ending
from model.records.question import Measure, Question

OWN_SHARE_MIN: Final = 1 / 3
"""Below it an answer rests on other anchors' pulls more than on its own."""

JUMP_RANGE: Final = (0.82, 0.97)
"""Where P(upright) is near nine in ten, the nine-in-ten load jumps from mode to mode."""


def find_flags(
    posterior: Posterior,
    question: Question,
    draws: MeasureDraws,
    sides: Predictions,
    a: SidePull,
    b: SidePull,
) -> tuple[Flag, ...]:
    """Every flag that applies, in order of weight."""
    campaign = posterior.campaign
    texts = {
        "never_pulled": _never_pulled(a, b),
        "few_pulls": _few_pulls(a, b),
        "between_days_only": _between_days(a, b),
        "beyond_the_boat": _beyond_the_boat(question, a, b),
        "rests_on_other_pulls": _rests_on_others(posterior, draws, a, b),
        "modes_assumed": _modes_assumed(a, b),
        "band_narrower_than_ladder": _band_and_ladder(campaign, question),
        "adds_over_scope": _scope(campaign, question, a, b),
        "terms_at_prior": _at_prior(posterior, question),
        "jumps_between_modes": _jumps(question, sides),
        "alike_in_kind": _alike(question),
    }
    return tuple(Flag(code=code, text=text) for code, text in texts.items() if text)


def _never_pulled(a: SidePull, b: SidePull) -> str:
    missing = [name for name, side in (("A", a), ("B", b)) if not side.used]
    if not missing:
        return ""
    return f"No pull of {' or '.join(missing)} yet: predicted from the other pulls."


def _few_pulls(a: SidePull, b: SidePull) -> str:
    fewest = min(len(a.used), len(b.used))
    if fewest == 0 or fewest >= SETTLED_MIN_PULLS:
        return ""
    return f"Only {fewest} used pull{'s' if fewest > 1 else ''} on a side."


def _between_days(a: SidePull, b: SidePull) -> str:
    if not a.used or not b.used or a.outings & b.outings:
        return ""
    return "Between days only: the two sides were never pulled on the same outing."


def _beyond_the_boat(question: Question, a: SidePull, b: SidePull) -> str:
    if question.measure not in {Measure.TYPICAL, Measure.BEST, Measure.NINE_IN_TEN}:
        return ""
    names = [
        name
        for name, side in (("A", a), ("B", b))
        if side.used and all(pull.ending is Ending.HELD for pull in side.used)
    ]
    if not names:
        return ""
    who = " and ".join(names)
    return f"Every pull of {who} held the boat's most: its load above that is belief, not reading."


def _rests_on_others(posterior: Posterior, draws: MeasureDraws, a: SidePull, b: SidePull) -> str:
    own = {pull.id for pull in (*a.used, *b.used)}
    share = own_share(posterior, own, draws.effect)
    if share is None or share >= OWN_SHARE_MIN:
        return ""
    return f"Rests on other pulls: only {100 * share:.0f} % of what is known comes from its own."


def _modes_assumed(a: SidePull, b: SidePull) -> str:
    pulls = (*a.used, *b.used)
    if not pulls or any(bite.mode is not None for pull in pulls for bite in pull.bites):
        return ""
    return "Modes assumed, not seen: no pull of either side has its setting mode noted."


def _band_and_ladder(campaign: Campaign, question: Question) -> str:
    steps = [
        log(after / before)
        for ladder in campaign.ladders
        for before, after in zip(ladder.loads_kn, ladder.loads_kn[1:], strict=False)
    ]
    if question.band.kind != "ratio" or not steps:
        return ""
    width = log(question.band.upper / question.band.lower)
    if width >= min(steps):
        return ""
    return "The band is narrower than the ladder's finest step: many pulls are needed to see in it."


def _scope(campaign: Campaign, question: Question, a: SidePull, b: SidePull) -> str:
    off = [
        pull
        for setup, side in ((question.a, a), (question.b, b))
        for pull in side.used
        if not is_at_scope(campaign, setup, pull)
    ]
    if not off:
        return ""
    were = "was" if len(off) == 1 else "were"
    return (
        f"{len(off)} of its pulls {were} at another scope: scope and treatment are taken to add up."
    )


def _at_prior(posterior: Posterior, question: Question) -> str:
    terms = terms_at_prior(posterior, question)
    return f"Still at their prior: {', '.join(terms)}." if terms else ""


def _jumps(question: Question, sides: Predictions) -> str:
    if question.measure is not Measure.NINE_IN_TEN:
        return ""
    shares = [float(np.median(sigmoid(side.logit_upright))) for side in (sides.a, sides.b)]
    low, high = JUMP_RANGE
    if not any(low <= share <= high for share in shares):
        return ""
    return "With about nine in ten upright, the nine-in-ten load jumps between the two modes."


def _alike(question: Question) -> str:
    if question.a.anchor is not None:
        return ""
    return "In general: takes the anchors to be alike in kind."
