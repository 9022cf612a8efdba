"""True answers of a world, for the measures that follow from it directly.

Fresh ground, first bite, a day of effect 0. Used to judge answers, never to make them.
"""

from collections.abc import Callable
from itertools import product

import numpy as np

from model.base.errors import InputError
from model.records.question import Measure, Question, SetUp
from model.simulate.nature import chance_resets, chance_sets, chance_upright, mean_log_capacity
from model.simulate.plan import Plan
from model.simulate.world import World


def true_effect(world: World, question: Question) -> float:
    """True effect of a question, A against B.

    In general (no anchor named) it is the plain average over the campaign's
    anchors, and always over the named seabeds, all of them if none is named.

    Returns
    -------
    float
        Ratio for ``typical``; difference for ``upright``, ``sets`` and ``resets``.

    Raises
    ------
    InputError
        For another measure, or for the next anchor like these.
    """
    if question.measure not in _VALUES or question.over != "campaign":
        raise InputError(f"no direct truth of the measure {question.measure}")
    value = _VALUES[question.measure]
    mean = float(np.mean([value(world, a) - value(world, b) for a, b in _pairs(world, question)]))
    return float(np.exp(mean)) if question.measure is Measure.TYPICAL else mean


def typical_log_load(world: World, plan: Plan) -> float:
    """Mean log capacity over the two modes at the first bite, log kN."""
    p_upright = chance_upright(world, plan)
    upright = mean_log_capacity(world, plan, is_upright=True)
    on_side = mean_log_capacity(world, plan, is_upright=False)
    return p_upright * upright + (1 - p_upright) * on_side


_VALUES: dict[Measure, Callable[[World, Plan], float]] = {
    Measure.TYPICAL: typical_log_load,
    Measure.UPRIGHT: chance_upright,
    Measure.SETS: chance_sets,
    Measure.RESETS: lambda world, plan: chance_resets(world, plan.anchor),
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
    outing = world.campaign.outings[0].name  # its day and site cancel or are not used
    return Plan(
        outing=outing,
        anchor=code,
        seabed=seabed,
        code="truth",
        levels=setup.levels,
        scope=setup.scope,
    )
