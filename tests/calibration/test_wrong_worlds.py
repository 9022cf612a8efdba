"""Wrong worlds differ from the model's own in what they are named for, and in nothing else."""

from collections import Counter, defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from model.base.errors import InputError
from model.calibration.scenario import (
    DRIFT_ARM_BY_ARM,
    DRIFT_BALANCED,
    HALF_NULL,
    HEAVIER_TAILS,
    MIS_STATED_LADDER,
    MISREAD_MODES,
    RIGHT_WORLD,
    THIRD_MODE,
    WORLDS,
    WRONG_WORLDS,
    Scenario,
    read_plan,
    wrong_worlds_plan,
)
from model.calibration.wrong_world_campaign import (
    DEPARTURES,
    READ_RIGHT,
    wrong_world,
    wrong_world_campaign,
    wrong_world_plans,
    wrong_world_pulls,
)
from model.records.pull import Pull
from model.simulate.departures import AS_MODELLED
from model.simulate.true_answer import true_effect

PUBLISHED = Path(__file__).parent / "results" / WRONG_WORLDS
CAMPAIGNS = 20
CAMPAIGN = wrong_world_campaign()


def scenarios_of(world: str) -> tuple[Scenario, ...]:
    plan = wrong_worlds_plan(CAMPAIGNS)
    return tuple(scenario for scenario in plan.scenarios if scenario.world == world)


def pulls_of(world: str) -> list[Pull]:
    return [
        pull
        for scenario in scenarios_of(world)
        for pull in wrong_world_pulls(scenario, wrong_world(scenario, CAMPAIGN))
    ]


def test_the_committed_plan_is_the_one_the_code_makes() -> None:
    assert read_plan(PUBLISHED) == wrong_worlds_plan()


def test_wherever_a_run_stops_all_worlds_are_about_equally_far() -> None:
    scenarios = wrong_worlds_plan().scenarios
    assert [scenario.number for scenario in scenarios] == list(range(480))
    assert Counter(scenario.world for scenario in scenarios) == dict.fromkeys(WORLDS, 60)
    for stop in (8, 100, 333):
        counts = Counter(scenario.world for scenario in scenarios[:stop])
        assert max(counts.values()) - min(counts[world] for world in WORLDS) <= 1
    seeds = defaultdict(list)
    for scenario in scenarios:
        seeds[scenario.world].append(scenario.seed)
    assert all(of_world == seeds[RIGHT_WORLD] for of_world in seeds.values())
    assert scenarios[0].world == RIGHT_WORLD


def test_every_world_departs_in_something_of_its_own() -> None:
    assert set(DEPARTURES) == set(WORLDS)
    right = pulls_of(RIGHT_WORLD)
    for world in WORLDS[1:]:
        share = np.mean([a != b for a, b in zip(right, pulls_of(world), strict=True)])
        assert 0.05 < share < 0.9, f"{world}: {share:.0%} of its pulls are others"


@pytest.mark.parametrize("world", WORLDS[1:])
def test_without_its_departure_a_world_is_the_models_own(
    world: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = "model.calibration.wrong_world_campaign"
    monkeypatch.setattr(f"{name}.DEPARTURES", dict.fromkeys(WORLDS, AS_MODELLED))
    monkeypatch.setattr(f"{name}._without_effect", lambda *_: {})
    if world == MISREAD_MODES:
        assert pulls_of(world) != pulls_of(RIGHT_WORLD)
        truths = [wrong_world(one, CAMPAIGN).values for one in scenarios_of(world)]
        rights = [wrong_world(one, CAMPAIGN).values for one in scenarios_of(RIGHT_WORLD)]
        others = {
            name
            for truth, right in zip(truths, rights, strict=True)
            for name in truth
            if not np.array_equal(truth[name], right[name])
        }
        assert others == {"seen_upright_rate", "seen_on_side_rate"}
        assert {float(truth[name]) for truth in truths for name in others} == {READ_RIGHT}
    else:
        assert pulls_of(world) == pulls_of(RIGHT_WORLD)


def test_half_of_the_treatments_are_exactly_null_in_turn() -> None:
    for place, (scenario, right) in enumerate(
        zip(scenarios_of(HALF_NULL), scenarios_of(RIGHT_WORLD), strict=True)
    ):
        world, own = wrong_world(scenario, CAMPAIGN), wrong_world(right, CAMPAIGN)
        for question in CAMPAIGN.questions:
            truth, before = true_effect(world, question), true_effect(own, question)
            is_null = question.name.startswith(("first", "second")[place % 2])
            none = 0.0 if question.measure.is_chance else 1.0
            assert truth == (none if is_null else before), question.name
            assert before != none


def test_truths_change_only_where_the_effect_itself_does() -> None:
    """A ladder or a camera that misleads and a drift leave what is true as it was."""
    changed = defaultdict(set)
    for place in range(3):
        own = wrong_world(scenarios_of(RIGHT_WORLD)[place], CAMPAIGN)
        for world in WORLDS[1:]:
            truth = wrong_world(scenarios_of(world)[place], CAMPAIGN)
            for question in CAMPAIGN.questions:
                if true_effect(truth, question) != pytest.approx(true_effect(own, question)):
                    changed[world].add(question.measure.value)
    assert changed == {
        HEAVIER_TAILS: {"hold"},
        THIRD_MODE: {"typical", "upright", "hold"},
        HALF_NULL: {"typical", "upright", "hold"},
    }


def test_one_mode_in_five_is_misread() -> None:
    pairs = [
        (a.bites[0].mode, b.bites[0].mode)
        for a, b in zip(pulls_of(RIGHT_WORLD), pulls_of(MISREAD_MODES), strict=True)
        if a.bites[0].mode is not None
    ]
    # The same chance decides, at 0.95 or so and at 0.8.
    assert 0.08 < np.mean([right != misread for right, misread in pairs]) < 0.25


def test_a_mis_stated_ladder_moves_pulls_by_a_step_and_no_more() -> None:
    loads = list(CAMPAIGN.ladders[0].loads_kn)
    moved = [
        loads.index(b.bites[0].load_kn) - loads.index(a.bites[0].load_kn)
        for a, b in zip(pulls_of(RIGHT_WORLD), pulls_of(MIS_STATED_LADDER), strict=True)
        if a.bites[0].load_kn and b.bites[0].load_kn
    ]
    assert set(moved) == {-1, 0, 1}


def test_arms_stand_as_early_as_late_where_they_are_turned_about() -> None:
    def early(world: str) -> dict[str, float]:
        places = defaultdict(list)
        for plan in wrong_world_plans(world):
            places[str(dict(plan.levels))].append(plan.through_day)
            places[plan.anchor].append(plan.through_day)
        of_day = [plan.through_day for plan in wrong_world_plans(world)[:6]]
        assert sorted(of_day) == pytest.approx([-0.5, -0.3, -0.1, 0.1, 0.3, 0.5])
        return {name: float(np.mean(found)) for name, found in places.items()}

    balanced, by_arm = early(DRIFT_BALANCED), early(DRIFT_ARM_BY_ARM)
    anchors = {"K1", "K2"}
    assert all(abs(balanced[arm]) < 1e-12 for arm in set(balanced) - anchors)
    assert all(abs(balanced[anchor]) < 0.04 for anchor in anchors)
    assert sorted(by_arm[arm] for arm in set(by_arm) - anchors) == pytest.approx([-0.4, 0.0, 0.4])


def test_a_world_that_nobody_planned_is_refused() -> None:
    scenario = scenarios_of(RIGHT_WORLD)[0]
    with pytest.raises(InputError, match="no world 'flat earth'"):
        wrong_world(scenario.model_copy(update={"world": "flat earth"}), CAMPAIGN)


def test_a_departed_world_keeps_the_truth_it_departs_from() -> None:
    scenario = scenarios_of(HEAVIER_TAILS)[0]
    world = wrong_world(scenario, CAMPAIGN)
    own = wrong_world(scenarios_of(RIGHT_WORLD)[0], CAMPAIGN)
    undone = replace(world, departures=AS_MODELLED)
    assert all(np.array_equal(undone.values[name], own.values[name]) for name in own.values)
