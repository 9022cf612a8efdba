"""What a pull costs in minutes: the pull itself, a change of rig, a move to another bottom."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from model.planning.candidates import Candidate
from model.records.campaign import Minutes

Array = NDArray[np.float64]


def minutes_between(minutes: Minutes, before: Candidate | None, after: Candidate) -> float:
    """Minutes from the end of one pull to the end of the next.

    The first of a day needs its rig made ready and no move: the boat goes out anyway.
    """
    found = minutes.pull
    if before is None or before.rig != after.rig:
        found += minutes.rig_change
    if before is not None and before.seabed != after.seabed:
        found += minutes.move
    return found


def minutes_matrix(minutes: Minutes, candidates: Sequence[Candidate]) -> Array:
    """Minutes of each candidate after each other one, ``(before + 1, after)``.

    The last row is of a pull that begins a day.
    """
    before: list[Candidate | None] = [*candidates, None]
    return np.array(
        [[minutes_between(minutes, one, other) for other in candidates] for one in before]
    )
