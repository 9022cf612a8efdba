"""What is seen besides the load: how it set, buried rode, signs."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import exp, log

import numpy as np
from scipy.special import expit

from model.records.pull import BuriedRode, ModeSeen
from model.simulate.world import World


@dataclass(frozen=True, kw_only=True)
class Burial:
    """Rode that goes under: log-normal given the mode.

    Parameters
    ----------
    upright_m, on_side_m : float
        Median length in each mode at every baseline, m.
    scatter : float
        Standard deviation of its log.
    level_effects, anchor_effects : mapping of str to float
        Log effects by treatment level (``treatment=level``) and anchor; 0 where not named.
    visible_m : float
        Below it none is seen: written ``<visible_m``.
    limit_m : float
        From it on the mark is out of sight: written ``>limit_m``.
    resolution_m : float
        Readings are rounded to it.
    """

    upright_m: float
    on_side_m: float
    scatter: float = 0.3
    level_effects: Mapping[str, float] = field(default_factory=dict)
    anchor_effects: Mapping[str, float] = field(default_factory=dict)
    visible_m: float = 0.2
    limit_m: float = 3.0
    resolution_m: float = 0.1


@dataclass(frozen=True, kw_only=True)
class SignChances:
    """P(yes) of one sign, given each mode."""

    upright: float
    on_side: float


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What a campaign writes down besides loads; none of either by default."""

    burial: Burial | None = None
    signs: Mapping[str, SignChances] = field(default_factory=dict)


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
    burial: Burial,
    rng: np.random.Generator,
    *,
    is_upright: bool,
    anchor: str,
    levels: tuple[str, ...],
) -> BuriedRode:
    """The buried rode of one bite as the crew writes it."""
    mean = log(burial.upright_m if is_upright else burial.on_side_m)
    mean += burial.anchor_effects.get(anchor, 0.0)
    mean += sum(burial.level_effects.get(level, 0.0) for level in levels)
    length_m = exp(rng.normal(mean, burial.scatter))
    if length_m < burial.visible_m:
        return BuriedRode(kind="less_than", length_m=burial.visible_m)
    if length_m >= burial.limit_m:
        return BuriedRode(kind="at_least", length_m=burial.limit_m)
    rounded_m = round(round(length_m / burial.resolution_m) * burial.resolution_m, 6)
    return BuriedRode(kind="reading", length_m=rounded_m, resolution_m=burial.resolution_m)


def see_signs(
    signs: Mapping[str, SignChances],
    rng: np.random.Generator,
    *,
    is_upright: bool,
    missing_chance: float = 0.0,
) -> dict[str, bool]:
    """Each sign's yes or no; missing ones are left out."""
    seen = {}
    for name, chances in signs.items():
        is_yes = bool(rng.random() < (chances.upright if is_upright else chances.on_side))
        if rng.random() >= missing_chance:
            seen[name] = is_yes
    return seen
