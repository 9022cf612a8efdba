"""The campaign of the lost camera: an anchor whose mode only the camera could tell.

Three anchors on one sand, bare, on three outings. Two let go well within the
ladder, and far enough apart in the two modes for the load to tell which it was;
the third outholds the boat in either mode, so that nothing but the camera tells.
There is a camera at every pull, and it is lost in most of what digs in. What the
two say of the camera is what keeps the third from looking worse than it is.
"""

from typing import Final

import numpy as np

from model.calibration.sand_campaign import OUTINGS, SEABED, sand_campaign, stated_world
from model.calibration.scenario import Scenario
from model.records.campaign import Campaign
from model.simulate.campaign import live_campaign
from model.simulate.plan import Plan, Protocol
from model.simulate.pull import LivedPull
from model.simulate.world import World

ANCHOR_MASSES_KG: Final = {"K1": 6.0, "K2": 9.0, "K3": 35.0}
OUT_OF_REACH: Final = "K3"
"""The anchor that outholds the boat lying on its side, too."""

UPRIGHT_LOADS_KN: Final = (2.6, 3.6, 22.0)
GAP: Final = 0.7  # log load, upright over on its side
SCATTER: Final = 0.15  # log sd in both modes
PULLS_A_DAY: Final = {"K1": 12, "K2": 12, "K3": 8}

LOST_BASE: Final = 0.0
LOST_DIFFERENCE: Final = 2.0
"""Logits of not being seen: 0.73 of what is upright, 0.27 of what lies on its side; two
standard deviations out in the prior of the difference."""

PROTOCOL: Final = Protocol(camera_chance=1.0)


def lost_camera_campaign() -> Campaign:
    """The campaign; no question is asked of it but how often each anchor sets upright."""
    return sand_campaign(
        "Simulated lost camera", month=8, masses_kg=ANCHOR_MASSES_KG, treatments=(), questions=()
    )


def lost_camera_plans() -> tuple[Plan, ...]:
    """The 96 pulls."""
    return tuple(
        Plan(outing=outing, anchor=anchor, seabed=SEABED, code=f"{anchor} {number}")
        for outing in OUTINGS
        for anchor, pulls in PULLS_A_DAY.items()
        for number in range(1, pulls + 1)
    )


def lost_camera_world(scenario: Scenario, campaign: Campaign) -> World:
    """A truth by one stated rule; the same one every time.

    P(upright) of each anchor is uniform on 0.3 to 0.9; days differ with a log sd of
    0.08 in load and 0.3 in the logit of P(upright).
    """
    rng = np.random.default_rng([scenario.seed, 0])
    loads = np.log(UPRIGHT_LOADS_KN)
    p_upright = rng.uniform(0.3, 0.9, len(loads))
    named: dict[str, float | np.ndarray] = {
        "load_base": float(loads.mean()),
        "anchor_load": loads - loads.mean(),
        "scope_slope": 2.6,
        "day_load": rng.normal(0.0, 0.08, len(OUTINGS)),
        "pull_load_scale": 0.05,
        "mode_gap": GAP,
        "mode_gap_centre": float(np.log(GAP)),
        "log_scatter": float(np.log(SCATTER)),
        "anchor_upright": np.log(p_upright / (1 - p_upright)),
        "day_upright": rng.normal(0.0, 0.3, len(OUTINGS)),
        "sets_base": 3.0,
        "hold_exponent": 0.02,
        "gauge_scatter": 0.02,
        "boat_bias": float(rng.normal(0.0, 0.05)),
        "spoilt_share": 0.02,
        "seen_upright_rate": 0.95,
        "seen_on_side_rate": 0.95,
        "not_seen_base": LOST_BASE,
        "not_seen_difference": LOST_DIFFERENCE,
    }
    return stated_world(campaign, named)


def lost_camera_pulls(scenario: Scenario, world: World) -> tuple[LivedPull, ...]:
    """The pulls of one scenario with their true modes; the same ones every time."""
    rng = np.random.default_rng([scenario.seed, 1])
    return live_campaign(world, lost_camera_plans(), PROTOCOL, rng)
