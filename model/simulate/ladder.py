"""How one bite climbs a ladder of thrusts, and where it ends."""

from dataclasses import dataclass
from math import ceil, exp, floor, log
from typing import Literal

import numpy as np

from model.records.campaign import Ladder, Step

SpellEnding = Literal["released", "held", "stopped"]


@dataclass(frozen=True, kw_only=True)
class Spell:
    """How one bite ended on the ladder.

    Parameters
    ----------
    load_kn : float
        Released: the step it let go at. Held: the top step. Stopped: the last step held.
    held_s : float or None
        Seconds at the top step, where it stood there longer than one dwell.
    """

    ending: SpellEnding
    load_kn: float
    held_s: float | None = None


def climb(
    capacity_kn: float,
    ladder: Ladder,
    *,
    start_kn: float = 0.0,
    hold_exponent: float = 0.0,
    stop_kn: float | None = None,
) -> Spell:
    """Load a bite that already stands `start_kn` until it lets go or the pull ends.

    Parameters
    ----------
    capacity_kn : float
        Load at which it lets go within one dwell, as the ladder sees it.
    start_kn : float
        Thrust on when the bite began, kN; 0 for a fresh one.
    hold_exponent : float
        A hold of t seconds counts as a load higher by ``(t/dwell)**hold_exponent``.
    stop_kn : float or None
        Step after whose first dwell the crew stops, if the anchor stands it.
    """
    if stop_kn is not None and start_kn >= stop_kn:
        return Spell(ending="stopped", load_kn=start_kn)
    for step in ladder.steps:
        if step.load_kn <= start_kn:
            continue
        if capacity_kn <= step.load_kn:
            return Spell(ending="released", load_kn=step.load_kn)
        if stop_kn == step.load_kn:
            return Spell(ending="stopped", load_kn=step.load_kn)
    return _hold_top(capacity_kn, ladder, hold_exponent)


def _hold_top(capacity_kn: float, ladder: Ladder, hold_exponent: float) -> Spell:
    """Go on with the final hold after the top step's first dwell."""
    dwell_s, final_s = ladder.steps[-1].dwell_s, ladder.final_hold_s
    if capacity_kn > ladder.top_kn * (final_s / dwell_s) ** hold_exponent:
        return Spell(ending="held", load_kn=ladder.top_kn, held_s=final_s)
    log_excess = log(capacity_kn / ladder.top_kn)
    released_s = dwell_s * exp(log_excess / hold_exponent) if hold_exponent > 0 else final_s
    return Spell(
        ending="released", load_kn=ladder.top_kn, held_s=min(float(ceil(released_s)), final_s)
    )


Cell = Step | Literal["final hold"]


def cells_above(ladder: Ladder, start_kn: float) -> tuple[Cell, ...]:
    """Where a bite that stands `start_kn` can let go: each step above, and the final hold.

    The final hold is a cell only if it has a whole second beyond the first dwell.
    """
    steps = tuple(step for step in ladder.steps if step.load_kn > start_kn)
    return (*steps, "final hold") if final_seconds(ladder) else steps


def final_seconds(ladder: Ladder) -> range:
    """Whole seconds of the final hold beyond the top step's first dwell."""
    return range(floor(ladder.steps[-1].dwell_s) + 1, floor(ladder.final_hold_s) + 1)


def climb_spoilt(
    ladder: Ladder, rng: np.random.Generator, *, start_kn: float, stop_kn: float | None = None
) -> Spell:
    """Load a spoilt bite: it lets go in a cell chosen uniformly among those above.

    There must be such a cell; see :func:`cells_above`.
    """
    cells = cells_above(ladder, start_kn)
    cell = cells[int(rng.integers(len(cells)))]
    last_stood_kn = ladder.top_kn if cell == "final hold" else _below(ladder, cell)
    if stop_kn is not None and max(last_stood_kn, start_kn) >= stop_kn:
        return Spell(ending="stopped", load_kn=max(start_kn, stop_kn))
    if cell == "final hold":
        seconds = final_seconds(ladder)
        held_s = float(seconds[int(rng.integers(len(seconds)))])
        return Spell(ending="released", load_kn=ladder.top_kn, held_s=held_s)
    return Spell(ending="released", load_kn=cell.load_kn)


def _below(ladder: Ladder, step: Step) -> float:
    """Load of the step below, 0 below the first."""
    return max((load for load in ladder.loads_kn if load < step.load_kn), default=0.0)
