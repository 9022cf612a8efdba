"""What a reader must know before leaning on an answer."""

from collections.abc import Sequence
from math import log
from statistics import median
from typing import Final

import numpy as np

from model.base.constants import SETTLED_MIN_PULLS
from model.base.percents import percent_words
from model.outcomes.prediction import sigmoid
from model.posterior.posterior import Posterior
from model.questions.anchor_terms import anchor_terms
from model.questions.effect import MeasureDraws, Predictions, band_shares
from model.questions.sensitivity import (
    TOLD_BY,
    TermAtPrior,
    depends_on_scope,
    doubled_prior_weights,
    own_share,
    terms_at_prior,
)
from model.questions.sentence import listed
from model.questions.settling import is_about_one_more
from model.questions.sides import SidePull, is_at_scope, question_seabeds, reach_kn
from model.questions.telling import Telling, most_telling
from model.questions.weights import pareto_limit
from model.records.answer import Flag
from model.records.campaign import Campaign, Ladder
from model.records.pull import Bite, Pull, Reading, Start
from model.records.question import Measure, Question

OWN_SHARE_MIN: Final = 1 / 3
"""Below it an answer rests on other anchors' pulls more than on its own."""

PRIOR_SHIFT_MAX: Final = 0.1
"""A chance that moves by this much when the prior is doubled is owed to the prior as well."""

READ_ON_SOME: Final = {
    Measure.BURIED: "had its buried rode measured",
    Measure.TURNS: "was turned",
}
"""Measures that not every pull tells of, and what such a pull lacks."""

MOSTLY_ALIKE_REMOVES: Final = 3
"""Steps between two specimens up to which their effects' correlation (0.8 a step) is above 0.5."""

LEAST_TOLD: Final = 0.01
"""Of the doubt: a single pull that tells less is not worth naming."""

QUICK: Final = "quick"
"""Code of the flag of a quick answer, which names the pulls that it has weighed in."""

JUMP_RANGE: Final = (0.82, 0.97)
"""Where P(upright) is near nine in ten, the nine-in-ten load jumps from mode to mode."""


def find_flags(
    posterior: Posterior,
    question: Question,
    draws: MeasureDraws,
    sides: Predictions,
    a: SidePull,
    b: SidePull,
    pulls: Sequence[Pull],
) -> tuple[Flag, ...]:
    """Every flag that applies, in order of weight; `pulls` are all that the posterior rests on."""
    campaign = posterior.campaign
    texts = {
        "never_pulled": _never_pulled(a, b),
        "few_pulls": _few_pulls(a, b),
        "between_days_only": _between_days(a, b),
        "other_boats": _other_boats(campaign, question, a, b),
        "beyond_the_boat": _beyond_the_boat(campaign, question, a, b),
        "rests_on_other_pulls": _rests_on_others(posterior, question, draws, a, b),
        "nothing_read": _nothing_read(question, a, b),
        "buried_on_every_seabed": _buried_everywhere(campaign, question, pulls),
        "modes_assumed": _modes_assumed(a, b),
        "band_narrower_than_ladder": _band_and_ladder(campaign, question, a, b),
        "adds_over_scope": _scope(campaign, question, a, b),
        "terms_at_prior": _at_prior(posterior, question, draws, sides, pulls),
        "leans_on_the_prior": _leans(posterior, question, draws),
        "jumps_between_modes": _jumps(question, sides),
        "kin": _kin(campaign, question),
        "alike_in_kind": _alike(campaign, question),
        QUICK: _quick(posterior),
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


def _other_boats(campaign: Campaign, question: Question, a: SidePull, b: SidePull) -> str:
    """What a boat reads wrong cancels between two sides only where it pulled them alike."""
    if not question.measure.is_load and question.hold_kn is None:
        return ""
    by_a, by_b = _boats_that_read(campaign, a), _boats_that_read(campaign, b)
    if not by_a or not by_b:
        return ""
    alone = [
        f"{name} alone has pulls by {' and '.join(_with_error(campaign, boat) for boat in odd)}"
        for name, boats in (("A", by_a - by_b), ("B", by_b - by_a))
        if (odd := [boat for boat in sorted(boats) if campaign.boat(boat).calibration_error])
    ]
    if not alone:
        return ""
    return (
        f"Pulled by other boats: {', '.join(alone)}. What they read wrong does not cancel; the "
        "interval counts it."
    )


def _boats_that_read(campaign: Campaign, side: SidePull) -> set[str]:
    """Boats that pulled a side and read a load; of what never set none was read."""
    return {campaign.outing(pull.outing).boat for pull in side.used if pull.has_set}


def _with_error(campaign: Campaign, boat: str) -> str:
    return f"{boat} (± {100 * campaign.boat(boat).calibration_error:.2g} %)"


def _beyond_the_boat(campaign: Campaign, question: Question, a: SidePull, b: SidePull) -> str:
    reached_kn = reach_kn(campaign, (*a.used, *b.used))[1]
    if question.hold_kn is not None and question.hold_kn > reached_kn:
        return "The load is more than any of these pulls could reach: belief, not reading."
    if question.measure not in {Measure.TYPICAL, Measure.BEST, Measure.NINE_IN_TEN}:
        return ""
    names = [name for name, side in (("A", a), ("B", b)) if side.has_only_held]
    if not names:
        return ""
    who = " and ".join(names)
    return f"Every pull of {who} held the boat's most: its load above that is belief, not reading."


def _rests_on_others(
    posterior: Posterior, question: Question, draws: MeasureDraws, a: SidePull, b: SidePull
) -> str:
    """Not of one more pull or anchor: chance makes most of what it does, and no pull tells that."""
    if is_about_one_more(question):
        return ""
    own = {pull.id for pull in (*a.used, *b.used)}
    share = own_share(posterior, own, draws.effect)
    if share is None or share >= OWN_SHARE_MIN:
        return ""
    return f"Rests on other pulls: only {100 * share:.0f} % of what is known is by A's and B's."


def _nothing_read(question: Question, a: SidePull, b: SidePull) -> str:
    """Buried rode and turns are read on some pulls only."""
    words = READ_ON_SOME.get(question.measure)
    if words is None:
        return ""
    names = [
        name
        for name, side in (("A", a), ("B", b))
        if side.used and not any(was_read(question.measure, pull) for pull in side.used)
    ]
    if not names:
        return ""
    return f"No pull of {' or '.join(names)} {words}: predicted from the others and the priors."


def was_read(measure: Measure, pull: Pull) -> bool:
    """Whether a pull tells anything of buried rode, or of turns."""
    if measure is Measure.TURNS:
        return any(bite.start is Start.AFTER_TURN for bite in pull.bites)
    return any(bite.buried is not None for bite in pull.bites)


def _buried_everywhere(campaign: Campaign, question: Question, pulls: Sequence[Pull]) -> str:
    """The seabed is named in the answer, and the model has none in the length of buried rode."""
    if question.measure is not Measure.BURIED:
        return ""
    read = {pull.seabed for pull in pulls if not pull.is_void and was_read(question.measure, pull)}
    if not read or len(read.union(question_seabeds(campaign, question))) == 1:
        return ""
    names = " and ".join(seabed.name for seabed in campaign.seabeds if seabed.name in read)
    return f"Buried rode is taken to be alike on every seabed; lengths were read on {names}."


def _modes_assumed(a: SidePull, b: SidePull) -> str:
    pulls = (*a.used, *b.used)
    if not pulls or any(bite.mode is not None for pull in pulls for bite in pull.bites):
        return ""
    return "Modes assumed, not seen: no pull of either side has its setting mode noted."


def _band_and_ladder(campaign: Campaign, question: Question, a: SidePull, b: SidePull) -> str:
    steps = [
        step
        for pull in (*a.used, *b.used)
        for bite in pull.bites
        if (step := _log_step(campaign.ladder_of(pull.outing), bite)) is not None
    ]
    if not question.measure.is_load or not steps:
        return ""
    if log(question.band.upper / question.band.lower) >= median(steps):
        return ""
    return "The band is narrower than the steps at which these pulls let go: it takes many pulls."


def _log_step(ladder: Ladder | None, bite: Bite) -> float | None:
    """Log width of the step at which a bite let go; None where it was no step, or the first."""
    if ladder is None or bite.load_kn is None or not bite.ending.is_release:
        return None
    below = [load_kn for load_kn in ladder.loads_kn if load_kn < bite.load_kn]
    if bite.reading is Reading.PEAK or not below:
        return None
    return log(bite.load_kn / below[-1])


def _scope(campaign: Campaign, question: Question, a: SidePull, b: SidePull) -> str:
    if not depends_on_scope(question.measure):
        return ""
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
        f"{len(off)} of these pulls {were} at another scope: scope and treatment are taken to add "
        "up."
    )


def _at_prior(
    posterior: Posterior,
    question: Question,
    draws: MeasureDraws,
    sides: Predictions,
    pulls: Sequence[Pull],
) -> str:
    of_treatments = terms_at_prior(posterior, question)
    terms = (*of_treatments, *anchor_terms(posterior, question, pulls))
    if not terms:
        return ""
    return f"{_terms_words(terms)} {_told_by_words(terms)}" + _one_more_pull(
        most_telling(posterior, question, draws, sides)
    )


def _terms_words(terms: Sequence[TermAtPrior]) -> str:
    """What is still at its prior, and which anchors at what the others say."""
    named = (
        ("Still at their prior", [term for term in terms if not term.is_by_others]),
        ("Still at what the other anchors say", [term for term in terms if term.is_by_others]),
    )
    return " ".join(f"{where}: {_each_with_all(some)}." for where, some in named if some)


def _each_with_all(terms: Sequence[TermAtPrior]) -> str:
    """Each with all that it acts on, those alike together: ``P9 and W8 (load)``."""
    acts_on: dict[str, list[str]] = {}
    for term in terms:
        acts_on.setdefault(term.of, []).append(term.on)
    alike: dict[str, list[str]] = {}
    for of, on in acts_on.items():
        alike.setdefault(", ".join(on), []).append(of)
    return "; ".join(f"{listed(of)} ({on})" for on, of in alike.items())


def _told_by_words(terms: Sequence[TermAtPrior]) -> str:
    """Pulls that would tell; those that tell of the load once upright tell of the load, too."""
    told: dict[str, list[str]] = {}
    for term in terms:
        told.setdefault(term.told_by, []).append(term.of)
    load, upright = TOLD_BY["treatment_load"], TOLD_BY["treatment_upright_load"]
    left = [of for of in told.get(load, []) if of not in told.get(upright, [])]
    if load in told:
        told[load] = left
    words = "; ".join(by.format(of=" or ".join(ofs)) for by, ofs in told.items() if ofs)
    return f"What would tell: {words}."


def _one_more_pull(found: Telling | None) -> str:
    if found is None or found.share < LEAST_TOLD:
        return ""
    share = percent_words(found.share)
    return (
        f" Of single pulls one of {found.side} with {found.anchor} on {found.seabed} tells most of "
        f"this answer by how it ends: it takes away {share} of the doubt on average."
    )


def _leans(posterior: Posterior, question: Question, draws: MeasureDraws) -> str:
    weights, k = doubled_prior_weights(posterior, question)
    if not k <= pareto_limit(draws.effect.size):
        return "Leans on its prior: the draws cannot tell what a prior twice as wide would say."
    before, after = (band_shares(draws.effect, question.band, these) for these in (None, weights))
    moved = max(
        abs(getattr(after, region) - getattr(before, region))
        for region in ("above", "inside", "below")
    )
    if moved < PRIOR_SHIFT_MAX:
        return ""
    return f"Leans on its prior: one twice as wide moves a chance by {100 * moved:.0f} points."


def _jumps(question: Question, sides: Predictions) -> str:
    if question.measure is not Measure.NINE_IN_TEN:
        return ""
    shares = [float(np.median(sigmoid(side.logit_upright))) for side in (sides.a, sides.b)]
    low, high = JUMP_RANGE
    if not any(low <= share <= high for share in shares):
        return ""
    return "With about nine in ten upright, the nine-in-ten load jumps between the two modes."


def _kin(campaign: Campaign, question: Question) -> str:
    """A specimen against the one it was made from, or against another one made from that."""
    codes = [setup.anchor for setup in (question.a, question.b)]
    lines = [(code, *campaign.older_specimens(code)) for code in codes if code is not None]
    if len(lines) < 2 or lines[0][0] == lines[1][0]:
        return ""
    common = next((code for code in lines[0] if code in lines[1]), None)
    if common is None:
        return ""
    made = [line[0] for line in lines if line[0] != common]
    removes = sum(line.index(common) for line in lines)
    share = "most" if removes <= MOSTLY_ALIKE_REMOVES else "part"
    return (
        f"{' and '.join(made)} {'was' if len(made) == 1 else 'were'} made from {common}: {share} "
        "of what sets anchors apart is taken to be the same in both."
    )


def _alike(campaign: Campaign, question: Question) -> str:
    if question.a.anchor is not None:
        return ""
    made = [anchor.code for anchor in campaign.anchors if anchor.modified_from is not None]
    counted = (
        f" {', '.join(made)} (made from another of them) count{'s' if len(made) == 1 else ''} in "
        "full."
        if made and question.over == "campaign"
        else ""
    )
    return f"In general: takes the anchors to be alike in kind.{counted}"


def _quick(posterior: Posterior) -> str:
    if posterior.weighed is None:
        return ""
    fitted = len(posterior.provenance.pull_ids)
    names = _by_outing(posterior.weighed.pull_ids)
    what = f"weighs {names} into" if names else "rests on"
    return f"Quick: {what} the fit of {fitted} pulls; the full fit is still to come."


def _by_outing(pull_ids: Sequence[str]) -> str:
    """Pulls by their days, as ``day 3/1, 2, 5 and day 4/1``."""
    codes: dict[str, list[str]] = {}
    for name in pull_ids:
        outing, _, code = name.partition("/")
        codes.setdefault(outing, []).append(code)
    return " and ".join(f"{outing}/{', '.join(each)}" for outing, each in codes.items())
