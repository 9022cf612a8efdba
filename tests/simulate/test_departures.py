"""Worlds that depart from the model: pulls drawn in them, against the truth worked out for them."""

from collections.abc import Callable
from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from scipy.stats import binomtest, norm
from scipy.stats import t as student

from model.base.errors import InputError
from model.records.pull import Ending, Reading
from model.records.question import Measure, Question, SetUp
from model.simulate.departures import AS_MODELLED, Departures, ThirdMode
from model.simulate.nature import chance_upright
from model.simulate.plan import Plan, Protocol
from model.simulate.pull import LivedPull, live_pull
from model.simulate.true_answer import chance_holds, true_effect, typical_log_load
from model.simulate.world import World

MakeWorld = Callable[..., World]
PLAN = Plan(outing="day 1", anchor="S6", seabed="firm sand", code="1")
ENOUGH = 5000
STEPS_KN = (1.0, 1.5, 2.0, 2.6, 3.2)
RARE = 1e-4
"""Of a check that holds; what it holds against must be rarer still."""

HEAVY = Departures(tail_degrees=3)
THIRD = Departures(third=ThirdMode(share=0.3, gaps=1.0))
FACTORS = (1.08, 1.08, 0.92, 0.92, 1.08, 1.08, 0.92, 0.92)
MIS_STATED = Departures(thrust_factors=FACTORS)


def departed(world: World, departures: Departures) -> World:
    return replace(world, departures=departures)


def many(world: World, count: int = ENOUGH, **protocol: object) -> list[LivedPull]:
    rng = np.random.default_rng(1)
    crew = Protocol(**protocol)  # type: ignore[arg-type]
    return [live_pull(world, PLAN, rng, protocol=crew) for _ in range(count)]


def count_standing(pulls: list[LivedPull], load_kn: float) -> int:
    """Pulls whose first bite stands a step."""
    first = [one.pull.bites[0] for one in pulls if one.pull.has_set]
    return sum(bite.ending is Ending.HELD or (bite.load_kn or 0) > load_kn for bite in first)


def least_pvalue(world: World, truth: World, true_kn: Callable[[float], float]) -> float:
    """How far the pulls of one world are from the chances to hold of a truth, at the worst step."""
    pulls = many(world)
    return min(
        float(binomtest(count_standing(pulls, step), ENOUGH, chance).pvalue)
        for step in STEPS_KN
        if (chance := chance_holds(truth, PLAN, load_kn=true_kn(step))) > 0
    )


@pytest.mark.parametrize("departures", [AS_MODELLED, HEAVY, THIRD])
def test_pulls_hold_as_often_as_the_worlds_own_truth_says(
    plain_world: MakeWorld, departures: Departures
) -> None:
    world = departed(plain_world(pull_load_scale=0.1, sets_base=1.5), departures)
    assert least_pvalue(world, world, lambda step: step) > RARE


@pytest.mark.parametrize("departures", [HEAVY, THIRD])
def test_the_models_own_truth_is_not_that_of_such_a_world(
    plain_world: MakeWorld, departures: Departures
) -> None:
    world = plain_world(pull_load_scale=0.1, sets_base=1.5)
    assert least_pvalue(departed(world, departures), world, lambda step: step) < RARE / 100
    assert least_pvalue(world, departed(world, departures), lambda step: step) < RARE / 100


def test_a_days_own_effect_is_in_the_chance_to_hold(plain_world: MakeWorld) -> None:
    scales = {"day_load_scale": 0.3, "day_upright_scale": 1.0}
    truth = departed(plain_world(**scales), replace(HEAVY, third=THIRD.third))
    rng, count, held = np.random.default_rng(2), 2500, 0
    for _ in range(count):
        effects = {"day_load": rng.normal(0, 0.3, 2), "day_upright": rng.normal(0, 1.0, 2)}
        world = replace(truth, values={**truth.values, **effects})
        held += count_standing([live_pull(world, PLAN, rng)], 3.2)
    assert binomtest(held, count, chance_holds(truth, PLAN, load_kn=3.2)).pvalue > RARE
    average = departed(plain_world(), truth.departures)
    assert binomtest(held, count, chance_holds(average, PLAN, load_kn=3.2)).pvalue < RARE


def test_heavier_tails_keep_the_quartiles() -> None:
    rng = np.random.default_rng(3)
    drawn = np.array([HEAVY.scattered(1.0, 0.2, rng) for _ in range(4000)])
    quartile = norm.ppf(0.75)
    middle = np.mean(np.abs(drawn - 1.0) <= 0.2 * quartile)
    assert binomtest(round(middle * 4000), 4000, 0.5).pvalue > RARE
    far = int(np.sum(np.abs(drawn - 1.0) > 0.2 * 3))
    expected = 2 * student.sf(3 * student.ppf(0.75, 3) / quartile, 3)
    assert binomtest(far, 4000, expected).pvalue > RARE
    assert binomtest(far, 4000, 2 * norm.sf(3)).pvalue < RARE / 100
    same = np.random.default_rng(3).normal(1.0, 0.2, 4000)
    assert (np.sign(drawn - 1.0) == np.sign(same - 1.0)).all(), "the same chance, only further out"


def test_a_third_mode_is_in_the_typical_load_and_looks_like_either(plain_world: MakeWorld) -> None:
    world = departed(plain_world(load_base=log(1.5), spoilt_share=0.0), THIRD)
    pulls = many(world, reading=Reading.PEAK, resolution_kn=0.001)
    loads = np.log([one.pull.bites[0].load_kn for one in pulls])
    error = loads.std() / np.sqrt(ENOUGH)
    assert abs(loads.mean() - typical_log_load(world, PLAN)) < 4 * error
    two_modes = typical_log_load(departed(world, AS_MODELLED), PLAN)
    assert abs(loads.mean() - two_modes) > 10 * error
    # By hand: 0.7 of the bites are of the two modes, 0.3 look upright every other time.
    of_two = 1 / (1 + exp(-0.5))
    assert chance_upright(world, PLAN) == pytest.approx(0.7 * of_two)
    looks = sum(one.upright[0] for one in pulls)
    assert binomtest(looks, ENOUGH, 0.7 * of_two + 0.15).pvalue > RARE
    assert binomtest(looks, ENOUGH, 0.7 * of_two).pvalue < RARE


def test_a_drift_lifts_the_end_of_the_day_over_its_beginning(plain_world: MakeWorld) -> None:
    world = departed(plain_world(), Departures(drift=log(1.1)))

    def load_kn(world: World, through_day: float) -> float:
        plan = replace(PLAN, through_day=through_day)
        crew = Protocol(reading=Reading.PEAK, resolution_kn=1e-4)
        pull = live_pull(world, plan, np.random.default_rng(4), protocol=crew).pull
        assert pull.bites[0].load_kn is not None
        return pull.bites[0].load_kn

    assert load_kn(world, 0.5) / load_kn(world, -0.5) == pytest.approx(1.1, abs=2e-4)
    still = departed(world, AS_MODELLED)
    assert load_kn(still, 0.5) == load_kn(still, -0.5) == load_kn(world, 0.0)
    assert typical_log_load(world, PLAN) == typical_log_load(still, PLAN)


def test_a_mis_stated_ladder_lets_go_at_its_true_steps(plain_world: MakeWorld) -> None:
    world = departed(plain_world(), MIS_STATED)
    loads_kn = world.campaign.ladders[0].loads_kn
    true_kn = {step: step * factor for step, factor in zip(loads_kn, FACTORS, strict=True)}
    assert least_pvalue(world, world, lambda step: true_kn[step]) > RARE
    assert least_pvalue(world, world, lambda step: step) < RARE / 100


def test_a_ladder_states_its_steps_and_goes_on_as_at_its_ends() -> None:
    loads_kn = (1.0, 2.0, 4.0)
    departures = Departures(thrust_factors=(1.1, 0.9, 1.2))
    for stated, factor in zip(loads_kn, departures.thrust_factors, strict=True):
        assert departures.stated_kn(stated * factor, loads_kn) == pytest.approx(stated)
    assert departures.stated_kn(0.11, loads_kn) == pytest.approx(0.1)
    assert departures.stated_kn(12.0, loads_kn) == pytest.approx(10.0)
    between = [departures.stated_kn(kn, loads_kn) for kn in np.linspace(0.5, 6, 60)]
    assert (np.diff(between) > 0).all()
    assert AS_MODELLED.stated_kn(1.234, loads_kn) == 1.234


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"tail_degrees": 1.0}, "no mean"),
        ({"third": ThirdMode(share=1.2, gaps=1.0)}, "share is 1.2"),
        ({"thrust_factors": (1.0, 0.0)}, "not above 0"),
    ],
)
def test_what_cannot_be_is_refused(wrong: dict[str, object], said: str) -> None:
    with pytest.raises(InputError, match=said):
        Departures(**wrong)  # type: ignore[arg-type]


def test_a_ladder_that_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="2 thrust factors for 3 steps"):
        Departures(thrust_factors=(1.0, 1.0)).stated_kn(1.0, (1.0, 2.0, 4.0))
    with pytest.raises(InputError, match="do not rise"):
        Departures(thrust_factors=(3.0, 1.0)).stated_kn(1.0, (1.0, 2.0))


def test_a_truth_that_is_not_worked_out_for_such_a_world_is_refused(
    plain_world: MakeWorld,
) -> None:
    world = plain_world()
    question = Question(
        name="best", a=SetUp(anchor="S6"), b=SetUp(anchor="P9"), measure=Measure.BEST
    )
    assert true_effect(world, question) > 0
    with pytest.raises(InputError, match="not the model's"):
        true_effect(departed(world, HEAVY), question)
