"""Counts of endings by anchor, predicted and recorded, and one test over all of them.

A count is predicted with both doubts in it: which draw is true (each draw has chances of its
own), and luck (a count of pulls, each with its own chance). The test takes the most surprising
of all counts and asks how often the most surprising one of replicated campaigns is as
surprising, so that its false-alarm rate holds over all anchors and endings together.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.constants import INTERVAL_PROB
from model.checks.endings import LEFT_OUT, NEVER_SET, Endings, end_chances
from model.checks.first_bites import FirstBites

Array = NDArray[np.float64]
Places = NDArray[np.int64]

REPLICATES: Final = 4000
"""Campaigns drawn: a false-alarm rate of 1 in 1000 is known to half of itself."""
NOTHING: Final = 1e-12
"""A count that is predicted to be none with all but this chance is not one of those tested."""


@dataclass(frozen=True, kw_only=True)
class Count:
    """One ending, or one thing seen, of one anchor's first bites.

    Parameters
    ----------
    anchor, cell : int
        Position of the anchor; of the ending, or beyond these of what was seen.
    pulls : int
        Pulls that tell of it.
    recorded : int
        In how many of them it was so.
    chances : (pulls + 1,) array
        Predicted chance of every count.
    """

    anchor: int
    cell: int
    pulls: int
    recorded: int
    chances: Array

    @property
    def surprise(self) -> Array:
        """Two-sided tail chance of every count, ``(pulls + 1,)``; a count itself counts half."""
        middle = self.chances / 2
        below = np.concatenate([[0.0], np.cumsum(self.chances)[:-1]]) + middle
        found: Array = np.minimum(1.0, 2 * np.minimum(below, 1 - below))
        return found

    @property
    def expected(self) -> float:
        """Mean predicted count."""
        return float(self.chances @ np.arange(self.pulls + 1))

    def interval(self, prob: float = INTERVAL_PROB) -> tuple[int, int]:
        """Equal-tailed interval of the predicted count."""
        below = np.cumsum(self.chances)
        lower, upper = np.searchsorted(below, [(1 - prob) / 2, (1 + prob) / 2])
        return int(lower), int(min(upper, self.pulls))


@dataclass(frozen=True, kw_only=True)
class Counted:
    """All counts, and the test over them.

    Parameters
    ----------
    p : float
        Chance of a count as surprising as the most surprising one, over all of them.
    limit : float
        Surprise below which a single count stands out, at the rate of :data:`LOOK_RATE` overall.
    """

    counts: tuple[Count, ...]
    p: float
    limit: float


def count_endings(
    bites: FirstBites, endings: Endings, rng: np.random.Generator, *, rate: float
) -> Counted:
    """Compare recorded counts with predicted ones.

    Parameters
    ----------
    bites : FirstBites
        Under draws of the posterior, or of the priors.
    rng : numpy.random.Generator
        Draws the replicated campaigns.
    rate : float
        False-alarm rate at which single counts stand out, over all of them.
    """
    by_mode = end_chances(bites, endings)
    chances = _mixed(bites, by_mode)
    ends, seen = _replicates(bites, by_mode, rng)
    recorded = (endings.end, endings.seen)
    counts, least = [], np.ones(REPLICATES)
    for kind, (told, drawn, chance) in enumerate(zip(recorded, (ends, seen), chances, strict=True)):
        for anchor in np.unique(endings.anchor):
            own = np.flatnonzero((endings.anchor == anchor) & (told != LEFT_OUT))
            for cell in range(chance.shape[-1]):
                one = Count(
                    anchor=int(anchor),
                    cell=cell + kind * endings.size,
                    pulls=own.size,
                    recorded=int((told[own] == cell).sum()),
                    chances=count_chances(chance[:, own, cell]),
                )
                if 1 - one.chances[0] < NOTHING and one.recorded == 0:
                    continue
                counts.append(one)
                replicated = (drawn[:, own] == cell).sum(axis=1)
                least = np.minimum(least, one.surprise[replicated])
    most = min((float(one.surprise[one.recorded]) for one in counts), default=1.0)
    p = (1 + np.sum(least <= most + 1e-12)) / (1 + REPLICATES)
    return Counted(counts=tuple(counts), p=float(p), limit=float(np.quantile(least, rate)))


def count_chances(chance: Array) -> Array:
    """Chance of every count of pulls, each with its own chance, over all draws.

    Parameters
    ----------
    chance : (draw, pull) array

    Returns
    -------
    (pull + 1,) array
    """
    found = np.zeros((len(chance), chance.shape[1] + 1))
    found[:, 0] = 1.0
    for p in chance.T:
        found[:, 1:] = found[:, 1:] * (1 - p[:, None]) + found[:, :-1] * p[:, None]
        found[:, 0] *= 1 - p
    mean: Array = found.mean(axis=0)
    return mean


def _mixed(bites: FirstBites, by_mode: Array) -> tuple[Array, Array]:
    """Chance of each ending, and of what is seen of a bite that set, ``(draw, pull, cell)``."""
    ends = (bites.p_mode[..., None] * by_mode).sum(axis=0)
    seen = np.einsum("mdp,msd->dps", bites.p_mode, bites.seen)
    return ends, seen


def _replicates(
    bites: FirstBites, by_mode: Array, rng: np.random.Generator
) -> tuple[Places, Places]:
    """Endings and what is seen of replicated campaigns, each ``(replicate, pull)``."""
    n_draw, n_pull = bites.p_sets.shape
    draw = rng.integers(n_draw, size=REPLICATES)
    pull = np.arange(n_pull)
    uniform = rng.random((3, REPLICATES, n_pull))
    mode = (uniform[0] >= bites.p_upright[draw]).astype(np.int64)
    ends = _chosen(by_mode[mode, draw[:, None], pull], uniform[1])
    # Seen is told of bites that set only: whether a replicate would have set is not asked.
    seen = _chosen(bites.seen.transpose(0, 2, 1)[mode, draw[:, None]], uniform[2])
    return ends, seen


def _chosen(chances: Array, uniform: Array) -> Places:
    """Position drawn by chances that sum to 1 along the last axis."""
    found: Places = (np.cumsum(chances, axis=-1) < uniform[..., None]).sum(axis=-1)
    last: Places = np.minimum(found, chances.shape[-1] - 1)
    return last


def cell_name(endings: Endings, cell: int) -> tuple[str, float | None]:
    """What a cell is called, with its load where it is a step, kN."""
    if cell >= endings.size:
        words = ("seen upright", "seen on its side", "camera, not seen")
        return words[cell - endings.size], None
    if cell == NEVER_SET:
        return "never set", None
    if cell == endings.held:
        return "held", None
    return "let go at", endings.loads_kn[cell - 1]
