"""More draws than there are: from a smooth density around those at hand.

Each new draw is one of the old, drawn towards their mean and moved by a normal step, so that mean
and covariance stay as they are (the shrunken kernel of Liu and West 2001, "Combined parameter and
state estimation in simulation-based filtering"). Without the shrinking each resampling would
widen what is believed.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.questions.weights import resampled

Array = NDArray[np.float64]

KEPT: Final = 0.95
"""Share of an old draw's distance from the mean that the new one keeps; the step's standard
deviation is then 0.31 of the draws' own."""

AT_ONCE: Final = 20_000
"""Draws made together, to bound the memory."""


def moved(vectors: Array, shares: Array | None, n_draw: int, rng: np.random.Generator) -> Array:
    """Draw from the smooth density around weighted draws.

    Parameters
    ----------
    vectors : (draw, place) array
        Without bounds in any place.
    shares : (draw,) array or None
        Weight of each, summing to 1; None for equal ones.
    n_draw : int
        How many to make.

    Returns
    -------
    (n_draw, place) array
    """
    weights = np.full(len(vectors), 1 / len(vectors)) if shares is None else shares
    mean = weights @ vectors
    away = vectors - mean
    step = _root((away * weights[:, None]).T @ away) * np.sqrt(1 - KEPT**2)
    step = step.astype(np.float32)  # a step need not be exact, and twice as many are drawn a second
    source = _sources(weights, n_draw, rng)
    found = np.empty((n_draw, vectors.shape[1]))
    for start in range(0, n_draw, AT_ONCE):
        chosen = source[start : start + AT_ONCE]
        news = rng.standard_normal((chosen.size, step.shape[1]), dtype=np.float32)
        found[start : start + AT_ONCE] = mean + KEPT * away[chosen] + news @ step.T
    return found


def _sources(weights: Array, n_draw: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Which old draw each new one comes from, each as often as its share says."""
    if n_draw == weights.size:
        return resampled(weights, rng)
    points = (np.arange(n_draw) + rng.random()) / n_draw
    edges = np.cumsum(weights)
    edges[-1] = 1.0
    return np.searchsorted(edges, points, side="right").astype(np.int64)


def _root(covariance: Array) -> Array:
    """Matrix root of a covariance that need not be of full rank, ``(place, direction)``."""
    values, directions = np.linalg.eigh(covariance)
    kept = values > values[-1] * 1e-12
    found: Array = directions[:, kept] * np.sqrt(values[kept])
    return found
