"""The campaign of the table of answers: twelve pulls, and a question by every measure.

Three anchors, one treatment of one changed level, one sand; on each of two outings
every anchor is pulled once bare and once changed. There is a camera at half of the
pulls, a tape for the buried rode and two signs; now and then the crew stops, and
half of what held is turned. A tenth of what could be written down is not.
"""

from dataclasses import replace
from typing import Final

import numpy as np

from model.base.priors import DEFAULT_PRIORS
from model.calibration.sand_campaign import CHANGED, OUTINGS, one_pull_of_each, sand_campaign
from model.calibration.scenario import Scenario
from model.calibration.seen_campaign import ANCHOR_MASSES_KG, CHANGE, PROTOCOL, SIGNS
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Measure, Question, SetUp
from model.simulate.campaign import simulate_campaign
from model.simulate.plan import Plan, Protocol
from model.simulate.prior_world import draw_world
from model.simulate.world import World

FIRST_ANCHOR, SECOND_ANCHOR, _ = ANCHOR_MASSES_KG
DAYS: Final = OUTINGS[:2]
HOLD_KN: Final = 2.0

CREW: Final[Protocol] = replace(
    PROTOCOL, stop_chance=0.05, release_stop_chance=0.1, turn_chance=0.5
)

OF_A_CHANGE: Final = (
    Measure.TYPICAL,
    Measure.BEST,
    Measure.CAPPED,
    Measure.NINE_IN_TEN,
    Measure.HOLD,
    Measure.UPRIGHT,
    Measure.SETS,
    Measure.BURIED,
    Measure.NEXT,
)
"""What a changed level can change; of one anchor."""

OF_ANCHORS: Final = (Measure.RESETS, Measure.TURNS)
"""What differs between anchors alone."""

IN_GENERAL: Final = (Measure.TYPICAL, Measure.UPRIGHT, Measure.HOLD, Measure.BURIED)


def answers_campaign() -> Campaign:
    """The campaign with its fifteen questions."""
    bare, changed = SetUp(anchor=FIRST_ANCHOR), SetUp(anchor=FIRST_ANCHOR, levels={CHANGE: CHANGED})
    return sand_campaign(
        "Simulated answers",
        month=8,
        masses_kg=ANCHOR_MASSES_KG,
        treatments=(CHANGE,),
        signs=SIGNS,
        outings=DAYS,
        questions=[
            *(_question(f"{measure} of one anchor", changed, bare, measure)
              for measure in OF_A_CHANGE),
            *(_question(f"{measure} of two anchors", bare, SetUp(anchor=SECOND_ANCHOR), measure)
              for measure in OF_ANCHORS),
            *(_question(f"{measure} in general", SetUp(levels={CHANGE: CHANGED}), SetUp(), measure)
              for measure in IN_GENERAL),
        ],
    )  # fmt: skip


def _question(name: str, a: SetUp, b: SetUp, measure: Measure) -> Question:
    hold_kn = HOLD_KN if measure is Measure.HOLD else None
    return Question(name=name, a=a, b=b, measure=measure, hold_kn=hold_kn)


def answers_plans() -> tuple[Plan, ...]:
    """The twelve pulls: on each outing every anchor bare and changed."""
    return one_pull_of_each(tuple(ANCHOR_MASSES_KG), (CHANGE,), DAYS)


def answers_world(scenario: Scenario) -> World:
    """A truth from the priors; the same one every time."""
    rng = np.random.default_rng([scenario.seed, 0])
    return draw_world(answers_campaign(), DEFAULT_PRIORS, rng)


def answers_pulls(scenario: Scenario, world: World) -> tuple[Pull, ...]:
    """The pulls of one scenario; the same ones every time."""
    return simulate_campaign(
        world, answers_plans(), CREW, np.random.default_rng([scenario.seed, 1])
    )
