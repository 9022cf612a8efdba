"""The campaign of the table of what is seen: small, with every kind of evidence.

Three anchors, one treatment of one changed level, one sand; on each of three
outings every anchor is pulled once bare and once changed: 18 pulls. With truths
from the priors there is a camera at half of them, a tape for the buried rode and
two signs, and a tenth of what could be written down is not; where the camera is
lost there is a camera at every pull, and nothing else.
"""

from typing import Final

import numpy as np

from model.base.priors import DEFAULT_PRIORS
from model.calibration.sand_campaign import CHANGED, one_pull_of_each, sand_campaign
from model.calibration.scenario import Scenario
from model.records.campaign import Campaign, Sign
from model.records.question import Measure, Question, SetUp
from model.simulate.campaign import live_campaign
from model.simulate.plan import Evidence, Plan, Protocol, Tape
from model.simulate.prior_world import draw_world
from model.simulate.pull import LivedPull
from model.simulate.world import World

ANCHOR_MASSES_KG: Final = {"K1": 6.0, "K2": 9.0, "K3": 12.0}
CHANGE: Final = "change"

SIGNS: Final = (
    Sign(name="marker under", points_to="upright"),
    Sign(name="shank in sight", points_to="on_side"),
)

PROTOCOL: Final = Protocol(
    camera_chance=0.5,
    evidence=Evidence(tape=Tape(), has_signs=True),
    missing_chance=0.1,
)

CAMERA_ALONE: Final = Protocol(camera_chance=1.0)
"""Where the camera is lost in what digs in, nothing else tells the mode but the load."""

LOST_BASE: Final = 0.0
LOST_DIFFERENCE: Final = 2.5
"""Logits of not being seen: 0.78 of what is upright, 0.22 of what lies on its side."""


def seen_campaign() -> Campaign:
    """The campaign with its six questions: one anchor and in general, three measures each."""
    return sand_campaign(
        "Simulated setting",
        month=6,
        masses_kg=ANCHOR_MASSES_KG,
        treatments=(CHANGE,),
        signs=SIGNS,
        questions=[
            _question(anchor, measure)
            for anchor in (next(iter(ANCHOR_MASSES_KG)), None)
            for measure in (Measure.TYPICAL, Measure.UPRIGHT, Measure.BURIED)
        ],
    )


def _question(anchor: str | None, measure: Measure) -> Question:
    return Question(
        name=f"{measure} {'in general' if anchor is None else 'of one anchor'}",
        a=SetUp(anchor=anchor, levels={CHANGE: CHANGED}),
        b=SetUp(anchor=anchor),
        measure=measure,
    )


def seen_plans() -> tuple[Plan, ...]:
    """The 18 pulls: on each outing every anchor bare and changed."""
    return one_pull_of_each(tuple(ANCHOR_MASSES_KG), (CHANGE,))


def seen_world(scenario: Scenario, campaign: Campaign) -> World:
    """A truth from the priors; the same one every time.

    Where the camera is lost, how likely that is in either mode is set, and not drawn.
    """
    world = draw_world(campaign, DEFAULT_PRIORS, np.random.default_rng([scenario.seed, 0]))
    if scenario.truth != "camera lost":
        return world
    lost = {"not_seen_base": LOST_BASE, "not_seen_difference": LOST_DIFFERENCE}
    values = {**world.values, **{name: np.asarray(value) for name, value in lost.items()}}
    return World(campaign=campaign, values=values)


def seen_pulls(scenario: Scenario, world: World) -> tuple[LivedPull, ...]:
    """The pulls of one scenario with their true modes; the same ones every time."""
    protocol = CAMERA_ALONE if scenario.truth == "camera lost" else PROTOCOL
    return live_campaign(world, seen_plans(), protocol, np.random.default_rng([scenario.seed, 1]))
