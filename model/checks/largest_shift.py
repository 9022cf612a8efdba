"""How far the one pull that an answer leans on most shifts it under a right model.

For a normal effect between two sides of pulls alike, with nothing believed of it before. One pull
left out moves the mean of its side by its residual over the pulls left, so that how far an answer
shifts grows as the pulls get fewer: no fixed number of standard deviations does for all of them.
"""

from functools import cache
from typing import Final

import numpy as np

REPLICATES: Final = 20_000
"""Campaigns drawn: the limit is known to a hundredth of an sd."""
SEED: Final = 20_261_127
LEAST_PULLS: Final = 2
"""A side of one pull has nothing left without it; such a side counts as one of two."""
MOST_PULLS: Final = 200
"""More of a side change the limit by less than matters."""


@cache
def shift_limit(pulls_a: int, pulls_b: int, rate: float) -> float:
    """Shift that the largest one of a right model exceeds at a rate.

    Parameters
    ----------
    pulls_a, pulls_b : int
        Used pulls of each side.
    rate : float
        Above 0, and below 1.

    Returns
    -------
    float
        In sd of the effect; higher than what is true where anything was believed before, or is
        known from other pulls.
    """
    rng = np.random.default_rng(SEED)
    counts = [min(max(count, LEAST_PULLS), MOST_PULLS) for count in (pulls_a, pulls_b)]
    sd = np.sqrt(sum(1 / count for count in counts))
    largest = np.zeros(REPLICATES)
    for count in counts:
        for part in np.array_split(np.arange(REPLICATES), 10):  # of many pulls all at once is much
            drawn = rng.standard_normal((part.size, count))
            residuals = drawn - drawn.mean(axis=1, keepdims=True)
            shift = np.abs(residuals).max(axis=1) / (count - 1) / sd
            largest[part] = np.maximum(largest[part], shift)
    return float(np.quantile(largest, 1 - rate))
