"""The campaign of the table of wrong worlds: small, its truths from the priors but for one thing.

Two anchors, two treatments of one changed level, one sand; on each of three outings both
anchors are pulled bare and with each treatment: 18 pulls, a camera at seven tenths of them.
Every world has the same truths, and each pull a stream of chance of its own, so that a
campaign of one world differs from that of another in nothing but what the world departs in.
"""

from collections.abc import Mapping
from dataclasses import replace
from math import log
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.errors import InputError
from model.base.names import PARAMETER_DIMS, TREATMENT_LEVEL
from model.base.priors import DEFAULT_PRIORS
from model.calibration.comparison_campaign import TREATMENTS
from model.calibration.sand_campaign import CHANGED, OUTINGS, one_pull_of_each, sand_campaign
from model.calibration.scenario import (
    DRIFT_ARM_BY_ARM,
    DRIFT_BALANCED,
    FIRST_WRONG_WORLD_SEED,
    HALF_NULL,
    HEAVIER_TAILS,
    MIS_STATED_LADDER,
    MISREAD_MODES,
    RIGHT_WORLD,
    THIRD_MODE,
    WORLDS,
    Scenario,
)
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Measure, Question, SetUp
from model.simulate.departures import AS_MODELLED, Departures, ThirdMode
from model.simulate.plan import Plan, Protocol
from model.simulate.prior_world import draw_world
from model.simulate.pull import simulate_pull
from model.simulate.world import World

ANCHOR_MASSES_KG: Final = {"K1": 6.0, "K2": 9.0}
PROTOCOL: Final = Protocol(camera_chance=0.7)
HOLD_KN: Final = 2.0
"""Asked of the chance to hold: about the middle of the priors for these masses."""

READ_RIGHT: Final = 0.8
"""Chance that a seen mode is called what it is, where one in five is misread: under the priors,
with a mean of 0.95, it is this or less with a chance of 0.002."""

DEPARTURES: Final[Mapping[str, Departures]] = {
    RIGHT_WORLD: AS_MODELLED,
    HEAVIER_TAILS: Departures(tail_degrees=3),
    THIRD_MODE: Departures(third=ThirdMode(share=0.2, gaps=1.0)),
    DRIFT_BALANCED: Departures(drift=log(1.10)),
    DRIFT_ARM_BY_ARM: Departures(drift=log(1.10)),
    # Two steps pulled harder than stated, then two less hard: in all about right, unevenly.
    MIS_STATED_LADDER: Departures(
        thrust_factors=(1.08, 1.08, 0.92, 0.92, 1.08, 1.08, 0.92, 0.92, 1.08, 1.08)
    ),
    MISREAD_MODES: AS_MODELLED,  # the camera's own rates, below
    HALF_NULL: AS_MODELLED,  # the treatment's own effects, below
}
"""What each world departs in, on the water."""


def wrong_world_campaign() -> Campaign:
    """The campaign with its nine questions: one anchor against the other, and each treatment."""
    first, second = ANCHOR_MASSES_KG
    pairs = {
        f"{first} against {second}": (SetUp(anchor=first), SetUp(anchor=second)),
        **{
            f"{treatment} in general": (SetUp(levels={treatment: CHANGED}), SetUp())
            for treatment in TREATMENTS
        },
    }
    return sand_campaign(
        "Simulated wrong worlds",
        month=9,
        masses_kg=ANCHOR_MASSES_KG,
        treatments=TREATMENTS,
        questions=[
            Question(
                name=f"{name}, {measure}",
                a=a,
                b=b,
                measure=measure,
                hold_kn=HOLD_KN if measure is Measure.HOLD else None,
            )
            for name, (a, b) in pairs.items()
            for measure in (Measure.TYPICAL, Measure.UPRIGHT, Measure.HOLD)
        ],
    )


def wrong_world(scenario: Scenario, campaign: Campaign) -> World:
    """The truth of one scenario: that of every other world with its seed, but for one thing.

    Raises
    ------
    InputError
        If the scenario names no world of the table.
    """
    if scenario.world not in DEPARTURES:
        raise InputError(f"no world {scenario.world!r}", hint=f"Use one of: {', '.join(WORLDS)}.")
    world = draw_world(campaign, DEFAULT_PRIORS, np.random.default_rng([scenario.seed, 0]))
    changed: Mapping[str, NDArray[np.float64]] = {}
    if scenario.world == MISREAD_MODES:
        rates = ("seen_upright_rate", "seen_on_side_rate")
        changed = {name: np.asarray(READ_RIGHT) for name in rates}
    if scenario.world == HALF_NULL:
        changed = _without_effect(world, null_treatment(scenario))
    return replace(world, values={**world.values, **changed}, departures=DEPARTURES[scenario.world])


def null_treatment(scenario: Scenario) -> int:
    """Position of the treatment that changes nothing, where half of them do not: in turn."""
    return (scenario.seed - FIRST_WRONG_WORLD_SEED) % len(TREATMENTS)


def _without_effect(world: World, treatment: int) -> dict[str, NDArray[np.float64]]:
    """Every effect of one treatment's changed level set to exactly 0."""
    changed = {}
    for name, dims in PARAMETER_DIMS.items():
        if TREATMENT_LEVEL in dims:
            values = world.values[name].copy()
            np.moveaxis(values, dims.index(TREATMENT_LEVEL), 0)[treatment] = 0.0
            changed[name] = values
    return changed


def wrong_world_plans(world: str) -> tuple[Plan, ...]:
    """The 18 pulls with their places in the day, in the same order for every world.

    The places matter to a drift alone. One arm after the other: both anchors bare, then both
    with the first treatment, then both with the second, day after day. Turned about: the arm
    that was first on one day is last on the next, so that over three days every arm stands as
    early as late, and the anchors take turns.
    """
    arms = 1 + len(TREATMENTS)
    plans = one_pull_of_each(tuple(ANCHOR_MASSES_KG), TREATMENTS)
    in_a_day = len(plans) // len(OUTINGS)
    placed = []
    for number, plan in enumerate(plans):
        day, (anchor, arm) = number // in_a_day, divmod(number % in_a_day, arms)
        turn = 0 if world == DRIFT_ARM_BY_ARM else day
        anchors = len(ANCHOR_MASSES_KG)
        place = (arm - turn) % arms * anchors + (anchor + turn) % anchors
        placed.append(replace(plan, through_day=place / (in_a_day - 1) - 0.5))
    return tuple(placed)


def wrong_world_pulls(scenario: Scenario, world: World) -> tuple[Pull, ...]:
    """The pulls of one scenario; the same ones every time."""
    return tuple(
        simulate_pull(
            world, plan, np.random.default_rng([scenario.seed, 1, number]), protocol=PROTOCOL
        )
        for number, plan in enumerate(wrong_world_plans(scenario.world))
    )
