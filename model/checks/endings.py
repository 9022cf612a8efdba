"""How first bites can end, and be seen: what was recorded, and the chance of each.

The endings are never set, let go at a step (of any ladder of the campaign, by load), and held;
what the camera shows of a bite that set is told apart from them. Pulls that the crew stopped,
and those off any ladder, tell of no share and are left out of the endings.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from model.base.names import NOTHING_SEEN
from model.checks.first_bites import SEEN, FirstBites
from model.records.campaign import Campaign, Ladder
from model.records.pull import Bite, Ending, Pull

Array = NDArray[np.float64]

LEFT_OUT: Final = -1
"""In the place of an ending, or of what was seen, that tells nothing."""
NEVER_SET: Final = 0
"""Position of the first ending; the steps follow, and last comes held."""


@dataclass(frozen=True, kw_only=True)
class Endings:
    """The endings of a campaign, and what was recorded.

    Parameters
    ----------
    loads_kn : tuple of float
        Steps of all ladders that were pulled on, ascending, kN.
    ladders : tuple of Ladder or None
        Of each pull.
    end, seen : (pull,) int array
        Position of each pull's ending, and among ``SEEN``; ``LEFT_OUT`` where it does not tell.
    anchor : (pull,) int array
        Position of each pull's anchor.
    """

    loads_kn: tuple[float, ...]
    ladders: tuple[Ladder | None, ...]
    end: NDArray[np.int64]
    seen: NDArray[np.int64]
    anchor: NDArray[np.int64]

    @property
    def held(self) -> int:
        """Position of the last ending."""
        return len(self.loads_kn) + 1

    @property
    def size(self) -> int:
        """How many endings there are."""
        return len(self.loads_kn) + 2


def recorded_endings(campaign: Campaign, pulls: Sequence[Pull], arrays: xr.Dataset) -> Endings:
    """Read how the first bites of used pulls ended.

    Parameters
    ----------
    pulls : sequence of Pull
        Used ones, in the order of the arrays.
    """
    ladders = tuple(campaign.ladder_of(pull.outing) for pull in pulls)
    steps = {load for ladder in ladders if ladder is not None for load in ladder.loads_kn}
    loads_kn = tuple(sorted(steps))
    ends = [
        _end(pull.bites[0], ladder, loads_kn) for pull, ladder in zip(pulls, ladders, strict=True)
    ]
    return Endings(
        loads_kn=loads_kn,
        ladders=ladders,
        end=np.array(ends, dtype=np.int64),
        seen=_seen(arrays),
        anchor=arrays["anchor_index"].to_numpy(),
    )


def _end(bite: Bite, ladder: Ladder | None, loads_kn: Sequence[float]) -> int:
    if ladder is None or bite.ending is Ending.STOPPED:
        return LEFT_OUT
    if bite.ending is Ending.NEVER_SET:
        return NEVER_SET
    if bite.ending is Ending.HELD:
        return len(loads_kn) + 1
    # A peak lies between two steps: it would have been written down at the upper one.
    own = [step for step in ladder.loads_kn if step >= (bite.load_kn or 0.0) - 1e-9]
    return 1 + loads_kn.index(own[0] if own else ladder.top_kn)


def first_rows(arrays: xr.Dataset) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pulls that set, and the row of each one's first bite."""
    rows = np.flatnonzero(arrays["is_later"].to_numpy() == 0)
    return arrays["pull_index"].to_numpy()[rows], rows


def _seen(arrays: xr.Dataset) -> NDArray[np.int64]:
    found = np.full(arrays.sizes["pull"], LEFT_OUT, dtype=np.int64)
    pulls, rows = first_rows(arrays)
    for pull, code in zip(pulls, arrays["seen"].to_numpy()[rows], strict=True):
        if code != NOTHING_SEEN:
            found[pull] = SEEN.index(int(code))
    return found


def end_chances(bites: FirstBites, endings: Endings) -> Array:
    """Chance of each ending by mode, ``(mode, draw, pull, ending)``, summing to 1 over endings.

    A spoilt bite lets go at any step alike, and at the top for the final hold once more.
    """
    n_mode, n_draw, n_pull = bites.mean.shape
    found = np.zeros((n_mode, n_draw, n_pull, endings.size))
    found[..., NEVER_SET] = 1 - bites.p_sets
    for ladder in {id(one): one for one in endings.ladders if one is not None}.values():
        some = np.array([one is ladder for one in endings.ladders])
        found[:, :, some] = _on_ladder(found[:, :, some], bites, endings, ladder, some)
    return found


def _on_ladder(
    found: Array, bites: FirstBites, endings: Endings, ladder: Ladder, some: NDArray[np.bool_]
) -> Array:
    n_pull = bites.p_sets.shape[1]
    longer = max(0.0, log(ladder.final_hold_s / ladder.steps[-1].dwell_s))
    cells = len(ladder.steps) + (longer > 0)
    spoilt, sets = bites.spoilt[:, None], bites.p_sets[:, some]
    before = np.zeros_like(found[..., 0])
    for number, load_kn in enumerate(ladder.loads_kn):
        is_top = number == len(ladder.steps) - 1
        hold = np.full(n_pull, longer if is_top else 0.0)
        below = bites.below(np.full(n_pull, log(load_kn)), hold)[:, :, some]
        share = (1 + (is_top and longer > 0)) / cells
        chance = (1 - spoilt) * (below - before) + spoilt * share
        found[..., 1 + endings.loads_kn.index(load_kn)] = sets * chance
        before = below
    found[..., endings.held] = sets * (1 - spoilt) * (1 - before)
    return found
