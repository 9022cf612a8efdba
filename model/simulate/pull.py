"""One pull from start to end: it sets or not, bites, lets go, sets again."""

from dataclasses import dataclass, replace
from math import exp
from typing import Final

import numpy as np

from model.records.campaign import Ladder
from model.records.pull import Bite, Ending, Pull, Reading, Start
from model.simulate.crew import LivedBite, write_bites
from model.simulate.ladder import Spell, cells_above, climb, climb_spoilt
from model.simulate.nature import (
    FIRST_BITE,
    Kind,
    bite_kind,
    chance_resets,
    chance_sets,
    chance_turns,
    gauge_scatter,
    log_bias,
    mean_log_capacity,
    scatter,
)
from model.simulate.plan import Plan, Protocol, ladder_kept, site_of
from model.simulate.world import World

MAX_BITES: Final = 50
"""The most bites a record holds; after that many no re-set is tried (the thrust is taken off)."""

NO_LOAD_KN: Final = 0.0
"""Thrust on when a fresh bite begins: below the first step."""


@dataclass(frozen=True, kw_only=True)
class _Course:
    """What is fixed before the first bite of one pull."""

    world: World
    plan: Plan
    protocol: Protocol
    ladder: Ladder
    pull_load: float  # log-scale deviation shared by the pull's bites
    stop_kn: float | None  # step after which the crew means to stop


@dataclass(frozen=True, kw_only=True)
class LivedPull:
    """A pull as the crew writes it, and what nobody sees for sure.

    Parameters
    ----------
    upright : tuple of bool
        Of each bite that bit, in order: whether it was upright (of a third mode: whether it
        looked so). Empty where the pull is void or never set.
    """

    pull: Pull
    upright: tuple[bool, ...] = ()


def simulate_pull(
    world: World, plan: Plan, rng: np.random.Generator, *, protocol: Protocol | None = None
) -> Pull:
    """Make one pull, as the crew would write it; see :func:`live_pull`."""
    return live_pull(world, plan, rng, protocol=protocol).pull


def live_pull(
    world: World, plan: Plan, rng: np.random.Generator, *, protocol: Protocol | None = None
) -> LivedPull:
    """Make one pull.

    Parameters
    ----------
    world : World
        The truth.
    plan : Plan
        What is pulled, where and when.
    rng : numpy.random.Generator
        The only source of chance.
    protocol : Protocol or None
        How the crew goes about it; None is a plain crew that always uses a camera.

    Returns
    -------
    LivedPull
        With the true mode of each of its bites.
    """
    crew = protocol if protocol is not None else Protocol()
    if plan.void_reason or rng.random() < crew.void_chance:
        reason = plan.void_reason or str(rng.choice(crew.void_reasons))
        void = (Bite(number=1, ending=Ending.VOID),)
        return LivedPull(pull=_pull(world, plan, void, reason=reason))
    if rng.random() >= chance_sets(world, plan):
        never = (Bite(number=1, ending=Ending.NEVER_SET),)
        return LivedPull(pull=_pull(world, plan, never))
    lived = _live(_course(world, plan, crew, rng), rng)
    bites = write_bites(world, plan, crew, lived, rng)
    is_stopped = lived[-1].ending is Ending.STOPPED
    reason = str(rng.choice(crew.stop_reasons)) if is_stopped else ""
    upright = tuple(bite.is_upright for bite in lived if bite.ending is not Ending.NEVER_SET)
    return LivedPull(pull=_pull(world, plan, bites, reason=reason), upright=upright)


def _pull(world: World, plan: Plan, bites: tuple[Bite, ...], *, reason: str = "") -> Pull:
    return Pull(
        code=plan.code,
        outing=plan.outing,
        anchor=plan.anchor,
        seabed=plan.seabed,
        site=site_of(world.campaign, plan),
        levels=dict(plan.levels),
        scope=plan.scope,
        date=world.campaign.outing(plan.outing).date,
        time=plan.time,
        bites=bites,
        reason=reason,
    )


def _course(world: World, plan: Plan, crew: Protocol, rng: np.random.Generator) -> _Course:
    ladder = ladder_kept(world.campaign, plan)
    means_to_stop = rng.random() < crew.stop_chance
    return _Course(
        world=world,
        plan=plan,
        protocol=crew,
        ladder=ladder,
        pull_load=float(rng.normal(0.0, world.value("pull_load_scale"))),
        stop_kn=float(rng.choice(ladder.loads_kn)) if means_to_stop else None,
    )


def _live(course: _Course, rng: np.random.Generator) -> tuple[LivedBite, ...]:
    """All bites of a pull that has set, in order."""
    bites: list[LivedBite] = []
    following = _bite(course, rng, number=FIRST_BITE, start_kn=NO_LOAD_KN)
    while following is not None:
        bites.append(following)
        following = _next_bite(course, rng, number=len(bites) + 1, before=following)
    bites += _turned(course, rng, bites)
    if bites[-1].ending is Ending.RELEASED and len(bites) == MAX_BITES:
        bites[-1] = replace(bites[-1], ending=Ending.RELEASED_THEN_STOPPED)
    return tuple(bites)


def _turned(course: _Course, rng: np.random.Generator, bites: list[LivedBite]) -> list[LivedBite]:
    """What follows a pull that held where the boat then pulls from another side."""
    chance, number = course.protocol.turn_chance, len(bites) + 1
    if bites[-1].ending is not Ending.HELD or number > MAX_BITES or chance == 0.0:
        return []
    if rng.random() >= chance:
        return []
    following = None
    if rng.random() < chance_turns(course.world, course.plan.anchor):
        following = _bite(course, rng, number=number, start_kn=NO_LOAD_KN)
    if following is None:
        return [LivedBite(is_upright=False, ending=Ending.NEVER_SET, load_kn=None,
                          start=Start.AFTER_TURN)]  # fmt: skip
    turned = [replace(following, start=Start.AFTER_TURN)]
    while again := _next_bite(course, rng, number=number + len(turned), before=turned[-1]):
        turned.append(again)
    return turned


def _next_bite(
    course: _Course, rng: np.random.Generator, *, number: int, before: LivedBite
) -> LivedBite | None:
    """The re-set after a release; None if there is none to be seen."""
    if before.ending is not Ending.RELEASED or number > MAX_BITES:
        return None
    if rng.random() >= chance_resets(course.world, course.plan.anchor):
        return None
    again = _bite(course, rng, number=number, start_kn=before.load_kn or NO_LOAD_KN)
    return None if again is None else replace(again, start=Start.AFTER_SLIP)


def _bite(
    course: _Course, rng: np.random.Generator, *, number: int, start_kn: float
) -> LivedBite | None:
    """One bite under a thrust that is already on; None if it does not stand that thrust.

    A bite that does not stand the thrust is never seen: to the crew the anchor
    went on dragging. Nor is one whose peak reads no more than the thrust.
    """
    world, plan = course.world, course.plan
    kind = bite_kind(world, plan, rng, bite=number)
    seen_kn = _seen_capacity(course, rng, number=number, kind=kind)
    is_spoilt = rng.random() < world.value("spoilt_share")
    # At the top without a final hold no cell is left: nothing there can be spoilt.
    if is_spoilt and cells_above(course.ladder, start_kn):
        spell = climb_spoilt(course.ladder, rng, start_kn=start_kn, stop_kn=course.stop_kn)
        seen_kn = _within(course.ladder, spell, start_kn, rng)
    elif seen_kn <= start_kn:
        return None
    else:
        spell = climb(
            seen_kn,
            course.ladder,
            start_kn=start_kn,
            hold_exponent=world.value("hold_exponent"),
            stop_kn=course.stop_kn,
        )
    lived = _lived(course.protocol, spell, seen_kn, rng, is_upright=kind.looks_upright)
    is_lost = lived.resolution_kn is not None and (lived.load_kn or NO_LOAD_KN) <= start_kn
    return None if is_lost else lived


def _seen_capacity(course: _Course, rng: np.random.Generator, *, number: int, kind: Kind) -> float:
    """Capacity as the ladder's readings show it, kN: bias and one gauge shift included."""
    world, plan, departures = course.world, course.plan, course.world.departures
    mean = mean_log_capacity(
        world,
        plan,
        is_upright=kind.is_upright,
        is_third=kind.is_third,
        bite=number,
        day=plan.outing,
    )
    own = scatter(world, plan.anchor, is_upright=kind.is_upright)
    log_capacity = departures.scattered(mean + course.pull_load, own, rng)
    shift = log_bias(world, plan.outing) + rng.normal(0.0, gauge_scatter(world, plan.outing))
    return departures.stated_kn(exp(log_capacity + shift), course.ladder.loads_kn)


def _within(ladder: Ladder, spell: Spell, start_kn: float, rng: np.random.Generator) -> float:
    """A load within the step at which a spoilt bite let go, for a crew that reads peaks."""
    below = max((load for load in ladder.loads_kn if load < spell.load_kn), default=NO_LOAD_KN)
    return float(rng.uniform(max(below, start_kn), spell.load_kn))


def _lived(
    crew: Protocol, spell: Spell, seen_kn: float, rng: np.random.Generator, *, is_upright: bool
) -> LivedBite:
    """The bite as it ended, with the load that the crew reads."""
    load_kn, resolution_kn, ending = spell.load_kn, None, Ending(spell.ending)
    is_peak = crew.reading is Reading.PEAK and spell.held_s is None
    if ending is Ending.RELEASED and is_peak:
        resolution_kn = crew.resolution_kn
        # A reading of 0 would say that nothing was pulled at all; nor does a boat pull more
        # than the step it is at, so that no rounding may take the reading above it.
        reading_kn = round(max(1, round(seen_kn / resolution_kn)) * resolution_kn, 6)
        load_kn = min(reading_kn, spell.load_kn)
    if ending is Ending.RELEASED and rng.random() < crew.release_stop_chance:
        ending = Ending.RELEASED_THEN_STOPPED
    return LivedBite(
        is_upright=is_upright,
        ending=ending,
        load_kn=load_kn,
        resolution_kn=resolution_kn,
        held_s=spell.held_s,
    )
