"""Ladders that a pull could climb: the campaign's, and ones staggered by half a step."""

from itertools import pairwise
from typing import Final

from model.records.campaign import Ladder, Step

STAGGERED: Final = "staggered"


def staggered(ladder: Ladder) -> Ladder:
    """The same ladder with each step but the top one half a step lower.

    Between them two outings find a load to within half a step. The top stays: it is the boat's.
    """
    loads = ladder.loads_kn
    below = [loads[0] / 2, *[(low + high) / 2 for low, high in pairwise(loads)]]
    halves = [
        Step(load_kn=round(load_kn, 3), dwell_s=step.dwell_s)
        for load_kn, step in zip(below, ladder.steps, strict=True)
    ]
    return Ladder(
        name=f"{ladder.name}, {STAGGERED}",
        steps=(*halves, ladder.steps[-1]),
        final_hold_s=ladder.final_hold_s,
    )
