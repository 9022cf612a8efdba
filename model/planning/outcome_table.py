"""The chance of every outcome of a pull under every draw: a finite table.

An outcome is how the first bite ends, and what the camera shows of it: never set; let go at a
step of the ladder; held to the end; each of the last two seen upright, seen on its side, or not
seen. What later bites do is left out, so that what a pull tells is told too low where it slips.
"""

from dataclasses import dataclass
from math import log
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from model.outcomes.prediction import sigmoid
from model.planning.reduced import Reduced
from model.records.campaign import Ladder
from model.records.question import Measure

Array = NDArray[np.float64]
Single = NDArray[np.float32]

SEEN_UPRIGHT, SEEN_ON_SIDE, NOT_SEEN = 0, 1, 2
N_SEEN = 3

TOLD_BY_FIRST_BITES: Final = frozenset(
    {
        Measure.TYPICAL,
        Measure.BEST,
        Measure.CAPPED,
        Measure.NINE_IN_TEN,
        Measure.HOLD,
        Measure.UPRIGHT,
        Measure.SETS,
    }
)
"""Measures of which the end of a first bite tells, so that they can be planned for."""


@dataclass(frozen=True, kw_only=True)
class OutcomeSpace:
    """The outcomes in their order: never set first, then by step, and within one by what is seen.

    Parameters
    ----------
    has_camera : bool
        Without one the mode is not told.
    """

    ladder: Ladder
    has_camera: bool

    @property
    def n_end(self) -> int:
        """Ways in which a bite can end: at each step, or held."""
        return len(self.ladder.steps) + 1

    @property
    def n_seen(self) -> int:
        """What the camera can show."""
        return N_SEEN if self.has_camera else 1

    @property
    def size(self) -> int:
        """How many outcomes there are."""
        return 1 + self.n_end * self.n_seen

    @property
    def held(self) -> NDArray[np.int64]:
        """Positions of the outcomes that held to the end."""
        return np.arange(1 + (self.n_end - 1) * self.n_seen, self.size)

    def log_edges(self, log_hold_exponent: Array) -> Single:
        """Log loads between which a bite lets go, ``(step, draw)``; the last is the final hold's.

        What stands the top's dwell and not its final hold lets go at the top.
        """
        loads = np.log(np.array(self.ladder.loads_kn)).astype(np.float32)
        longer = max(0.0, log(self.ladder.final_hold_s / self.ladder.steps[-1].dwell_s))
        edges = np.repeat(loads[:, None], len(log_hold_exponent), axis=1)
        edges[-1] += np.exp(log_hold_exponent) * longer
        return edges


def outcome_table(draws: Reduced, rows: NDArray[np.int64], space: OutcomeSpace) -> Single:
    """Chance of every outcome of a pull of each row, today.

    Parameters
    ----------
    rows : (candidate,) int
        Which of the reduced draws' rows each candidate is.

    Returns
    -------
    (candidate, outcome, draw) array
        Summing to 1 over outcomes.
    """
    shared = _Shared(draws, space)
    found = np.empty((rows.size, space.size, draws.n_draw), dtype=np.float32)
    for place, row in enumerate(rows):
        _fill(found[place], draws, int(row), shared, space)
    return found


class _Shared:
    """What all rows need of the draws, worked out once."""

    def __init__(self, draws: Reduced, space: OutcomeSpace) -> None:
        draw = draws.by_draw
        self.shift = draw["boat_bias"] + draw["today_load"]
        self.today_logit = draw["today_logit"]
        self.variance = np.exp(2 * draw["log_gauge"]) + np.exp(2 * draw["log_pull_load"])
        self.edges = space.log_edges(draw["log_hold_exponent"])
        self.spoilt = sigmoid(draw["logit_spoilt"]).astype(np.float32)
        self.seen = seen_chances(draws) if space.has_camera else None


def seen_chances(draws: Reduced) -> Single:
    """Chance of what the camera shows, by mode, ``(mode, seen, draw)``."""
    draw = draws.by_draw
    found = np.empty((2, N_SEEN, draws.n_draw), dtype=np.float32)
    half = draw["not_seen_difference"] / 2
    for mode, (right, sign) in enumerate((("logit_seen_upright", 1), ("logit_seen_on_side", -1))):
        lost, own = sigmoid(draw["not_seen_base"] + sign * half), sigmoid(draw[right])
        found[mode, NOT_SEEN] = lost
        found[mode, mode] = (1 - lost) * own
        found[mode, 1 - mode] = (1 - lost) * (1 - own)
    return found


def _fill(found: Single, draws: Reduced, row: int, shared: _Shared, space: OutcomeSpace) -> None:
    """The table of one row, ``(outcome, draw)``, in place."""
    values = {name: of_row[row] for name, of_row in draws.by_row.items()}
    sets = sigmoid(values["logit_sets"]).astype(np.float32)
    p = sigmoid(values["logit_upright"] + shared.today_logit).astype(np.float32)
    found[0] = 1 - sets
    by_mode = [
        sets * share * _ends(values[mean], values[sd], shared)
        for share, mean, sd in (
            (p, "log_upright", "log_sd_upright"),
            (1 - p, "log_on_side", "log_sd_on_side"),
        )
    ]
    if shared.seen is None:
        np.add(by_mode[0], by_mode[1], out=found[1:])
        return
    ends = found[1:].reshape(space.n_end, N_SEEN, -1)
    for seen in range(N_SEEN):
        ends[:, seen] = by_mode[0] * shared.seen[0, seen] + by_mode[1] * shared.seen[1, seen]


def _ends(mean: Array, log_sd: Array, shared: _Shared) -> Single:
    """Chance that a bite of one mode lets go at each step, and that it holds, ``(end, draw)``.

    A spoilt bite lets go at any step alike; one that holds is never spoilt.
    """
    sd = np.sqrt(np.exp(2 * log_sd) + shared.variance)
    z = (shared.edges - (mean + shared.shift)) / sd
    below = ndtr(z.astype(np.float32))
    found = np.empty((len(below) + 1, below.shape[1]), dtype=np.float32)
    found[0] = below[0]
    np.subtract(below[1:], below[:-1], out=found[1:-1])
    found[-1] = 1 - below[-1]
    found *= 1 - shared.spoilt
    found[:-1] += shared.spoilt / len(below)
    return found
