"""What one more pull would tell, against exact values."""

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import norm

from model.outcomes.measures import hold
from model.outcomes.prediction import Prediction
from model.questions import telling
from model.questions.ask import answer
from model.questions.effect import measure_draws, parameters_of, predictions
from model.questions.readings import Readings, newest_readings
from model.questions.telling import information, most_telling, outcome_chances
from model.records.campaign import Ladder, Step
from model.records.question import Measure, Question, SetUp

LADDER_KN = (0.5, 1.0, 1.5, 2.0, 2.6, 3.2, 3.9, 4.6)
"""Steps of the small campaign."""
THETA = norm.ppf((np.arange(4000) + 0.5) / 4000)
"""Even quantiles of a standard normal: a quadrature, without Monte Carlo error."""

EACH = np.arange(THETA.size)


def hold_or_release(noise: float, threshold: float = 0.0) -> np.ndarray:
    held = ndtr((THETA - threshold) / noise) if noise else (threshold < THETA).astype(float)
    return np.column_stack([held, 1 - held])


def readings_of(*loads_kn: float, log_bias: float = 0.0, gauge: float = 0.0) -> Readings:
    steps = tuple(Step(load_kn=load_kn, dwell_s=15.0) for load_kn in loads_kn)
    return Readings(
        ladder=Ladder(name="steps", steps=steps, final_hold_s=15.0),
        boat="workboat",
        log_bias=np.full(THETA.size, log_bias),
        gauge_scatter=np.full(THETA.size, gauge),
    )


def upright_for_sure(noise: float, *, p_sets: float = 1.0) -> Prediction:
    """Draws that differ in one set-up's mean log load alone, which is standard normal."""
    whole, each = np.zeros((THETA.size, 1)), np.zeros(THETA.size)
    return Prediction(
        log_upright=THETA[:, None],
        log_on_side=whole - 5.0,
        sd_upright=whole + noise,
        sd_on_side=whole + noise,
        logit_upright=whole + 60.0,
        p_sets=whole + p_sets,
        p_resets=whole,
        p_turns=whole,
        log_buried=whole,
        buried_gap=each,
        later_load=each,
        later_logit=each,
        pull_load=each,
        day_load=each,
        day_logit=each,
    )


NATS = [
    (1.0, 0.0, np.log(2) - 0.5),
    (0.5, 0.0, 0.373262),
    (0.25, 0.0, 0.518745),
    (0.5, 1.0, 0.263983),
    (0.0, 0.0, np.log(2)),
]
"""Derived: theta standard normal, held with chance Phi((theta - threshold) / noise).

With noise 1 exactly ln 2 - 1/2; the others by numerical integration.
"""


@pytest.mark.parametrize(("noise", "threshold", "nats"), NATS)
def test_a_held_or_released_pull_tells_as_much_as_it_must(noise, threshold, nats):
    assert information(hold_or_release(noise, threshold), EACH) == pytest.approx(nats, abs=2e-5)


def told_by(prediction: Prediction, readings: Readings) -> float:
    """What a pull of the one set-up tells of the draws, by the table that answers use."""
    return information(outcome_chances(prediction, readings)[:, 0], EACH)


@pytest.mark.parametrize(("noise", "threshold", "nats"), NATS)
def test_the_table_of_outcomes_of_such_a_pull_tells_as_much(noise, threshold, nats):
    readings = readings_of(np.exp(threshold))
    assert told_by(upright_for_sure(noise or 1e-9), readings) == pytest.approx(nats, abs=2e-5)


@pytest.mark.parametrize(("noise", "threshold", "nats"), NATS[:4])
def test_it_tells_as_much_where_a_gauge_makes_the_noise_and_a_boat_reads_high(
    noise, threshold, nats
):
    readings = readings_of(np.exp(threshold + 0.7), log_bias=0.7, gauge=0.8 * noise)
    assert told_by(upright_for_sure(0.6 * noise), readings) == pytest.approx(nats, abs=2e-5)


def test_true_loads_on_a_ladder_of_readings_would_tell_otherwise(monkeypatch):
    readings = readings_of(np.exp(0.7), log_bias=0.7, gauge=0.8)
    monkeypatch.setattr(telling, "as_read", lambda prediction, _: prediction)
    assert abs(told_by(upright_for_sure(0.6), readings) - NATS[0][2]) > 0.05


def test_a_pull_that_may_never_set_or_tells_by_more_steps_tells_otherwise():
    """So that neither the chance to set nor a step can be lost from the table unseen."""
    once = told_by(upright_for_sure(1.0), readings_of(1.0))
    assert told_by(upright_for_sure(1.0, p_sets=0.8), readings_of(1.0)) < once - 0.01
    assert told_by(upright_for_sure(1.0), readings_of(0.5, 1.0, 2.0)) > once + 0.05


def test_no_more_is_told_of_a_group_than_of_the_draws():
    chances = hold_or_release(0.5)
    region = (THETA > -0.3).astype(int) + (THETA > 0.6)
    told = information(chances, region)
    assert 0 < told < information(chances, EACH)
    assert information(chances, np.zeros_like(EACH)) == pytest.approx(0, abs=1e-15)
    assert information(np.full((THETA.size, 2), 0.5), region) == 0


@pytest.fixture
def asked(known_posterior, normal_draws):
    """A question, its draws and sides, where the leader's effect on the load is in doubt."""

    def make(**question):
        posterior = known_posterior(leader=normal_draws(0.1, 0.1))
        asked_of = Question.model_validate(
            {
                "name": "leader on S6",
                "a": SetUp(anchor="S6", levels={"leader": "wire 2 m"}),
                "b": SetUp(anchor="S6"),
                "seabeds": ("firm sand",),
            }
            | question
        )
        rng = np.random.default_rng(1)
        sides = predictions(posterior, asked_of, rng)
        draws = measure_draws(asked_of, asked_of.measure, sides, 4.6, rng)
        return posterior, asked_of, draws, sides

    return make


def test_outcomes_are_whole_and_climb_the_ladder(asked):
    posterior, _, _, sides = asked()
    readings = newest_readings(posterior.campaign, parameters_of(posterior))
    chances = outcome_chances(sides.a, readings)
    assert chances.shape[-1] == len(LADDER_KN) + 1
    np.testing.assert_allclose(chances.sum(axis=-1), 1)
    np.testing.assert_allclose(chances[..., -1], hold(sides.a, LADDER_KN[-1]))
    assert (chances >= 0).all()


def test_the_pull_that_tells_is_of_the_side_in_doubt(asked):
    found = most_telling(*asked())
    assert found is not None
    assert (found.side, found.anchor, found.seabed) == ("A", "S6", "firm sand")
    assert 0.01 < found.share < 1


def test_what_nobody_can_pull_or_nobody_doubts_has_no_telling_pull(asked, known_posterior):
    in_general = {"a": SetUp(levels={"leader": "wire 2 m"}), "b": SetUp()}
    assert most_telling(*asked(**in_general, over="next")) is None
    assert most_telling(*asked(**in_general)) is not None
    posterior, question, draws, sides = asked()
    certain = type(draws)(measure=draws.measure, a=draws.a, b=draws.b, effect=draws.effect * 0)
    assert most_telling(posterior, question, certain, sides) is None


def test_the_flag_of_terms_at_their_prior_names_that_pull(asked, small_pulls):
    posterior, question, _, _ = asked(measure=Measure.TYPICAL)
    only_upright = posterior.draws["treatment_upright_load"]
    only_upright[:] = 0.1 * np.resize(THETA, len(only_upright))[:, None]
    [text] = [
        flag.text
        for flag in answer(question, posterior, small_pulls).summary.flags
        if flag.code == "terms_at_prior"
    ]
    assert "Of single pulls one of A with S6 on firm sand tells most" in text
    assert text.endswith("% of the doubt on average.")
