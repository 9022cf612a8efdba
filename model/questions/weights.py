"""Weights of stored draws by pulls that came after their fit, and draws that count alike again."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from arviz_stats.base.array import array_stats
from numpy.typing import NDArray

Array = NDArray[np.float64]

_statistics: Any = array_stats  # ships no types

EFFECTIVE_DRAWS_MIN: Final = 400.0
"""With fewer the weights rest on too few draws to answer from."""

ALIKE: Final = 1e-9
"""Log ratios that differ by less differ by rounding alone."""


def pareto_limit(n_draw: int) -> float:
    """Largest usable Pareto k: min(1 - 1/log10 S, 0.7) (Vehtari et al. 2024)."""
    return float(min(1 - 1 / np.log10(n_draw), 0.7))


@dataclass(frozen=True, kw_only=True)
class Weights:
    """Smoothed importance weights.

    Parameters
    ----------
    shares : (draw,) array
        Each draw's weight; they sum to 1.
    pareto_k : float
        Shape of the weights' tail; beyond :func:`pareto_limit` they cannot be used.
    """

    shares: Array
    pareto_k: float

    @property
    def effective_draws(self) -> float:
        """How many draws of equal weight they are worth (Kish), 1 to their number."""
        return effective_draws(self.shares)

    @property
    def is_within_limit(self) -> bool:
        """Whether the tail of the weights is light enough."""
        return self.pareto_k < pareto_limit(self.shares.size)


def smoothed_weights(log_ratio: Array) -> Weights:
    """Weights by log ratios of densities, smoothed by PSIS.

    Parameters
    ----------
    log_ratio : (draw,) array
        Log of the wanted over the sampled density, up to a constant.
    """
    n_draw = log_ratio.size
    if np.ptp(log_ratio) < ALIKE:  # nothing to smooth, and the smoother refuses a tail of one value
        return Weights(shares=np.full(n_draw, 1 / n_draw), pareto_k=0.0)
    try:
        log_weights, k = _statistics.psislw(-log_ratio)  # it weighs by what was left out: negated
    except ValueError:  # a tail of copies of one draw tells nothing of what lies beyond it
        log_weights, k = log_ratio, np.inf
    raw = np.exp(log_weights - np.max(log_weights))
    return Weights(shares=raw / raw.sum(), pareto_k=float(k))


def effective_draws(shares: Array) -> float:
    """How many draws of equal weight some that sum to 1 are worth (Kish)."""
    return float(1 / np.sum(shares**2))


def resampled(
    shares: Array, rng: np.random.Generator, count: int | None = None
) -> NDArray[np.int64]:
    """Positions of draws that stand for the weighted ones, each counting alike.

    Systematic: a draw of share w comes ``floor(S w)`` or ``ceil(S w)`` times, in order.

    Parameters
    ----------
    shares : (draw,) array
        Summing to 1.
    count : int or None
        How many are wanted; None for as many as there were.

    Returns
    -------
    (count,) int array
    """
    n_draw = shares.size if count is None else count
    # One uniform for all: with one each, a share of exactly 1/S could be left out by luck.
    points = (np.arange(n_draw) + rng.random()) / n_draw
    edges = np.cumsum(shares)
    edges[-1] = 1.0  # a sum that rounds to less than 1 would let the last point fall off the end
    return np.searchsorted(edges, points, side="right").astype(np.int64)
