"""What the simulated campaigns of the tables have in common: one sand, one boat, a few outings."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.names import PARAMETER_DIMS
from model.records.campaign import (
    Anchor,
    Boat,
    Campaign,
    Gauge,
    Ladder,
    Outing,
    Seabed,
    Sign,
    Step,
)
from model.records.question import Question
from model.records.treatment import Treatment
from model.simulate.plan import Plan
from model.simulate.world import World, dim_names

SEABED: Final = "sand"
OUTINGS: Final = ("day 1", "day 2", "day 3")
"""Of most tables; one takes the first two."""
LADDER_KN: Final = (0.5, 1.0, 1.5, 2.0, 2.6, 3.2, 3.9, 4.6, 5.4, 6.2)
DWELL_S: Final = 15.0
FINAL_HOLD_S: Final = 60.0

BASELINE: Final = "off"
CHANGED: Final = "on"


def sand_campaign(
    name: str,
    *,
    month: int,
    masses_kg: Mapping[str, float],
    treatments: Sequence[str],
    questions: Sequence[Question],
    signs: Sequence[Sign] = (),
    outings: Sequence[str] = OUTINGS,
) -> Campaign:
    """A campaign of some anchors, and treatments of one changed level each.

    Parameters
    ----------
    month : int
        Of 2026, on whose first days the outings are.
    masses_kg : mapping of str to float
        By the anchors' codes, kg.
    """
    steps = tuple(Step(load_kn=load, dwell_s=DWELL_S) for load in LADDER_KN)
    return Campaign(
        name=name,
        is_invented=True,
        boats=(Boat(name="boat", top_thrust_kn=LADDER_KN[-1], calibration_error=0.05),),
        gauges=(Gauge(name="gauge", repeatability=0.02),),
        ladders=(Ladder(name="ladder", steps=steps, final_hold_s=FINAL_HOLD_S),),
        outings=tuple(
            Outing(
                name=outing,
                date=dt.date(2026, month, day),
                ladder="ladder",
                boat="boat",
                gauge="gauge",
            )
            for day, outing in enumerate(outings, start=1)
        ),
        seabeds=(Seabed(name=SEABED, seabed_class="sand"),),
        anchors=tuple(Anchor(code=code, mass_kg=mass_kg) for code, mass_kg in masses_kg.items()),
        treatments=tuple(
            Treatment(name=treatment, baseline=BASELINE, levels=(BASELINE, CHANGED))
            for treatment in treatments
        ),
        signs=tuple(signs),
        questions=tuple(questions),
    )


def one_pull_of_each(
    anchors: Sequence[str], treatments: Sequence[str], outings: Sequence[str] = OUTINGS
) -> tuple[Plan, ...]:
    """On each outing every anchor once bare, and once with each treatment."""
    rigs: list[dict[str, str]] = [{}, *({treatment: CHANGED} for treatment in treatments)]
    arms = [(code, rig) for code in anchors for rig in rigs]
    return tuple(
        Plan(outing=outing, anchor=code, seabed=SEABED, code=str(number), levels=rig)
        for outing in outings
        for number, (code, rig) in enumerate(arms, start=1)
    )


def stated_world(campaign: Campaign, named: Mapping[str, float | NDArray[np.float64]]) -> World:
    """A truth of which some parameters are stated; each of the others is 0.

    Parameters
    ----------
    named : mapping of str to float or ndarray
        By the names of ``PARAMETER_DIMS``; one number holds along all its dims.
    """
    names = dim_names(campaign)
    values = {
        parameter: np.full(tuple(len(names[dim]) for dim in dims), named.get(parameter, 0.0))
        for parameter, dims in PARAMETER_DIMS.items()
    }
    return World(campaign=campaign, values=values)
