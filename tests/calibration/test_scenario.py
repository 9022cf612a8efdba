"""The plan is fixed, balanced, and stands before its results."""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from model.base.errors import InputError
from model.calibration.comparison_campaign import (
    comparison_campaign,
    comparison_plans,
    scenario_pulls,
    scenario_world,
)
from model.calibration.scenario import comparisons_plan, read_plan, write_plan
from model.simulate.true_answer import true_effect

PUBLISHED = Path(__file__).parent / "results" / "comparisons"


def test_the_committed_plan_is_the_one_the_code_makes() -> None:
    assert read_plan(PUBLISHED) == comparisons_plan()


def test_half_the_truths_are_off_the_priors_and_half_of_those_effects_are_null() -> None:
    scenarios = comparisons_plan().scenarios
    assert len(scenarios) == 200
    fixed = [scenario.fixed for scenario in scenarios if scenario.fixed is not None]
    assert len(fixed) == 100
    ratios = Counter(ratio for truth in fixed for ratio in truth.ratios)
    assert ratios[1.0] == 100
    assert set(ratios) == {1.0, 1.1, 0.9, 1.25, 0.75}
    assert min(count for ratio, count in ratios.items() if ratio != 1.0) >= 24
    assert Counter(truth.scatter for truth in fixed) == {0.10: 50, 0.25: 50}
    assert Counter(truth.gap for truth in fixed) == {0.2: 50, 0.8: 50}
    assert len({scenario.seed for scenario in scenarios}) == 200


def test_every_comparison_has_three_pulls_a_side_on_the_same_outings() -> None:
    plans = comparison_plans()
    assert len(plans) == 36
    arms: dict[tuple[str, tuple[tuple[str, str], ...]], list[str]] = {}
    for plan in plans:
        arms.setdefault((plan.anchor, tuple(plan.levels.items())), []).append(plan.outing)
    assert len(arms) == 12
    assert set(map(tuple, arms.values())) == {("day 1", "day 2", "day 3")}
    comparisons = [q for q in comparison_campaign().questions if q.a.anchor is not None]
    assert len(comparisons) == 8


def test_fixed_truths_are_what_the_plan_says() -> None:
    campaign = comparison_campaign()
    for scenario in comparisons_plan().scenarios[1:80:2]:
        assert scenario.fixed is not None
        world = scenario_world(scenario, campaign)
        for place, question in enumerate(campaign.questions[:8]):
            expected = scenario.fixed.ratios[place // 4]
            assert true_effect(world, question) == pytest.approx(expected, abs=1e-12)
        assert np.exp(world.values["log_scatter"]) == pytest.approx(scenario.fixed.scatter)
        p_upright = 1 / (1 + np.exp(-world.values["anchor_upright"]))
        assert ((p_upright > 0.3) & (p_upright < 0.9)).all()


def test_a_scenario_is_the_same_every_time() -> None:
    campaign = comparison_campaign()
    first, other = comparisons_plan().scenarios[:2]
    pulls = scenario_pulls(first, scenario_world(first, campaign))
    assert pulls == scenario_pulls(first, scenario_world(first, campaign))
    assert pulls != scenario_pulls(other, scenario_world(other, campaign))


def test_another_plan_does_not_take_the_place_of_one(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no plan"):
        read_plan(tmp_path)
    write_plan(comparisons_plan(10), tmp_path)
    write_plan(comparisons_plan(10), tmp_path)
    with pytest.raises(InputError, match="another plan"):
        write_plan(comparisons_plan(12), tmp_path)
    assert read_plan(tmp_path) == comparisons_plan(10)
