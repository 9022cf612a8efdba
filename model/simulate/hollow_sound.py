"""Hollow Sound trials: the invented truth and day plans behind the demo data.

Everything is made up. The truth is fixed by hand to hold what makes the job
hard: P9 never varies, S6 is erratic between two modes, W8 nearly always
outholds the boat; the leader goes deeper and holds no more, the tip ballast
truly helps, the 6 mm chain does nothing. Only the pulls depend on a seed.
"""

import datetime as dt
from collections.abc import Iterator, Mapping
from math import log
from typing import Final

import numpy as np

from model.base.names import PARAMETER_DIMS
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.simulate.campaign import simulate_campaign
from model.simulate.plan import Evidence, Plan, Protocol, Tape
from model.simulate.world import World, dim_names

SEED: Final = 1
"""Seed of the published demo data: the first one, not chosen by what came out."""

Truth = float | Mapping[str, float | Mapping[str, float]]

LEADER: Final = "leader=wire 2 m"
CHAIN: Final = "chain=6 mm"
BALLAST: Final = "tip ballast=0.4 kg"

TRUTH: Final[Mapping[str, Truth]] = {
    # --- loads: upright on firm sand S6 4.6 kN, W8 9.4, P9 3.4, F5 4.1, C7 2.6 ---
    "load_base": log(5.0),
    "mass_exponent": {"firm sand": 0.80, "soft mud": 0.92},
    "seabed_load": {"firm sand": 0.0, "soft mud": -0.35},
    "anchor_load": {"S6": 0.33, "W8": 0.81, "P9": -0.30, "F5": 0.36, "C7": -0.42},
    "anchor_load_scale": 0.5,
    "anchor_seabed_load": {
        "S6": {"soft mud": 0.05},
        "P9": {"soft mud": -0.10},
        "F5": {"soft mud": 0.20},
        "C7": {"soft mud": -0.10},
    },
    "anchor_seabed_load_scale": 0.1,
    "site_load": {"north flat": 0.03, "outer bar": -0.03},
    "site_load_scale": 0.03,
    "scope_slope": 2.4,
    # The leader and the chain change no load at all; the ballast a little in both modes.
    "treatment_load": {BALLAST: 0.04},
    "treatment_upright_load": {BALLAST: 0.05},
    "day_load": {
        "day 1": 0.03,
        "day 2": -0.04,
        "day 3": 0.01,
        "day 4": -0.03,
        "day 5": 0.04,
        "day 6": -0.02,
    },
    "day_load_scale": 0.035,
    "later_bite_load": -0.05,
    "pull_load_scale": 0.03,
    "mode_gap": {"S6": 0.75, "W8": 0.60, "P9": 0.40, "F5": 0.50, "C7": 0.35},
    "mode_gap_centre": log(0.5),
    "mode_gap_scale": 0.3,
    "log_scatter": {"upright": log(0.10), "on_side": log(0.14)},
    "anchor_scatter": {"S6": 0.2, "P9": -1.2, "F5": 0.2},
    "anchor_scatter_scale": 0.5,
    # --- setting mode: upright at baseline S6 0.50, W8 0.97, P9 0.98, F5 0.77, C7 0.85 ---
    "upright_base": 0.9,
    "anchor_upright": {"S6": -0.9, "W8": 2.6, "P9": 3.1, "F5": 0.3, "C7": 0.8},
    "anchor_upright_scale": 1.5,
    "anchor_seabed_upright": {"S6": {"soft mud": 0.3}, "F5": {"soft mud": -0.3}},
    "anchor_seabed_upright_scale": 0.2,
    "treatment_upright": {BALLAST: 1.8},
    "treatment_anchor_upright": {BALLAST: {"S6": 0.2, "F5": -0.3}},
    "treatment_anchor_upright_scale": 0.15,
    "day_upright": {"day 1": 0.2, "day 2": -0.3, "day 3": 0.1, "day 5": -0.2, "day 6": 0.2},
    "day_upright_scale": 0.2,
    "later_bite_upright": 0.6,
    # --- setting at all, and again ---
    "sets_base": 2.6,
    "anchor_sets": {"W8": 0.3, "P9": 0.2, "F5": -1.0, "C7": 0.6},
    "anchor_sets_scale": 0.6,
    "seabed_sets": {"firm sand": 0.2, "soft mud": -0.6},
    "resets_base": 0.3,
    "anchor_resets": {"S6": 0.6, "W8": 0.4, "P9": -0.3, "F5": -0.8, "C7": 0.4},
    "anchor_resets_scale": 0.6,
    "turns_base": 0.5,
    # --- buried rode: 1.1 m upright, 0.3 m on its side ---
    "buried_base": log(1.1),
    "anchor_buried": {"C7": -0.3, "W8": 0.2},
    "anchor_buried_scale": 0.2,
    "treatment_buried": {LEADER: 0.35},  # a third to a half deeper, and no load gained
    "buried_gap": log(1.1 / 0.3),
    "buried_scatter": 0.25,
    "sign_upright_rate": {"marker under": 0.85, "shank in sight": 0.10},
    "sign_on_side_rate": {"marker under": 0.15, "shank in sight": 0.70},
    # --- how it was measured and seen ---
    "hold_exponent": 0.02,
    "gauge_scatter": {"load pin": 0.02},
    "boat_bias": {"workboat 6.5 m": 0.03},
    "spoilt_share": 0.02,
    "seen_upright_rate": 0.96,
    "seen_on_side_rate": 0.95,
    "not_seen_base": -0.6,
    "not_seen_difference": 0.5,
}
"""The truth by coordinate; what is not named is exactly 0."""

PROTOCOL: Final = Protocol(
    camera_chance=0.75,
    stop_chance=0.03,
    release_stop_chance=0.05,
    evidence=Evidence(tape=Tape(visible_m=0.25, limit_m=2.0), has_signs=True),
    missing_chance=0.12,
)
"""How the invented crew pulls and what it forgets to write down."""

DAYS: Final[Mapping[str, tuple[str, ...]]] = {
    "day 1": (
        "S6, S6 leader, S6 leader, S6, S6, S6 leader, S6 ballast, S6, S6 ballast",
        "P9 leader, P9, C7, C7 leader, C7 leader, C7, W8",
    ),
    "day 2": (
        "S6 ballast, S6, S6, S6 ballast, S6 ballast, S6, S6, S6 ballast",
        "F5, F5 leader, F5 leader, F5, F5, F5 leader, W8 leader, W8",
    ),
    "day 3": (
        "P9, P9 chain, P9 chain, P9, C7 chain, C7, C7, C7 chain",
        "S6 leader, S6, S6, S6 leader, S6 ballast, S6, S6 ballast, W8",
    ),
    "day 4": (
        "S6, S6 ballast, S6 ballast, S6, W8, W8 leader, W8, P9 leader, P9, P9, P9 leader",
        "C7, C7 leader, F5, F5 leader",
    ),
    "day 5": (
        "S6 ballast, S6, S6, S6 ballast, S6, S6 ballast, S6, F5 leader, F5, F5, F5 leader",
        "P9, P9 leader, C7 leader, C7, W8 @3.5",
    ),
    "day 6": (
        "P9 @3.5, P9, P9, P9 @3.5, S6, S6 leader, S6 leader, S6, C7, C7 chain, C7 chain",
        "S6 ballast, S6, F5, F5 ballast, W8",
    ),
}
"""Each day's pulls in order: anchor, what is changed, scope after @.

The arms of a question stand side by side on the same day, the first one alternating.
"""

SEABEDS: Final = {"day 4": "soft mud"}
"""Days that are not on firm sand."""

VOIDS: Final = {("day 2", "5"): "fouled on an old rope", ("day 6", "11"): "wrong chain on"}
"""Two pulls that something other than the anchor spoils, whatever the seed."""

BASELINE_RIG: Final = {"leader": "chain only", "chain": "8 mm", "tip ballast": "none"}
CHANGES: Final[Mapping[str, tuple[str, str]]] = {
    "leader": ("leader", "wire 2 m"),
    "chain": ("chain", "6 mm"),
    "ballast": ("tip ballast", "0.4 kg"),
}
MARK: Final = "invented"
"""Note on every pull, so that pulls copied elsewhere still say what they are."""

USUAL_SCOPE: Final = 5.0
FIRST_PULL: Final = dt.datetime(2026, 1, 1, 9, 10)  # noqa: DTZ001  only its time of day is used
SPACING: Final = dt.timedelta(minutes=22)


def hollow_sound_world(campaign: Campaign) -> World:
    """The demo's truth, laid out for its campaign file."""
    names = dim_names(campaign)
    values = {}
    for parameter, dims in PARAMETER_DIMS.items():
        array = np.zeros(tuple(len(names[dim]) for dim in dims))
        for place, value in _entries(TRUTH.get(parameter, {})):
            index = tuple(names[dim].index(name) for dim, name in zip(dims, place, strict=True))
            array[index] = value
        values[parameter] = array
    return World(campaign=campaign, values=values)


def _entries(truth: Truth) -> Iterator[tuple[tuple[str, ...], float]]:
    """Every named number of one parameter, with its coordinates."""
    if isinstance(truth, Mapping):
        for name, inner in truth.items():
            for place, value in _entries(inner):
                yield (name, *place), value
    else:
        yield (), truth


def hollow_sound_plans() -> tuple[Plan, ...]:
    """All pulls of the six days, before they are made."""
    return tuple(
        _plan(outing, number, entry.strip())
        for outing, lines in DAYS.items()
        for number, entry in enumerate(",".join(lines).split(","), start=1)
    )


def _plan(outing: str, number: int, entry: str) -> Plan:
    anchor, *changes = entry.split()
    scopes = [float(change[1:]) for change in changes if change.startswith("@")]
    levels = dict(CHANGES[change] for change in changes if not change.startswith("@"))
    code = str(number)
    return Plan(
        outing=outing,
        anchor=anchor,
        seabed=SEABEDS.get(outing, "firm sand"),
        code=code,
        levels={**BASELINE_RIG, **levels},
        scope=scopes[0] if scopes else USUAL_SCOPE,
        time=(FIRST_PULL + SPACING * (number - 1)).time(),
        void_reason=VOIDS.get((outing, code), ""),
    )


def simulate_hollow_sound(campaign: Campaign, seed: int = SEED) -> tuple[Pull, ...]:
    """Pull the demo's pulls.

    Parameters
    ----------
    campaign : Campaign
        As read from ``data/hollow_sound/campaign.toml``.
    seed : int
        Another seed makes other pulls from the same truth and plans.
    """
    rng = np.random.default_rng(seed)
    world = hollow_sound_world(campaign)
    pulls = simulate_campaign(world, hollow_sound_plans(), PROTOCOL, rng)
    return tuple(pull.model_copy(update={"notes": MARK}) for pull in pulls)
