"""One anchor alone: a log-normal for each arm with common scatter, ranges taken as ranges.

The honest fit without setting modes and without what other anchors say. By
grid, with weak priors, so that it is finite when every pull of an arm held.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from model.calibration.result import Estimate
from model.calibration.sides import FirstBite
from model.calibration.spreadsheet import estimate_of
from model.records.pull import Ending

Array = NDArray[np.float64]

MU: Final = np.linspace(np.log(0.05), np.log(100.0), 381)
"""Grid of an arm's mean log load, log kN; the step of 0.02 is a seventh of a ladder step."""

SIGMA: Final = np.exp(np.linspace(np.log(0.03), np.log(1.5), 40))
"""Grid of the scatter, log scale."""

ARM_PRIOR: Final = (np.log(3.0), 1.5)
"""Weak prior of each arm's mean, log kN: mean and sd; the same for both, so that neither leads."""

EFFECT_PRIOR_SD: Final = 0.7
"""Weak prior sd of the log ratio, times the arms' own: within a factor of 4 either way."""

LOG_SIGMA_PRIOR: Final = (np.log(0.25), 0.7)
"""Weak prior of the log scatter: mean and sd."""

LOG_FLOOR: Final = -1e6
"""Log probability below which a cell of the grid has no weight at all."""

HOLD_EXPONENT: Final = 0.024
"""A hold of t seconds counts as a load higher by ``(t/dwell)**this`` (mean of HalfNormal(0.03))."""


def censored_lognormal_estimate(
    a: Sequence[FirstBite], b: Sequence[FirstBite], *, log_band: tuple[float, float], truth: float
) -> Estimate | None:
    """Posterior of the log ratio of two arms of one anchor.

    Returns
    -------
    Estimate or None
        None with no pull on a side; always finite otherwise.
    """
    if min(len(a), len(b)) < 1:
        return None
    effect, weight = _effect_posterior(_log_likelihood(a), _log_likelihood(b))
    below = np.cumsum(weight) - weight / 2  # mass up to the middle of each cell

    def cdf(x: float) -> float:
        return float(np.clip(np.interp(x, effect, below, left=0.0, right=1.0), 0.0, 1.0))

    def quantile(p: float) -> float:
        return float(np.interp(p, below, effect))

    return estimate_of(cdf, quantile, log_band=log_band, truth=truth)


def _effect_posterior(arm_a: Array, arm_b: Array) -> tuple[Array, Array]:
    """Grid of the effect ``(effect,)`` and its probabilities.

    Parameters are each arm's log likelihood ``(sigma, mu)``. On an even grid of
    means every effect is a whole number of steps, so that summing over the
    other mean is a correlation.
    """
    arm_prior = -0.5 * ((MU - ARM_PRIOR[0]) / ARM_PRIOR[1]) ** 2
    arm_a, arm_b = arm_a + arm_prior, arm_b + arm_prior
    scatter = -0.5 * ((np.log(SIGMA) - LOG_SIGMA_PRIOR[0]) / LOG_SIGMA_PRIOR[1]) ** 2
    top_a, top_b = arm_a.max(axis=1), arm_b.max(axis=1)
    level = scatter + top_a + top_b
    sums = [
        np.exp(log_weight - level.max()) * np.correlate(np.exp(row_a), np.exp(row_b), mode="full")
        for log_weight, row_a, row_b in zip(
            level, arm_a - top_a[:, None], arm_b - top_b[:, None], strict=True
        )
    ]
    step = MU[1] - MU[0]
    effect = step * np.arange(-(MU.size - 1), MU.size)
    weight = np.sum(sums, axis=0) * np.exp(-0.5 * (effect / EFFECT_PRIOR_SD) ** 2)
    return effect, weight / weight.sum()


def _log_likelihood(side: Sequence[FirstBite]) -> Array:
    """Log likelihood of one arm's ranges ``(sigma, mu)``."""
    total = np.zeros((SIGMA.size, MU.size))
    for first in side:
        lower_kn, upper_kn = load_range(first)
        total += _log_range_probability(lower_kn, upper_kn)
    return total


def _log_range_probability(lower_kn: float, upper_kn: float) -> Array:
    """Log P(lower < load <= upper) ``(sigma, mu)``, from the tail where it is accurate."""
    with np.errstate(divide="ignore"):
        ends = np.log(np.array([lower_kn, upper_kn]))
    low, high = ((end - MU[None, :]) / SIGMA[:, None] for end in ends)
    is_above = low > 0
    far = np.where(is_above, log_ndtr(-low), log_ndtr(high))
    near = np.where(is_above, log_ndtr(-high), log_ndtr(low))
    with np.errstate(divide="ignore"):
        log_probability = far + np.log1p(-np.exp(near - far))
    # A row of nothing but -inf would turn into NaN when its maximum is taken off.
    return np.asarray(np.maximum(log_probability, LOG_FLOOR))


def load_range(first: FirstBite) -> tuple[float, float]:
    """Range of the load at the first release (kN) that a bite tells: above, up to."""
    bite, ladder = first.bite, first.ladder
    load_kn = bite.load_kn if bite.load_kn is not None else 0.0
    top_dwell_s = ladder.steps[-1].dwell_s
    if bite.ending is Ending.STOPPED:
        return load_kn, np.inf
    if bite.held_s is not None and bite.held_s > top_dwell_s:
        after_hold_kn = ladder.top_kn * (bite.held_s / top_dwell_s) ** HOLD_EXPONENT
        return (after_hold_kn, np.inf) if first.is_held else (ladder.top_kn, after_hold_kn)
    if first.is_held:
        return ladder.top_kn, np.inf
    return max((step for step in ladder.loads_kn if step < load_kn), default=0.0), load_kn
