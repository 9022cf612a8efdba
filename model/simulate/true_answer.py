"""True answers of a world, worked out from the truth and not from draws.

Fresh ground, no calibration error, and the middle of the day. Used to judge answers, never
to make them. What the next pull does has no truth but chances: one is pulled.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from itertools import product
from math import hypot, inf, log
from typing import Final

import numpy as np
from scipy.optimize import brentq
from scipy.special import expit
from scipy.stats import norm

from model.base.constants import LOG_CAP
from model.base.errors import InputError
from model.records.question import Measure, Question, SetUp
from model.simulate.departures import AS_MODELLED
from model.simulate.nature import (
    FIRST_BITE,
    chance_resets,
    chance_sets,
    chance_turns,
    chance_upright,
    logit_upright,
    mean_log_buried,
    mean_log_capacity,
    scatter,
)
from model.simulate.plan import Plan, site_of
from model.simulate.world import World

BEST_PULLS: Final = 400_000
"""Pulls behind the true best load: its log is right to about 0.001."""

BEST_SEED: Final = 1
"""The same pulls for every set-up, so that set-ups alike have exactly the same truth."""

DAYS: Final = 4001
"""Days over which the chance to hold is averaged, at even probabilities; loads, too."""

QUANTILES: Final = norm.ppf((np.arange(DAYS) + 0.5) / DAYS)

Value = Callable[[World, Plan], float]

ANY_WORLD: Final = frozenset({Measure.TYPICAL, Measure.UPRIGHT, Measure.HOLD, Measure.SETS})
"""Measures whose truth is worked out whatever a world departs in."""


def true_effect(world: World, question: Question) -> float:
    """True effect of a question, A against B.

    In general (no anchor named) it is the plain average over the campaign's
    anchors, and always over the named seabeds, all of them if none is named.
    ``capped`` is cut off at the least top step of the campaign's outings.

    Returns
    -------
    float
        Ratio for loads and ``buried``, difference for chances.

    Raises
    ------
    InputError
        For the next pull (see :func:`next_effect`), for the next anchor like these, or where the
        truth of a measure is not worked out for a world that departs from the model.
    """
    value = _value(question)
    _require_known(world, question.measure)
    mean = float(np.mean([value(world, a) - value(world, b) for a, b in _pairs(world, question)]))
    return mean if question.measure.is_chance else float(np.exp(mean))


def _require_known(world: World, measure: Measure) -> None:
    if world.departures != AS_MODELLED and measure not in ANY_WORLD:
        raise InputError(
            f"no truth of {measure} is worked out for a world that is not the model's",
            hint=f"There is one for: {', '.join(sorted(ANY_WORLD))}.",
        )


def _value(question: Question) -> Value:
    if question.measure is Measure.HOLD and question.hold_kn is not None:
        return partial(chance_holds, load_kn=question.hold_kn)
    if question.measure not in _VALUES or question.over != "campaign":
        raise InputError(
            f"no truth is worked out for the measure {question.measure}",
            hint=f"There is one for: hold, {', '.join(_VALUES)}.",
        )
    return _VALUES[question.measure]


def typical_log_load(world: World, plan: Plan) -> float:
    """Mean log capacity over the modes at the first bite of an average day, log kN."""
    modes = _modes(world, plan, chance_upright(world, plan))
    return sum(mode.share * mode.mean for mode in modes)


@dataclass(frozen=True, kw_only=True)
class _Mode:
    """A way to set: how often, and the mean and scatter of its log capacity."""

    share: float
    mean: float
    scatter: float


def _modes(world: World, plan: Plan, p_upright: float) -> list[_Mode]:
    """The two modes, and the third where the world has one."""
    third_share = world.departures.third_share
    shares = ((p_upright, True, False), (1 - p_upright - third_share, False, False))
    third = ((third_share, False, True),) if third_share else ()
    return [
        _Mode(
            share=share,
            mean=_mean(world, plan, is_upright=is_upright, is_third=is_third),
            scatter=scatter(world, plan.anchor, is_upright=is_upright),
        )
        for share, is_upright, is_third in (*shares, *third)
    ]


def capped_log_load(world: World, plan: Plan) -> float:
    """Mean of log load, none above the campaign's least top step, log kN."""
    ladders = [world.campaign.ladder_of(outing.name) for outing in world.campaign.outings]
    log_top = log(min(ladder.top_kn for ladder in ladders if ladder is not None))
    capped = {
        is_upright: float(
            np.mean(
                np.minimum(
                    _mean(world, plan, is_upright=is_upright)
                    + _spread(world, plan, is_upright=is_upright) * QUANTILES,
                    log_top,
                )
            )
        )
        for is_upright in (True, False)
    }
    p_upright = chance_upright(world, plan)
    return p_upright * capped[True] + (1 - p_upright) * capped[False]


def nine_in_ten_log_load(world: World, plan: Plan) -> float:
    """Log load that a tenth of the first bites of an average day do not reach, log kN."""
    p_upright = chance_upright(world, plan)
    modes = [
        (share, _mean(world, plan, is_upright=mode), _spread(world, plan, is_upright=mode))
        for share, mode in ((p_upright, True), (1 - p_upright, False))
    ]

    def too_many_below(log_load: float) -> float:
        return sum(share * float(norm.cdf(log_load, *mode)) for share, *mode in modes) - 0.1

    # The mixture's tenth lies between those of the two modes.
    tenths = sorted(float(norm.ppf(0.1, mean, spread)) for _, mean, spread in modes)
    return float(brentq(too_many_below, tenths[0] - 1e-9, tenths[1] + 1e-9))


def next_effect(world: World, question: Question, rng: np.random.Generator) -> float:
    """Pull A and B once more, both on the same new day, each on fresh ground.

    Returns
    -------
    float
        Ratio of their loads at the first release; one that never sets is at an end of what
        ratios are taken for, and 1 where neither sets.

    Raises
    ------
    InputError
        In a world that departs from the model.
    """
    _require_known(world, Measure.NEXT)
    pairs = _pairs(world, question)
    pair = pairs[int(rng.integers(len(pairs)))]
    day_load = rng.normal(0.0, world.value("day_load_scale"))
    day_logit = rng.normal(0.0, world.value("day_upright_scale"))
    a, b = (_next_log_load(world, plan, day_load, day_logit, rng) for plan in pair)
    if a == b == -inf:
        return 1.0
    return float(np.exp(np.clip(a - b, -LOG_CAP, LOG_CAP)))


def _next_log_load(
    world: World, plan: Plan, day_load: float, day_logit: float, rng: np.random.Generator
) -> float:
    """Log load at the first release, kN; minus infinity if it never sets."""
    if rng.random() >= chance_sets(world, plan):
        return -inf
    p_upright = chance_upright(world, plan)
    is_upright = bool(rng.random() < expit(log(p_upright / (1 - p_upright)) + day_logit))
    mean = _mean(world, plan, is_upright=is_upright) + day_load
    return float(rng.normal(mean, _spread(world, plan, is_upright=is_upright)))


def chance_holds(world: World, plan: Plan, *, load_kn: float) -> float:
    """Chance that a pull sets and its first bite holds a load, on a day like any other."""
    departures = world.departures
    days = logit_upright(world, plan) + world.value("day_upright_scale") * QUANTILES
    p_upright_any_day = float(np.mean(expit(days))) * (1 - departures.third_share)
    shared = hypot(world.value("pull_load_scale"), world.value("day_load_scale"))
    held = sum(
        mode.share * departures.chance_above(log(load_kn), mode.mean, mode.scatter, shared)
        for mode in _modes(world, plan, p_upright_any_day)
    )
    return chance_sets(world, plan) * held


def best_log_load(world: World, plan: Plan) -> float:
    """Log of (chance to set times the geometric mean of the highest load of a pull), log kN.

    By pulls of steadily rising thrust: after a release the anchor digs in again
    with its re-set chance, and if the new bite stands the thrust the pull goes on.
    """
    rng = np.random.default_rng(BEST_SEED)
    p_resets = chance_resets(world, plan.anchor)
    pull_load = world.value("pull_load_scale") * rng.standard_normal(BEST_PULLS)
    reached = _capacities(world, plan, rng, bite=1) + pull_load
    is_on = np.ones(BEST_PULLS, dtype=bool)
    while is_on.any():
        following = _capacities(world, plan, rng, bite=2) + pull_load
        is_on &= (rng.random(BEST_PULLS) < p_resets) & (following > reached)
        reached = np.where(is_on, following, reached)
    return float(reached.mean()) + log(chance_sets(world, plan))


def buried_log_length(world: World, plan: Plan) -> float:
    """Mean log length of buried rode over the two modes of a first bite, log m."""
    p_upright = chance_upright(world, plan)
    deep, shallow = (mean_log_buried(world, plan, is_upright=mode) for mode in (True, False))
    return p_upright * deep + (1 - p_upright) * shallow


def _capacities(world: World, plan: Plan, rng: np.random.Generator, *, bite: int) -> np.ndarray:
    """Log capacity of one bite of each pull, an average day, without the pull's own effect."""
    is_upright = rng.random(BEST_PULLS) < chance_upright(world, plan, bite=bite)
    z = rng.standard_normal(BEST_PULLS)
    up, side = (
        _mean(world, plan, is_upright=mode, bite=bite)
        + scatter(world, plan.anchor, is_upright=mode) * z
        for mode in (True, False)
    )
    return np.where(is_upright, up, side)


def _mean(
    world: World,
    plan: Plan,
    *,
    is_upright: bool,
    is_third: bool = False,
    bite: int = FIRST_BITE,
) -> float:
    """Mean log capacity on ground of no site's own effect."""
    site = site_of(world.campaign, plan)
    site_load = 0.0 if site is None else world.value("site_load", site=site)
    mean = mean_log_capacity(world, plan, is_upright=is_upright, is_third=is_third, bite=bite)
    return mean - site_load


def _spread(world: World, plan: Plan, *, is_upright: bool) -> float:
    """Scatter of one mode with the pull's own deviation in it."""
    own = scatter(world, plan.anchor, is_upright=is_upright)
    return hypot(own, world.value("pull_load_scale"))


_VALUES: Final[dict[Measure, Value]] = {
    Measure.TYPICAL: typical_log_load,
    Measure.BEST: best_log_load,
    Measure.CAPPED: capped_log_load,
    Measure.NINE_IN_TEN: nine_in_ten_log_load,
    Measure.UPRIGHT: chance_upright,
    Measure.SETS: chance_sets,
    Measure.RESETS: lambda world, plan: chance_resets(world, plan.anchor),
    Measure.TURNS: lambda world, plan: chance_turns(world, plan.anchor),
    Measure.BURIED: buried_log_length,
}


def _pairs(world: World, question: Question) -> list[tuple[Plan, Plan]]:
    campaign = world.campaign
    seabeds = question.seabeds or tuple(seabed.name for seabed in campaign.seabeds)
    anchors = [anchor.code for anchor in campaign.anchors]
    return [
        (_plan(world, question.a, anchor, seabed), _plan(world, question.b, anchor, seabed))
        for anchor, seabed in product(anchors if question.a.anchor is None else [None], seabeds)
    ]


def _plan(world: World, setup: SetUp, anchor: str | None, seabed: str) -> Plan:
    code = setup.anchor if setup.anchor is not None else anchor
    if code is None:
        raise InputError("a set-up names no anchor", hint="Name one on both sides or on neither.")
    return Plan(
        outing=world.campaign.outings[0].name,
        anchor=code,
        seabed=seabed,
        code="truth",
        levels=setup.levels,
        scope=setup.scope,
    )
