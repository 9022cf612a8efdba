"""What is seen besides the load: how it set, buried rode, signs."""

from math import exp

import numpy as np
from scipy.special import expit

from model.records.pull import BuriedRode, ModeSeen
from model.simulate.nature import mean_log_buried
from model.simulate.plan import Plan, Tape
from model.simulate.world import World


def see_mode(world: World, rng: np.random.Generator, *, is_upright: bool) -> ModeSeen | None:
    """What a camera shows of a bite's mode: nothing, the truth, or now and then the other."""
    half = world.value("not_seen_difference") / 2
    logit = world.value("not_seen_base") + (half if is_upright else -half)
    if rng.random() < expit(logit):
        return None
    rate = world.value("seen_upright_rate" if is_upright else "seen_on_side_rate")
    is_right = rng.random() < rate
    return ModeSeen.UPRIGHT if is_upright == is_right else ModeSeen.ON_SIDE


def see_buried(
    world: World, plan: Plan, tape: Tape, rng: np.random.Generator, *, is_upright: bool
) -> BuriedRode:
    """The buried rode of one bite as the crew writes it."""
    mean = mean_log_buried(world, plan, is_upright=is_upright)
    return read_tape(tape, exp(rng.normal(mean, world.value("buried_scatter"))))


def read_tape(tape: Tape, length_m: float) -> BuriedRode:
    """A length of buried rode as it is written down: none seen, out of sight, or rounded."""
    if length_m < tape.visible_m:
        return BuriedRode(kind="less_than", length_m=tape.visible_m)
    if length_m >= tape.limit_m:
        return BuriedRode(kind="at_least", length_m=tape.limit_m)
    rounded_m = round(round(length_m / tape.resolution_m) * tape.resolution_m, 6)
    return BuriedRode(kind="reading", length_m=rounded_m, resolution_m=tape.resolution_m)


def see_signs(
    world: World, rng: np.random.Generator, *, is_upright: bool, missing_chance: float = 0.0
) -> dict[str, bool]:
    """Each sign's yes or no; missing ones are left out."""
    seen = {}
    rate = "sign_upright_rate" if is_upright else "sign_on_side_rate"
    for sign in world.campaign.signs:
        is_yes = bool(rng.random() < world.value(rate, sign=sign.name))
        if rng.random() >= missing_chance:
            seen[sign.name] = is_yes
    return seen
