"""What two changes do together: the formula and the simulator, written apart, agree."""

import numpy as np
import pytest

from model.arrays.campaign_arrays import campaign_arrays, level_vector, log_mass_ratios
from model.base.names import PARAMETER_DIMS
from model.outcomes.prediction import SetUpRow, predict
from model.outcomes.shape import Shape
from model.records.treatment import Treatment
from model.simulate.nature import chance_upright, changed_levels, mean_log_capacity
from model.simulate.plan import Plan
from model.simulate.world import World, dim_names

RIGS = [
    {"leader": leader, "chain": chain}
    for leader in ("chain only", "wire 2 m")
    for chain in ("8 mm", "6 mm")
]


@pytest.fixture
def world(small_campaign) -> World:
    campaign = small_campaign.model_copy(update={"interactions": (("leader", "chain"),)})
    names, rng = dim_names(campaign), np.random.default_rng(7)
    values = {
        name: rng.normal(0.0, 0.3, tuple(len(names[dim]) for dim in dims))
        for name, dims in PARAMETER_DIMS.items()
    }
    return World(campaign=campaign, values=values)


def predicted(world, rig):
    campaign = world.campaign
    row = SetUpRow(
        anchor_index=1,
        seabed_index=0,
        level=tuple(level_vector(campaign, rig)),
        inverse_scope_shift=0.0,
    )
    draws = {name: value[None] for name, value in world.values.items()}
    return predict(draws, [row], log_mass_ratios(campaign), np.random.default_rng(1))


@pytest.mark.parametrize("rig", RIGS)
def test_simulator_and_formula_agree_on_every_combination(world, rig):
    plan = Plan(outing="day 1", anchor="P9", seabed="firm sand", code="1", levels=rig, scope=5.0)
    found = predicted(world, rig)
    site = world.value("site_load", site="north")  # the simulator's pull is made somewhere
    load = mean_log_capacity(world, plan, is_upright=True) - site
    assert found.log_upright[0, 0] == pytest.approx(load)
    upright = 1 / (1 + np.exp(-found.logit_upright[0, 0]))
    assert upright == pytest.approx(chance_upright(world, plan))


def test_the_two_together_are_not_the_sum(world):
    base, chain, leader, both = (predicted(world, rig).log_upright[0, 0] for rig in RIGS)
    extra = both - leader - chain + base
    assert abs(extra) > 0.05
    alone = world.campaign.model_copy(update={"interactions": ()})
    assert level_vector(alone, RIGS[-1]) == [1.0, 1.0]
    assert level_vector(world.campaign, RIGS[-1]) == [1.0, 1.0, 1.0]


def test_interactions_that_share_a_treatment_are_told_apart(small_campaign):
    ballast = Treatment(name="ballast", baseline="none", levels=("none", "0.4 kg"))
    campaign = small_campaign.model_copy(
        update={
            "treatments": (*small_campaign.treatments, ballast),
            "interactions": (("leader", "chain"), ("leader", "ballast")),
        }
    )
    names = set(campaign.treatment_level_names)
    for rig in RIGS:
        for weight in ballast.levels:
            levels = {**rig, "ballast": weight}
            plan = Plan(outing="day 1", anchor="P9", seabed="firm sand", code="1", levels=levels)
            on = changed_levels(campaign, plan)
            assert len(set(on)) == len(on)
            assert set(on) == campaign.levels_on(levels) & names


def test_a_named_interaction_is_part_of_the_arrays_and_the_shape(world, small_pulls):
    arrays = campaign_arrays(world.campaign, small_pulls)
    assert arrays.sizes["treatment_level"] == Shape.of(world.campaign).treatment_level == 3
