"""The plain sentence, read as a stranger would read it."""

from math import exp, log

import numpy as np
import pytest

from model.base.constants import LOG_CAP
from model.base.likelihood_words import likelihood_words
from model.questions.ask import answer
from model.questions.effect import BandShares
from model.questions.sentence import (
    GIVES,
    SCOPE_IS_ASSUMED,
    chances_in_ten_words,
    compose,
    deeper_words,
    effect_words,
    label,
    two_ways,
)
from model.questions.settling import Verdict
from model.records.answer import Effect, Finding, Interval
from model.records.pull import Bite, Ending
from model.records.question import Measure, Question, SetUp

WIRE = {"leader": "wire 2 m"}
S6, P9 = SetUp(anchor="S6"), SetUp(anchor="P9")
ON_S6 = Question(
    name="leader on S6", a=SetUp(anchor="S6", levels=WIRE), b=S6, seabeds=("firm sand",)
)
OPEN = Verdict(finding=Finding.NOT_SETTLED, reason="this is the first look")
SETTLED = Verdict(finding=Finding.HIGHER, reason="")


def _effect(median, lower, upper, kind="ratio"):
    interval = Interval(prob=0.9, lower=lower, upper=upper)
    return Effect(kind=kind, unit="×", median=median, interval=interval)


def _shares(higher):
    return BandShares(higher=higher, above=higher, inside=0.0, below=1 - higher)


@pytest.fixture
def say(small_campaign):
    def said(question=ON_S6, effect=None, higher=0.93, verdict=OPEN, beside=(), **changes):
        asked = Question.model_validate(question.model_dump() | changes)
        effect = effect or _effect(1.12, 0.98, 1.28)
        return compose(small_campaign, asked, effect, _shares(higher), verdict, beside)

    return said


def test_higher_and_not_settled(say):
    assert say() == (
        "On firm sand, it is very likely (93 %) that S6 with leader: wire 2 m gives a higher "
        "typical load at the first release than with leader: chain only. "
        "Estimate: 12 % higher (90 % interval: 2 % lower to 28 % higher). "
        "Not settled: this is the first look."
    )


def test_what_scope_is_taken_to_do_is_said_in_the_sentence(
    known_posterior, small_pulls, normal_draws
):
    """Virtually certain by the prior's sign alone: a reader must not take it for a find."""
    question = Question(name="scope", a=SetUp(anchor="S6", scope=7.0), b=SetUp(anchor="S6"))
    prior, told = (np.exp(normal_draws(log(2.6), sd)) for sd in (0.4, 0.1))
    said = [
        answer(question, known_posterior({"scope_slope": slope}), small_pulls).summary.sentence
        for slope in (prior, told)
    ]
    assert SCOPE_IS_ASSUMED in said[0]
    assert SCOPE_IS_ASSUMED not in said[1]


def test_lower_and_settled(say):
    verdict = Verdict(finding=Finding.LOWER, reason="")
    assert say(effect=_effect(0.8, 0.72, 0.89), higher=0.002, verdict=verdict) == (
        "On firm sand, it is virtually certain (over 99 %) that S6 with leader: wire 2 m gives a "
        "lower typical load at the first release than with leader: chain only. "
        "Estimate: 20 % lower (90 % interval: 28 % lower to 11 % lower). Settled: lower."
    )


def test_no_difference(say):
    verdict = Verdict(finding=Finding.NO_PRACTICAL_DIFFERENCE, reason="")
    assert say(effect=_effect(1.001, 0.95, 1.052), higher=0.52, verdict=verdict) == (
        "On firm sand, it is about as likely as not (52 %) that S6 with leader: wire 2 m gives a "
        "higher typical load at the first release than with leader: chain only. "
        "Estimate: about equal (90 % interval: 5 % lower to 5 % higher). "
        "Settled: no practical difference."
    )


def test_two_anchors_on_every_seabed(say):
    said = say(Question(name="anchors", a=S6, b=P9, measure=Measure.UPRIGHT),
               effect=_effect(0.12, -0.03, 0.27, "difference"), verdict=SETTLED)  # fmt: skip
    assert said == (
        "Averaged over firm sand and soft mud, it is very likely (93 %) that S6 gives a higher "
        "chance to set upright than P9. Estimate: 12 percentage points higher "
        "(90 % interval: 3 lower to 27 higher). Settled: higher."
    )


def test_in_general(say):
    question = Question(name="in general", a=SetUp(levels=WIRE), b=SetUp(), seabeds=("firm sand",))
    assert say(question).startswith(
        "Averaged over this campaign's anchors, on firm sand, it is very likely (93 %) that "
        "leader: wire 2 m gives a higher typical load at the first release than "
        "leader: chain only. "
    )
    assert say(question, seabeds=()).startswith(
        "Averaged over this campaign's anchors and over firm sand and soft mud, it is very likely "
    )


def test_the_next_anchor_is_chances_in_ten(say):
    question = Question(
        name="next", a=SetUp(levels=WIRE), b=SetUp(), seabeds=("firm sand",), over="next"
    )
    assert say(question, higher=0.71).startswith(
        "For the next anchor like these, on firm sand, it is likely (7 chances in 10) that "
        "leader: wire 2 m gives a higher typical load"
    )
    assert "this campaign's anchors" not in say(question)


@pytest.mark.parametrize(
    ("measure", "words"),
    [
        (Measure.TYPICAL, "a higher typical load at the first release than"),
        (Measure.BEST, "a higher best load of a pull than"),
        (Measure.CAPPED, "a higher typical load, counted only up to the boat's most, than"),
        (Measure.NINE_IN_TEN, "a higher load that nine pulls in ten outhold than"),
        (Measure.HOLD, "a higher chance to hold 3 kN than"),
        (Measure.UPRIGHT, "a higher chance to set upright than"),
        (Measure.SETS, "a higher chance to set at all than"),
        (Measure.RESETS, "a higher chance to dig in again after letting go than"),
        (Measure.NEXT, "a higher load at the first release of its next pull than"),
    ],
)
def test_every_measure_has_its_words(measure, words, say):
    hold = 3.0 if measure is Measure.HOLD else None
    assert f"gives {words} with leader" in say(measure=measure, band=None, hold_kn=hold)


def test_a_load_is_said_in_the_campaigns_own_unit(small_campaign):
    campaign = small_campaign.model_copy(update={"load_unit": "lbf"})
    question = Question(
        name="q", a=S6, b=P9, measure=Measure.HOLD, hold_kn=700 * 4.4482216152605e-3
    )
    effect = _effect(0.1, 0.0, 0.2, "difference")
    assert "to hold 700 lbf than" in compose(campaign, question, effect, _shares(0.9), OPEN)


# --- likelihood scale ----------------------------------------------------------------------------


@pytest.mark.parametrize("higher", [0.0, 0.03, 0.2, 0.499, 0.5, 0.501, 0.8, 0.97, 1.0])
def test_the_likelier_direction_is_named_with_its_own_chance(higher, say):
    said = say(higher=higher)
    chance = max(higher, 1 - higher)
    assert f"it is {likelihood_words(chance)} (" in said
    assert ("gives a higher" in said) == (higher >= 0.5)
    assert "100 %" not in said


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.5, "5 chances in 10"), (0.71, "7 chances in 10"), (0.94, "9 chances in 10"),
     (0.96, "more than 9 chances in 10"), (1.0, "more than 9 chances in 10")],
)  # fmt: skip
def test_chances_in_ten_never_read_as_certain(chance, words):
    assert chances_in_ten_words(chance) == words


# --- sides ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("a", "b", "labels"),
    [
        (S6, P9, ("S6", "P9")),
        (ON_S6.a, S6, ("S6 with leader: wire 2 m", "S6 with leader: chain only")),
        (ON_S6.a, P9, ("S6 with leader: wire 2 m", "P9 with leader: chain only")),
        (SetUp(levels=WIRE), SetUp(), ("leader: wire 2 m", "leader: chain only")),
        (SetUp(anchor="S6", scope=7.0), S6, ("S6 with scope: 7:1", "S6 with scope: 5:1")),
        (SetUp(anchor="S6", scope=5.0), P9, ("S6 with scope: 5:1", "P9")),
        # Named on both sides: no difference, but the reader should know it.
        (
            SetUp(anchor="S6", levels=WIRE),
            SetUp(anchor="P9", levels=WIRE),
            ("S6 with leader: wire 2 m", "P9 with leader: wire 2 m"),
        ),
        (
            SetUp(anchor="S6", levels={**WIRE, "chain": "6 mm"}, scope=4.0),
            S6,
            (
                "S6 with leader: wire 2 m, chain: 6 mm and scope: 4:1",
                "S6 with leader: chain only, chain: 8 mm and scope: 5:1",
            ),
        ),
    ],
)
def test_a_side_names_its_anchor_and_what_sets_it_apart(a, b, labels, small_campaign):
    assert (label(small_campaign, a, b), label(small_campaign, b, a)) == labels


# --- sizes ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (1.0, "about equal"),
        (1.0049, "about equal"),
        (0.9951, "about equal"),
        (1.006, "1 % higher"),
        (0.8, "20 % lower"),
        (1.996, "100 % higher"),
        (2.0, "2.0 times as high"),
        (3.14, "3.1 times as high"),
        (25.0, "25 times as high"),
        (exp(LOG_CAP), "beyond any multiple"),
        (exp(-LOG_CAP), "over 99 % lower"),
    ],
)
def test_ratios_in_words(ratio, words):
    assert effect_words(_effect(ratio, ratio, ratio)).startswith(f"{words} (90 % interval: {words}")


@pytest.mark.parametrize(
    ("difference", "words"),
    [
        (0.0, "about equal (90 % interval: about equal to about equal)"),
        (0.004, "about equal (90 % interval: about equal to about equal)"),
        (-0.08, "8 percentage points lower (90 % interval: 8 lower to 8 lower)"),
        (0.6, "60 percentage points higher (90 % interval: 60 higher to 60 higher)"),
    ],
)
def test_differences_in_words(difference, words):
    assert effect_words(_effect(difference, difference, difference, "difference")) == words


# --- two ways ------------------------------------------------------------------------------------


def test_earlier_at_first_and_better_in_the_end_says_both(say):
    half = two_ways("S6 with leader: wire 2 m", 0.1, 0.85)
    assert half == (
        "It points two ways: S6 with leader: wire 2 m lets go earlier at first (90 %), "
        "yet its pulls reach a higher best load (85 %)."
    )
    assert f" higher). {half} Not settled: " in say(beside=("", half))


def test_better_at_first_and_worse_in_the_end_says_both():
    assert two_ways("S6", 0.8, 0.2) == (
        "It points two ways: S6 holds more at first (80 %), "
        "yet its pulls reach a lower best load (80 %)."
    )


@pytest.mark.parametrize(("typical", "best"), [(0.9, 0.9), (0.1, 0.1), (0.5, 0.9), (0.2, 0.6),
                                               (0.34, 0.66), (0.66, 0.34)])  # fmt: skip
def test_what_points_one_way_or_nowhere_says_nothing_more(typical, best):
    assert two_ways("S6", typical, best) == ""


@pytest.mark.parametrize("measure", [Measure.TYPICAL, Measure.BEST])
def test_slips_that_end_high_are_told_by_both_halves(
    measure, known_posterior, normal_draws, small_pulls
):
    """A leader that lets go early, with re-sets that hold far more: both are in the answer."""
    upright = [[-4.0, 0.0]]
    values = {
        "treatment_upright": upright,
        "later_bite_upright": 8.0,
        "resets_base": 4.0,
        "mode_gap": log(2.0),
        "treatment_upright_load": [[0.3, 0.0]],
    }
    posterior = known_posterior(values, leader=normal_draws(0.0, 0.02))
    question = Question.model_validate(ON_S6.model_dump() | {"measure": measure})
    sentence = answer(question, posterior, small_pulls).summary.sentence
    assert "It points two ways: S6 with leader: wire 2 m lets go earlier at first" in sentence
    assert "yet its pulls reach a higher best load" in sentence
    upright_only = Question.model_validate(
        ON_S6.model_dump() | {"measure": Measure.UPRIGHT, "band": None}
    )
    assert "two ways" not in answer(upright_only, known_posterior(), small_pulls).summary.sentence


LOAD = GIVES[Measure.TYPICAL]


UP_TO = 0.14  # log ratio; about 1.15


def _effects(deeper, load, count=1000):
    """Draws of which so many have each sign: deeper or not; load above, higher, or neither."""
    buried = np.where(np.arange(count) < deeper * count, 0.3, -0.3)
    above, higher = load
    place = np.arange(count)[::-1]  # what holds more is last, where it is least deep
    values = np.where(place < higher * count, 0.05, -0.05)
    return buried, np.where(place < above * count, 0.3, values)


def test_deeper_and_no_more_says_both_halves_in_one_sentence():
    assert deeper_words("S6 with leader: wire 2 m", *_effects(0.98, (0.07, 0.41)), UP_TO, LOAD) == (
        "It is very likely (93 %) to go deeper and hold no more: S6 with leader: wire 2 m buries "
        "more rode (98 %), without a higher typical load at the first release beyond the band "
        "(93 %)."
    )


def test_less_deep_and_more_says_both_halves():
    assert deeper_words("P9", *_effects(0.1, (0.6, 0.9)), UP_TO, LOAD) == (
        "It is likely (90 %) to go less deep and hold more: P9 buries less rode (90 %), yet gives "
        "a higher typical load at the first release (90 %)."
    )


@pytest.mark.parametrize(
    ("p_deeper", "load"),
    [
        (0.98, (0.2, 0.9)),
        (0.98, (0.5, 0.6)),
        (0.6, (0.1, 0.4)),
        (0.4, (0.8, 0.9)),
        (0.1, (0.1, 0.3)),
    ],
)
def test_what_goes_together_or_nowhere_is_not_told_as_two(p_deeper, load):
    assert deeper_words("S6", *_effects(p_deeper, load), UP_TO, LOAD) == ""


def test_two_likely_halves_that_seldom_go_together_are_not_told():
    """Each is likely (70 %), both at once only 40 %."""
    buried = np.where(np.arange(1000) < 700, 0.3, -0.3)
    load = np.where(np.arange(1000) < 300, 0.3, -0.05)
    assert deeper_words("S6", buried, load, UP_TO, LOAD) == ""


def _measured(pulls):
    read = {"kind": "reading", "length_m": 0.6, "resolution_m": 0.1}
    return [
        pull.model_copy(
            update={"bites": tuple(Bite.model_validate({**bite.model_dump(), "buried": read})
                                   for bite in pull.bites)}
        )
        for pull in pulls
    ]  # fmt: skip


@pytest.mark.parametrize("measure", [Measure.TYPICAL, Measure.BEST, Measure.BURIED])
def test_a_leader_that_goes_deeper_and_holds_no_more(
    measure, known_posterior, normal_draws, small_pulls
):
    deeper = normal_draws(0.35, 0.1)
    posterior = known_posterior(
        {"treatment_buried": np.stack([deeper, 0 * deeper], axis=1)}, leader=normal_draws(0.0, 0.03)
    )
    question = Question.model_validate(ON_S6.model_dump() | {"measure": measure, "band": None})
    sentence = answer(question, posterior, _measured(small_pulls)).summary.sentence
    assert "to go deeper and hold no more: S6 with leader: wire 2 m buries more rode" in sentence
    unmeasured = answer(question, posterior, small_pulls).summary.sentence
    assert "deeper" not in unmeasured


def test_a_load_that_no_pull_tells_of_is_not_called_no_higher(
    known_posterior, normal_draws, small_pulls
):
    """At its prior a load higher beyond the band is unlikely before any pull."""
    deeper, pulls = normal_draws(0.35, 0.1), _measured(small_pulls)
    values = {"treatment_buried": np.stack([deeper, 0 * deeper], axis=1)}
    question = Question.model_validate(
        ON_S6.model_dump() | {"measure": Measure.BURIED, "band": None}
    )
    unread = known_posterior(values, leader=normal_draws(0.0, 0.1))
    assert "hold no more" not in answer(question, unread, pulls).summary.sentence
    read = known_posterior(values, leader=normal_draws(0.0, 0.05))
    assert "hold no more" in answer(question, read, pulls).summary.sentence
    held = {"ending": Ending.HELD, "load_kn": 6.2}
    only_held = [
        pull.model_copy(update={"bites": (pull.bites[-1].model_copy(update=held),)})
        for pull in pulls
    ]
    assert "hold no more" not in answer(question, read, only_held).summary.sentence
