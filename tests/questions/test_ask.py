"""Answers from made-up posteriors: probabilities that fit together, and with known truths."""

import numpy as np
import pytest

from model.questions.alone import effect_alone, first_bites
from model.questions.ask import TABLE, answer, measures_told
from model.records.answer import Finding
from model.records.pull import BuriedRode
from model.records.question import Measure, Question, SetUp

WIRE = {"leader": "wire 2 m"}
ON_S6 = Question(name="leader on S6", a=SetUp(anchor="S6", levels=WIRE), b=SetUp(anchor="S6"))
ANCHORS = Question(name="anchors", a=SetUp(anchor="S6"), b=SetUp(anchor="P9"))
GENERAL = Question(name="general", a=SetUp(levels=WIRE), b=SetUp())
QUESTIONS = {question.name: question for question in (ON_S6, ANCHORS, GENERAL)}


def _by(question, measure, **more):
    hold = 2.0 if measure is Measure.HOLD else None
    changes = {"measure": measure, "hold_kn": hold, "band": None} | more
    return Question.model_validate(question.model_dump() | changes)


@pytest.fixture
def posterior(made_up_posterior, small_campaign, small_pulls):
    return made_up_posterior(small_campaign, small_pulls, n_draws=1000)


@pytest.mark.parametrize("measure", Measure)
@pytest.mark.parametrize("name", QUESTIONS)
def test_chances_sum_to_one_and_the_figures_fit_together(name, measure, posterior, small_pulls):
    found = answer(_by(QUESTIONS[name], measure), posterior, small_pulls)
    summary = found.summary
    total = summary.p_above_band + summary.p_inside_band + summary.p_below_band
    assert total == pytest.approx(1, abs=1e-12)
    assert summary.p_above_band <= summary.p_higher <= 1 - summary.p_below_band
    effect, draws = summary.effect, found.effect_draws
    assert effect.median == np.median(draws)
    lower, upper = effect.interval.lower, effect.interval.upper
    assert np.mean(draws < lower) <= 0.051 <= np.mean(draws <= lower) + 0.002
    assert np.mean(draws > upper) <= 0.051 <= np.mean(draws >= upper) + 0.002
    null = 1.0 if effect.kind == "ratio" else 0.0
    assert np.mean(draws > null) + 0.5 * np.mean(draws == null) == pytest.approx(summary.p_higher)
    assert (found.multiples is None) != measure.is_load
    assert (found.split is not None) == (measure is Measure.TYPICAL)
    assert tuple(row.measure for row in found.measures) == TABLE


@pytest.mark.parametrize("measure", [one for one in Measure if one is not Measure.NEXT])
@pytest.mark.parametrize("name", QUESTIONS)
def test_b_against_a_is_a_against_b_turned_round(name, measure, posterior, small_pulls):
    asked = _by(QUESTIONS[name], measure)
    turned = asked.model_copy(update={"a": asked.b, "b": asked.a})
    there, back = (answer(one, posterior, small_pulls).summary for one in (asked, turned))
    assert there.p_higher == pytest.approx(1 - back.p_higher, abs=1e-12)
    assert there.p_above_band == pytest.approx(back.p_below_band, abs=0.002)  # ends of the band
    assert (there.pulls.a, there.pulls.b) == (back.pulls.b, back.pulls.a)


def test_the_next_pull_turned_round_is_so_up_to_chance(posterior, small_pulls):
    asked = _by(ANCHORS, Measure.NEXT)
    turned = asked.model_copy(update={"a": asked.b, "b": asked.a})
    there, back = (answer(one, posterior, small_pulls).summary for one in (asked, turned))
    assert there.p_higher == pytest.approx(1 - back.p_higher, abs=0.08)  # five binomial errors


def test_an_answer_shown_again_is_the_same_answer(posterior, small_pulls):
    for question in (_by(ANCHORS, Measure.NEXT), _by(GENERAL, Measure.TYPICAL, over="next")):
        first, second = (answer(question, posterior, small_pulls) for _ in range(2))
        assert first.summary == second.summary
        assert np.array_equal(first.effect_draws, second.effect_draws)


def test_buried_rode_is_a_length_and_no_load(posterior, small_pulls):
    found = answer(_by(ON_S6, Measure.BURIED), posterior, small_pulls)
    assert (found.a.value.unit, found.summary.effect.unit) == ("m", "×")
    assert found.multiples is None  # holding power is of loads


def test_the_table_tells_of_buried_rode_and_turns_where_a_pull_does(posterior, small_pulls):
    plain = [_without_depth(pull) for pull in small_pulls]
    assert measures_told(plain) == TABLE
    bite = (
        plain[0]
        .bites[-1]
        .model_copy(update={"buried": BuriedRode(kind="reading", length_m=0.6, resolution_m=0.1)})
    )
    measured = plain[0].model_copy(update={"bites": (*plain[0].bites[:-1], bite)})
    assert measures_told([measured, *plain[1:]]) == (*TABLE, Measure.BURIED)
    found = answer(ON_S6, posterior, [measured, *plain[1:]])
    assert found.measures[-1].measure is Measure.BURIED


def _without_depth(pull):
    bites = tuple(bite.model_copy(update={"buried": None}) for bite in pull.bites)
    return pull.model_copy(update={"bites": bites})


# --- known truths --------------------------------------------------------------------------------


def test_a_known_effect_is_answered_with_its_own_chances(
    known_posterior, normal_draws, small_pulls
):
    """The leader's log ratio is normal(0.1, 0.1): every share is a value of the normal law."""
    found = answer(ON_S6, known_posterior(leader=normal_draws(0.1, 0.1)), small_pulls).summary
    assert found.p_higher == pytest.approx(0.8413, abs=5e-4)
    assert found.p_above_band == pytest.approx(0.3453, abs=5e-4)  # (0.1398 - 0.1) / 0.1
    assert found.p_below_band == pytest.approx(0.0082, abs=5e-4)
    assert found.effect.median == pytest.approx(np.exp(0.1), abs=1e-4)
    assert found.effect.interval.lower == pytest.approx(np.exp(0.1 - 0.16449), abs=1e-3)
    assert found.effect.interval.upper == pytest.approx(np.exp(0.1 + 0.16449), abs=1e-3)
    assert (found.effect.interval.prob, found.effect.interval.kind) == (0.9, "equal-tailed")


def test_twice_and_four_times_as_much(known_posterior, small_pulls):
    """High holding power is at least twice, super high at least four times, an ordinary anchor's.

    IACS UR A1.4.1.2 and A1.4.1.3, as quoted in class rules. Here for draws of known ratio.
    """
    ratios = np.tile([1.9, 2.1, 3.9, 4.1], 1000)
    # The priors' mass exponent is 0 here, so only the anchors' own levels differ.
    values = {"anchor_load": np.stack([np.log(ratios), np.zeros(4000)], axis=1),
              "mass_exponent": 0.0}  # fmt: skip
    found = answer(ANCHORS, known_posterior(values), small_pulls)
    assert found.multiples is not None
    assert (found.multiples.p_twice, found.multiples.p_four_times) == (0.75, 0.25)
    assert np.sort(np.unique(found.effect_draws.round(6))) == pytest.approx([1.9, 2.1, 3.9, 4.1])


def test_in_general_is_the_average_over_this_campaigns_anchors_and_seabeds(
    known_posterior, small_pulls
):
    by_anchor = np.zeros((2, 2))  # treatment level, anchor
    by_anchor[0] = [0.30, -0.10]
    by_seabed = np.zeros((2, 2))
    by_seabed[0] = [0.04, 0.0]
    values = {"treatment_anchor_load": by_anchor, "treatment_seabed_load": by_seabed}
    posterior = known_posterior(values)
    for seabeds, expected in (((), 0.10 + 0.02), (("firm sand",), 0.10 + 0.04)):
        question = _by(GENERAL, Measure.TYPICAL, seabeds=seabeds)
        found = answer(question, posterior, small_pulls).summary
        assert np.log(found.effect.median) == pytest.approx(expected, abs=1e-4)


def test_the_next_anchor_is_less_certain_and_never_settled(
    known_posterior, normal_draws, small_pulls, look
):
    values = {"treatment_anchor_load_scale": 0.2}
    posterior = known_posterior(values, leader=normal_draws(0.4, 0.03))
    looks = [look(Finding.HIGHER)] * 2
    campaign = answer(GENERAL, posterior, small_pulls, looks=looks)
    following = answer(
        GENERAL.model_copy(update={"over": "next"}), posterior, small_pulls, looks=looks
    )
    widths = [
        found.summary.effect.interval.upper / found.summary.effect.interval.lower
        for found in (campaign, following)
    ]
    assert widths[1] > 1.5 * widths[0]
    assert campaign.summary.finding is Finding.HIGHER
    assert campaign.chances_in_ten == following.chances_in_ten  # the average, and one more, beside
    assert following.summary.finding is Finding.NOT_SETTLED
    # Normal(0.4, 0.2) is above 0 with 0.977, which is not ten chances in ten.
    assert following.summary.p_higher == pytest.approx(0.977, abs=0.01)
    assert following.chances_in_ten == 9
    assert "(more than 9 chances in 10)" in following.summary.sentence


def test_the_next_pull_is_chances_in_ten(known_posterior, small_pulls):
    found = answer(_by(ON_S6, Measure.NEXT), known_posterior(), small_pulls)
    assert found.chances_in_ten == 5
    assert found.summary.p_higher == pytest.approx(0.5, abs=0.03)
    assert "(5 chances in 10)" in found.summary.sentence


def test_a_pull_against_one_that_never_set_is_beyond_any_band(known_posterior, small_pulls):
    sets = np.zeros((2,))
    sets[0] = -12.0
    posterior = known_posterior({"treatment_sets": sets})
    found = answer(_by(ON_S6, Measure.NEXT), posterior, small_pulls).summary
    assert found.p_below_band > 0.98
    assert np.isfinite([found.effect.median, found.effect.interval.upper]).all()
    assert "over 99 % lower" in found.sentence


def test_two_pulls_that_never_set_are_equal(known_posterior, small_pulls):
    found = answer(
        _by(ON_S6, Measure.NEXT), known_posterior({"sets_base": -20.0}), small_pulls
    ).summary
    assert found.p_higher == pytest.approx(0.5)
    assert found.p_inside_band == pytest.approx(1.0)


def test_the_sides_stand_beside_each_other(known_posterior, small_pulls):
    posterior = known_posterior({"treatment_upright_load": [[0.1, 0.0]], "mass_exponent": 0.0})
    found = answer(ON_S6, posterior, small_pulls)
    assert (found.a.label, found.b.label) == (
        "S6 with leader: wire 2 m", "S6 with leader: chain only",
    )  # fmt: skip
    assert found.b.load_upright.median == pytest.approx(3.0, rel=1e-4)
    assert found.b.load_on_side.median == pytest.approx(3.0 * np.exp(-0.4), rel=1e-4)
    assert found.a.load_upright.median == pytest.approx(3.0 * np.exp(0.1), rel=1e-4)
    assert found.b.p_upright.median == pytest.approx(1 / (1 + np.exp(-0.5)), abs=1e-5)
    assert found.b.p_sets.median == pytest.approx(1 / (1 + np.exp(-6.0)), abs=1e-5)
    # No pull lands between the modes, and the typical load does.
    assert found.b.load_on_side.median < found.b.value.median < found.b.load_upright.median
    assert {side.value.unit for side in (found.a, found.b)} == {"kN"}


def test_capped_never_stands_above_typical_in_the_table(posterior, small_pulls):
    rows = {row.measure: row for row in answer(ANCHORS, posterior, small_pulls).measures}
    typical, capped = rows[Measure.TYPICAL], rows[Measure.CAPPED]
    assert capped.a.median <= typical.a.median
    assert capped.b.median <= typical.b.median
    top_kn = 4.6
    assert capped.a.interval.upper <= top_kn + 1e-9


def test_a_chance_is_a_difference_and_a_load_a_ratio(posterior, small_pulls):
    found = {
        measure: answer(_by(ON_S6, measure), posterior, small_pulls).summary.effect
        for measure in (Measure.HOLD, Measure.TYPICAL)
    }
    assert (found[Measure.HOLD].kind, found[Measure.HOLD].unit) == ("difference", "chance")
    assert (found[Measure.TYPICAL].kind, found[Measure.TYPICAL].unit) == ("ratio", "×")


def test_holding_a_load_asks_for_that_load(known_posterior, small_pulls):
    chances = [
        answer(_by(ANCHORS, Measure.HOLD, hold_kn=load), known_posterior(), small_pulls)
        .a.value.median
        for load in (0.5, 2.0, 3.0, 9.0)
    ]  # fmt: skip
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.99
    assert chances[-1] < 0.01


def test_two_set_ups_alone_stand_beside_the_pooled_answer(posterior, small_pulls):
    """By hand: as the estimator of one anchor alone has it, on the seabed that is asked for."""
    question = _by(ON_S6, Measure.TYPICAL, seabeds=("firm sand",))
    found = answer(question, posterior, small_pulls).alone
    own = [pull for pull in small_pulls if (pull.anchor, pull.seabed) == ("S6", "firm sand")]
    sides = (
        [pull for pull in own if pull.levels["leader"] == level]
        for level in ("wire 2 m", "chain only")
    )
    expected = effect_alone(*(first_bites(posterior.campaign, side) for side in sides))
    assert found.effect.median == pytest.approx(np.exp(expected.quantile(0.5)))
    assert found.p_higher == pytest.approx(1 - expected.cdf(0.0))
    assert found.effect.interval.lower < found.effect.median < found.effect.interval.upper


@pytest.mark.parametrize(
    ("question", "why"),
    [
        (_by(ON_S6, Measure.TYPICAL), "the question is about more than one seabed"),
        (
            _by(GENERAL, Measure.UPRIGHT, seabeds=("firm sand",)),
            "in general there is no one anchor",
        ),
        (_by(ANCHORS, Measure.TURNS, seabeds=("firm sand",)), "no pull of A or B tells of it"),
        (_by(ON_S6, Measure.BEST, seabeds=("firm sand",)), ""),
    ],
    ids=["two seabeds", "in general", "no turn", "best load"],
)
def test_where_own_pulls_alone_say_nothing_a_clause_says_why(question, why, posterior, small_pulls):
    found = answer(question, posterior, small_pulls)
    assert (found.alone, found.not_alone) == (None, why)


def test_another_scope_has_no_place_in_the_mean_alone(posterior, small_pulls):
    question = _by(ON_S6, Measure.TYPICAL, seabeds=("firm sand",))
    at_7 = [pull.model_copy(update={"scope": 7.0}) for pull in small_pulls]
    found = answer(question, posterior, at_7)
    assert (found.alone, found.not_alone) == (None, "no pull of A or B tells of it")
    # Scope is no part of how an anchor sets in the model: pulls of any scope count on both sides.
    by_mode = _by(ON_S6, Measure.UPRIGHT, seabeds=("firm sand",))
    assert answer(by_mode, posterior, at_7).alone == answer(by_mode, posterior, small_pulls).alone
