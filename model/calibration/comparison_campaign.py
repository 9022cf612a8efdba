"""The campaign that every comparison comes from: three pulls a side, side by side.

Four anchors, two treatments of one changed level, one sand; on each of three
outings every anchor is pulled once bare and once with each treatment. That is
36 pulls, and eight comparisons of three pulls a side on the same outings.
"""

from typing import Final

import numpy as np

from model.base.priors import DEFAULT_PRIORS
from model.calibration.sand_campaign import CHANGED, one_pull_of_each, sand_campaign, stated_world
from model.calibration.scenario import FixedTruth, Scenario
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Measure, Question, SetUp
from model.simulate.campaign import simulate_campaign
from model.simulate.plan import Plan, Protocol
from model.simulate.prior_world import draw_world
from model.simulate.world import World

ANCHOR_MASSES_KG: Final = {"K1": 6.0, "K2": 8.0, "K3": 10.0, "K4": 12.0}
TREATMENTS: Final = ("first", "second")
PROTOCOL: Final = Protocol(camera_chance=0.7)


def comparison_campaign() -> Campaign:
    """The campaign, with its eight comparisons first among the questions."""
    return sand_campaign(
        "Simulated comparisons",
        month=5,
        masses_kg=ANCHOR_MASSES_KG,
        treatments=TREATMENTS,
        questions=(*_comparisons(), *_general(Measure.TYPICAL), *_general(Measure.UPRIGHT)),
    )


def _comparisons() -> tuple[Question, ...]:
    return tuple(
        Question(
            name=f"{treatment} on {code}",
            a=SetUp(anchor=code, levels={treatment: CHANGED}),
            b=SetUp(anchor=code),
            measure=Measure.TYPICAL,
        )
        for treatment in TREATMENTS
        for code in ANCHOR_MASSES_KG
    )


def _general(measure: Measure) -> tuple[Question, ...]:
    return tuple(
        Question(
            name=f"{treatment} in general, {measure}",
            a=SetUp(levels={treatment: CHANGED}),
            b=SetUp(),
            measure=measure,
        )
        for treatment in TREATMENTS
    )


def comparison_plans() -> tuple[Plan, ...]:
    """The 36 pulls: on each outing every anchor bare and with each treatment."""
    return one_pull_of_each(tuple(ANCHOR_MASSES_KG), TREATMENTS)


def scenario_world(scenario: Scenario, campaign: Campaign) -> World:
    """The truth of one scenario; the same one every time."""
    rng = np.random.default_rng([scenario.seed, 0])
    if scenario.fixed is None:
        return draw_world(campaign, DEFAULT_PRIORS, rng)
    return fixed_world(scenario.fixed, campaign, rng)


def scenario_pulls(scenario: Scenario, world: World) -> tuple[Pull, ...]:
    """The pulls of one scenario; the same ones every time."""
    rng = np.random.default_rng([scenario.seed, 1])
    return simulate_campaign(world, comparison_plans(), PROTOCOL, rng)


def fixed_world(fixed: FixedTruth, campaign: Campaign, rng: np.random.Generator) -> World:
    """A truth off the priors, by one stated rule.

    Anchors' upright loads are log-uniform on 1.5 to 7 kN and their P(upright)
    uniform on 0.3 to 0.9; a treatment multiplies the load of either mode of every
    anchor by its ratio and changes nothing else; days differ with a log sd of 0.08
    in load and 0.3 in the logit of P(upright).
    """
    anchors, outings = len(campaign.anchors), len(campaign.outings)
    loads = rng.uniform(np.log(1.5), np.log(7.0), anchors)
    p_upright = rng.uniform(0.3, 0.9, anchors)
    named: dict[str, float | np.ndarray] = {
        "load_base": float(loads.mean()),
        "mass_exponent": 0.0,  # the anchors' own levels hold all of it
        "anchor_load": loads - loads.mean(),
        "scope_slope": 2.6,
        "treatment_load": np.log(np.array(fixed.ratios)),
        "day_load": rng.normal(0.0, 0.08, outings),
        "pull_load_scale": 0.05,
        "mode_gap": fixed.gap,
        "mode_gap_centre": float(np.log(fixed.gap)),
        "log_scatter": float(np.log(fixed.scatter)),
        "anchor_upright": np.log(p_upright / (1 - p_upright)),
        "day_upright": rng.normal(0.0, 0.3, outings),
        "sets_base": 3.0,
        "hold_exponent": 0.02,
        "gauge_scatter": 0.02,
        "boat_bias": float(rng.normal(0.0, 0.05)),
        "spoilt_share": 0.02,
        "seen_upright_rate": 0.95,
        "seen_on_side_rate": 0.95,
        "not_seen_base": -0.5,
        "not_seen_difference": 0.5,
    }
    return stated_world(campaign, named)
