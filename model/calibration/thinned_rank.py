"""Where a truth stands among nearly independent draws."""

from typing import Any, Final

import numpy as np
from arviz_stats.base.array import array_stats
from numpy.typing import NDArray

Array = NDArray[np.float64]

_statistics: Any = array_stats  # ships no types

DRAWS: Final = 99
"""Of each quantity, so that a rank is one of 100 numbers, equally likely each if calibrated.

A fit that passes has 400 effective draws of what is reported; single attempts may have fewer, and
the table counts those that have not even 99.
"""
RANKS: Final = DRAWS + 1


def thinned_rank(truth: float, draws: Array, rng: np.random.Generator) -> int:
    """How many of the thinned draws are below a truth, 0 to ``DRAWS``.

    Parameters
    ----------
    draws : (draw,) array
        At least ``DRAWS``; chains one after the other.
    rng : numpy.random.Generator
        Puts a truth anywhere among the draws that equal it.
    """
    thinned = draws[((np.arange(DRAWS) + 0.5) * draws.size / DRAWS).astype(int)]
    below, equal = int(np.sum(thinned < truth)), int(np.sum(thinned == truth))
    return below + int(rng.integers(equal + 1))


def least_ess(quantities: Array, chains: int) -> int:
    """Least bulk effective size of some quantities; those that are the same in all draws have none.

    Parameters
    ----------
    quantities : (draw, quantity) array
        Chains one after the other.
    """
    by_chain = quantities.reshape(chains, -1, quantities.shape[1])
    return int(np.nanmin(_statistics.ess(by_chain, method="bulk", chain_axis=0, draw_axis=1)))
