"""What nature decides: chances and loads of one set-up, one pull at a time.

Plain scalar arithmetic, term by term as the model page writes it.
"""

from dataclasses import dataclass
from math import exp, log
from typing import Final

import numpy as np
from scipy.special import expit

from model.base.constants import REFERENCE_MASS_KG
from model.base.errors import InputError
from model.base.names import MODES, treatment_level_name
from model.records.campaign import Campaign
from model.simulate.plan import Plan, scope_of, site_of
from model.simulate.world import DEFAULT_GAUGE, World

UPRIGHT_MODE, ON_SIDE_MODE = MODES
FIRST_BITE: Final = 1


def changed_levels(campaign: Campaign, plan: Plan) -> tuple[str, ...]:
    """Coordinates on ``treatment_level`` of what the plan changes, two together included.

    Raises
    ------
    InputError
        If a treatment or a level is not one of the campaign's.
    """
    treatments = {treatment.name: treatment for treatment in campaign.treatments}
    names = []
    for treatment, level in plan.levels.items():
        if treatment not in treatments or level not in treatments[treatment].levels:
            raise InputError(f"no level {treatment}={level}", hint="See the campaign's treatments.")
        if level != treatments[treatment].baseline:
            names.append(treatment_level_name(treatment, level))
    single = {name.split("=")[0]: name for name in names}
    for first, second in campaign.interactions:
        if first in single and second in single:
            names.append(f"{single[first]} & {single[second]}")
    return tuple(names)


def chance_sets(world: World, plan: Plan) -> float:
    """Chance that the anchor sets at all."""
    logit = (
        world.value("sets_base")
        + world.value("anchor_sets", anchor=plan.anchor)
        + world.value("seabed_sets", seabed=plan.seabed)
    )
    for level in changed_levels(world.campaign, plan):
        logit += world.value("treatment_sets", treatment_level=level)
    return float(expit(logit))


def chance_resets(world: World, anchor: str) -> float:
    """Chance that the anchor digs in again after a release, if the thrust stays on."""
    logit = world.value("resets_base") + world.value("anchor_resets", anchor=anchor)
    return float(expit(logit))


def chance_turns(world: World, anchor: str) -> float:
    """Chance that the anchor sets again after the pull direction has changed."""
    logit = world.value("turns_base") + world.value("anchor_turns", anchor=anchor)
    return float(expit(logit))


def mean_log_buried(world: World, plan: Plan, *, is_upright: bool) -> float:
    """Mean log length of the rode that one bite buries, log m."""
    mean = world.value("buried_base") + world.value("anchor_buried", anchor=plan.anchor)
    for level in changed_levels(world.campaign, plan):
        mean += world.value("treatment_buried", treatment_level=level)
        mean += world.value("treatment_anchor_buried", treatment_level=level, anchor=plan.anchor)
    return mean if is_upright else mean - world.value("buried_gap")


def logit_upright(
    world: World, plan: Plan, *, bite: int = FIRST_BITE, day: str | None = None
) -> float:
    """Logit of the chance that a bite of one of the two modes is upright.

    Parameters
    ----------
    bite : int
        Number of the bite within its pull, from 1.
    day : str or None
        Outing whose day effect applies; None is a day of effect 0.
    """
    logit = (
        world.value("upright_base")
        + world.value("anchor_upright", anchor=plan.anchor)
        + world.value("anchor_seabed_upright", anchor=plan.anchor, seabed=plan.seabed)
    )
    for level in changed_levels(world.campaign, plan):
        logit += world.value("treatment_upright", treatment_level=level)
        logit += world.value("treatment_anchor_upright", treatment_level=level, anchor=plan.anchor)
    if day is not None:
        logit += world.value("day_upright", outing=day)
    if bite > FIRST_BITE:
        logit += world.value("later_bite_upright")
    return logit


def chance_upright(
    world: World, plan: Plan, *, bite: int = FIRST_BITE, day: str | None = None
) -> float:
    """Chance that a bite is upright; see :func:`logit_upright`."""
    of_two = float(expit(logit_upright(world, plan, bite=bite, day=day)))
    return of_two * (1 - world.departures.third_share)


@dataclass(frozen=True, kw_only=True)
class Kind:
    """How a bite has set, and what it looks like to whoever sees it.

    Parameters
    ----------
    is_third : bool
        Of a third mode, which looks like one of the two.
    """

    is_upright: bool
    looks_upright: bool
    is_third: bool = False


def bite_kind(world: World, plan: Plan, rng: np.random.Generator, *, bite: int) -> Kind:
    """Draw how a bite sets on the day of its plan."""
    place = rng.random()
    third_share = world.departures.third_share
    if third_share and place >= 1 - third_share:
        looks_upright = bool(place >= 1 - third_share / 2)
        return Kind(is_upright=False, looks_upright=looks_upright, is_third=True)
    is_upright = bool(place < chance_upright(world, plan, bite=bite, day=plan.outing))
    return Kind(is_upright=is_upright, looks_upright=is_upright)


def mean_log_capacity(
    world: World,
    plan: Plan,
    *,
    is_upright: bool,
    is_third: bool = False,
    bite: int = FIRST_BITE,
    day: str | None = None,
) -> float:
    """Mean of log capacity (kN) in one mode, before the pull's own deviation.

    Parameters are those of :func:`logit_upright`, and the mode.
    """
    a, s = plan.anchor, plan.seabed
    campaign = world.campaign
    mass_kg = next(anchor.mass_kg for anchor in campaign.anchors if anchor.code == a)
    mean = world.value("load_base") + world.value("anchor_load", anchor=a)
    mean += world.value("mass_exponent", seabed=s) * log(mass_kg / REFERENCE_MASS_KG)
    mean += world.value("seabed_load", seabed=s)
    mean += world.value("anchor_seabed_load", anchor=a, seabed=s)
    site = site_of(campaign, plan)
    if site is not None:
        mean += world.value("site_load", site=site)
    bend = 1 / scope_of(campaign, plan) - 1 / campaign.usual_scope
    mean -= world.value("scope_slope") * bend
    for level in changed_levels(campaign, plan):
        mean += _level_load(world, level, plan, is_upright=is_upright)
    if day is not None:
        mean += world.value("day_load", outing=day)
    if bite > FIRST_BITE:
        mean += world.value("later_bite_load")
    if not is_upright:
        mean -= world.value("mode_gap", anchor=a)
    departures = world.departures
    if is_third and departures.third is not None:
        mean -= departures.third.gaps * world.value("mode_gap", anchor=a)
    return mean + departures.drift * plan.through_day


def _level_load(world: World, level: str, plan: Plan, *, is_upright: bool) -> float:
    load = world.value("treatment_load", treatment_level=level)
    load += world.value("treatment_anchor_load", treatment_level=level, anchor=plan.anchor)
    load += world.value("treatment_seabed_load", treatment_level=level, seabed=plan.seabed)
    if is_upright:
        load += world.value("treatment_upright_load", treatment_level=level)
    return load


def scatter(world: World, anchor: str, *, is_upright: bool) -> float:
    """Standard deviation of log capacity within one mode of one anchor."""
    mode = UPRIGHT_MODE if is_upright else ON_SIDE_MODE
    return exp(world.value("log_scatter", mode=mode) + world.value("anchor_scatter", anchor=anchor))


def log_bias(world: World, outing: str) -> float:
    """Log of recorded over true load, shared by all that the outing's boat pulls."""
    return world.value("boat_bias", boat=world.campaign.outing(outing).boat)


def gauge_scatter(world: World, outing: str) -> float:
    """Log-scale scatter of the outing's gauge: one shift of the ladder per bite."""
    gauge = world.campaign.outing(outing).gauge
    return world.value("gauge_scatter", gauge=DEFAULT_GAUGE if gauge is None else gauge)
