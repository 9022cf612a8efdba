"""Answer a question from stored draws."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.outcomes.prediction import sigmoid
from model.posterior.posterior import Posterior
from model.questions.answer import Alone, Answer, MeasureRow, Multiples, Side
from model.questions.effect import (
    UNITS,
    MeasureDraws,
    Predictions,
    band_ends,
    band_shares,
    effect_estimate,
    estimate,
    measure_draws,
    predictions,
    side_estimate,
)
from model.questions.flags import READ_ON_SOME, find_flags, was_read
from model.questions.own_pulls import alone_of
from model.questions.passed import require_passed
from model.questions.sensitivity import is_as_wide_as_prior, is_scope_at_prior
from model.questions.sentence import GIVES, SCOPE_IS_ASSUMED, compose, deeper_words, label, two_ways
from model.questions.settling import is_about_one_more, settle
from model.questions.sides import (
    SidePull,
    question_seabeds,
    reach_kn,
    side_pulls,
    summarise_pulls,
)
from model.questions.split import split_of
from model.questions.together import together_of
from model.records.answer import (
    AnswerSummary,
    BandSummary,
    Effect,
    Flag,
    QuestionSummary,
)
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import DEFAULT_RATIO_BAND, Measure, Question

Array = NDArray[np.float64]

TABLE: Final = (
    Measure.TYPICAL,
    Measure.BEST,
    Measure.CAPPED,
    Measure.NINE_IN_TEN,
    Measure.UPRIGHT,
    Measure.SETS,
    Measure.RESETS,
)
"""Measures of the small table beside every answer."""

SEED: Final = 20_261_124
"""Of what an answer draws beyond the posterior (the next anchor, the next pull):
fixed, so that an answer shown again is the same answer."""


def answer(
    question: Question,
    posterior: Posterior,
    pulls: Sequence[Pull],
    *,
    looks: Sequence[AnswerSummary] = (),
    table: Sequence[Measure] | None = None,
) -> Answer:
    """Answer a question from a posterior.

    Parameters
    ----------
    question : Question
        Its anchors, levels and seabeds must be in the posterior's campaign.
    posterior : Posterior
    pulls : sequence of Pull
        Those the posterior rests on, void ones included.
    looks : sequence of AnswerSummary
        Earlier answers to the same question, oldest first.
    table : sequence of Measure or None
        Measures of the table, None for :func:`measures_told`; without typical and
        best the sentence cannot say that they point two ways, without buried
        not that one goes deeper and holds no more.

    Raises
    ------
    FitFailed
        If the draws failed their fit check.
    """
    require_passed(posterior)
    campaign, rng = posterior.campaign, np.random.default_rng(SEED)
    a, b = (side_pulls(campaign, question, setup, pulls) for setup in (question.a, question.b))
    cap_kn, _ = reach_kn(campaign, (*a.used, *b.used))
    sides = predictions(posterior, question, rng)
    draws = measure_draws(question, question.measure, sides, cap_kn, rng)
    shown = measures_told(pulls) if table is None else table
    rows = {measure: measure_draws(question, measure, sides, cap_kn, rng) for measure in shown}
    alone = alone_of(campaign, question, a, b)
    flags = find_flags(posterior, question, draws, sides, a, b, pulls)
    return Answer(
        question=question,
        summary=_summary(question, posterior, a, b, looks, draws, rows, flags),
        effect_draws=np.exp(draws.effect) if draws.is_ratio else draws.effect,
        a=_side(campaign, question, sides, draws, "a"),
        b=_side(campaign, question, sides, draws, "b"),
        split=split_of(sides) if question.measure is Measure.TYPICAL else None,
        measures=tuple(_row(row) for row in rows.values()),
        multiples=_multiples(draws),
        chances_in_ten=_chances_in_ten(question, posterior, draws, cap_kn, rng),
        alone=alone if isinstance(alone, Alone) else None,
        not_alone=alone if isinstance(alone, str) else "",
        together=together_of(posterior, question, draws, cap_kn, SEED),
    )


def measures_told(pulls: Sequence[Pull]) -> tuple[Measure, ...]:
    """Measures of the table: those of every campaign, and those that some pull tells of."""
    read = (measure for measure in READ_ON_SOME if any(was_read(measure, one) for one in pulls))
    return (*TABLE, *read)


def _summary(
    question: Question,
    posterior: Posterior,
    a: SidePull,
    b: SidePull,
    looks: Sequence[AnswerSummary],
    draws: MeasureDraws,
    rows: dict[Measure, MeasureDraws],
    flags: tuple[Flag, ...],
) -> AnswerSummary:
    campaign = posterior.campaign
    counts = summarise_pulls(a, b)
    shares = band_shares(draws.effect, question.band)
    reached_kn = reach_kn(campaign, (*a.used, *b.used))[1]
    verdict = settle(posterior, question, draws.effect, shares, counts, looks, reached_kn)
    effect = _effect(draws)
    beside = [
        SCOPE_IS_ASSUMED if is_scope_at_prior(posterior, question) else "",
        _other_half(campaign, question, rows),
        _depth(posterior, question, a, b, rows),
    ]
    return AnswerSummary(
        question=_question_summary(campaign, question),
        pulls=counts,
        p_higher=shares.higher,
        p_above_band=shares.above,
        p_inside_band=shares.inside,
        p_below_band=shares.below,
        effect=effect,
        finding=verdict.finding,
        sentence=compose(campaign, question, effect, shares, verdict, beside),
        flags=flags,
        posterior=posterior.summary,
    )


def _question_summary(campaign: Campaign, question: Question) -> QuestionSummary:
    return QuestionSummary(
        name=question.name,
        a=question.a.describe(),
        b=question.b.describe(),
        seabed=", ".join(question_seabeds(campaign, question)),
        measure=question.measure.value,
        band=BandSummary(**question.band.model_dump()),
    )


def _effect(draws: MeasureDraws) -> Effect:
    shown = effect_estimate(draws)
    return Effect(
        kind="ratio" if draws.is_ratio else "difference",
        unit=shown.unit,
        median=shown.median,
        interval=shown.interval,
    )


def _other_half(campaign: Campaign, question: Question, rows: dict[Measure, MeasureDraws]) -> str:
    both = {Measure.TYPICAL, Measure.BEST}
    if question.measure not in both or not both <= set(rows):
        return ""
    higher = {
        measure: band_shares(rows[measure].effect, question.band).higher
        for measure in (Measure.TYPICAL, Measure.BEST)
    }
    name = label(campaign, question.a, question.b)
    return two_ways(name, higher[Measure.TYPICAL], higher[Measure.BEST])


def _depth(
    posterior: Posterior,
    question: Question,
    a: SidePull,
    b: SidePull,
    rows: dict[Measure, MeasureDraws],
) -> str:
    """What buried rode says beside the load, where the two part and the pulls tell of both."""
    about_load = {Measure.TYPICAL, Measure.BEST, Measure.BURIED}
    if question.measure not in about_load or not {Measure.TYPICAL, Measure.BURIED} <= set(rows):
        return ""
    load = Measure.BEST if question.measure is Measure.BEST else Measure.TYPICAL
    if load not in rows or any(side.has_only_held for side in (a, b)):
        return ""
    if is_as_wide_as_prior(posterior, question, rows[load].effect):
        return ""
    band = DEFAULT_RATIO_BAND if question.measure is Measure.BURIED else question.band
    return deeper_words(
        label(posterior.campaign, question.a, question.b),
        rows[Measure.BURIED].effect,
        rows[load].effect,
        band_ends(band)[1],
        GIVES[load],
    )


def _side(
    campaign: Campaign, question: Question, sides: Predictions, draws: MeasureDraws, which: str
) -> Side:
    setup, other = question.a, question.b
    if which == "b":
        setup, other = other, setup
    side = sides.a if which == "a" else sides.b
    own = draws.a if which == "a" else draws.b
    return Side(
        label=label(campaign, setup, other),
        value=side_estimate(own, question.measure),
        load_upright=estimate(np.exp(side.log_upright.mean(axis=1)), UNITS["load"]),
        load_on_side=estimate(np.exp(side.log_on_side.mean(axis=1)), UNITS["load"]),
        p_upright=estimate(sigmoid(side.logit_upright).mean(axis=1), UNITS["chance"]),
        p_sets=estimate(side.p_sets.mean(axis=1), UNITS["chance"]),
    )


def _row(draws: MeasureDraws) -> MeasureRow:
    return MeasureRow(
        measure=draws.measure,
        a=side_estimate(draws.a, draws.measure),
        b=side_estimate(draws.b, draws.measure),
        effect=effect_estimate(draws),
        p_higher=_higher(draws),
    )


def _higher(draws: MeasureDraws) -> float:
    """Chance that the effect is above 0; one that is 0 counts half."""
    return float(np.mean(draws.effect > 0) + 0.5 * np.mean(draws.effect == 0))


def _multiples(draws: MeasureDraws) -> Multiples | None:
    if not draws.measure.is_load:
        return None
    return Multiples(
        p_twice=float(np.mean(draws.effect >= np.log(2.0))),
        p_four_times=float(np.mean(draws.effect >= np.log(4.0))),
    )


def _chances_in_ten(
    question: Question,
    posterior: Posterior,
    draws: MeasureDraws,
    cap_kn: float,
    rng: np.random.Generator,
) -> int | None:
    """Chances that A is higher on one more: the next pull, or the next anchor like these.

    An average over the campaign's anchors can be settled while the next anchor
    stays a chance, so a question in general has both. None for named anchors;
    never 0 or 10, which would read as certain.
    """
    if question.a.anchor is None and not is_about_one_more(question):
        one_more = question.model_copy(update={"over": "next"})
        sides = predictions(posterior, one_more, rng)
        draws = measure_draws(one_more, question.measure, sides, cap_kn, rng)
    elif not is_about_one_more(question):
        return None
    return min(max(round(10 * _higher(draws)), 1), 9)
