"""Two set-ups by their own ranges alone: a log-normal for each, of loads or of buried rode.

The honest fit without setting modes and without what other anchors say; it
stands beside the pooled answer, so that a reader sees what pooling adds. By
grid, with weak priors, so that it is finite when every pull of a side held.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from model.arrays.ranges import capacity_range
from model.records.campaign import Campaign, Ladder
from model.records.pull import Bite, Ending, Pull

Array = NDArray[np.float64]
Range = tuple[float, float]
"""Above, and up to: 0 and infinity where it is open."""

MU: Final = np.linspace(np.log(0.05), np.log(100.0), 381)
"""Grid of an arm's mean log load, log kN, or length, log m; a seventh of a ladder's step."""

SIGMA: Final = np.exp(np.linspace(np.log(0.03), np.log(1.5), 40))
"""Grid of the scatter, log scale."""

ARM_PRIOR: Final = (np.log(3.0), 1.5)
"""Weak prior of each arm's mean, log kN: mean and sd; the same for both, so that neither leads."""

EFFECT_PRIOR_SD: Final = 0.7
"""Weak prior sd of the log ratio, times the arms' own: within a factor of 4 either way."""

LOG_SIGMA_PRIOR: Final = (np.log(0.25), 0.7)
"""Weak prior of the log scatter: mean and sd."""

BURIED_ARM_PRIOR: Final = (np.log(0.6), 1.5)
"""The same of buried rode, log m."""

BURIED_LOG_SIGMA_PRIOR: Final = (np.log(0.4), 0.7)
"""Weak prior of the log scatter of buried rode, which holds the gap between the modes."""

LOG_FLOOR: Final = -1e6
"""Log probability below which a cell of the grid has no weight at all."""

HOLD_EXPONENT: Final = 0.024
"""A hold of t seconds counts as a load higher by ``(t/dwell)**this`` (mean of HalfNormal(0.03))."""


@dataclass(frozen=True, kw_only=True)
class FirstBite:
    """The first bite of a pull that set, with the ladder it climbed.

    Parameters
    ----------
    ladder : Ladder or None
        None for an old sheet without one.
    top_thrust_kn : float
        The most its boat can pull, kN.
    """

    bite: Bite
    ladder: Ladder | None
    top_thrust_kn: float

    @property
    def is_held(self) -> bool:
        """Whether it held to the end."""
        return self.bite.ending is Ending.HELD


def first_bites(campaign: Campaign, pulls: Sequence[Pull]) -> tuple[FirstBite, ...]:
    """First bites of the pulls that set and are not void: a re-set does not count."""
    return tuple(
        FirstBite(
            bite=pull.bites[0],
            ladder=campaign.ladder_of(pull.outing),
            top_thrust_kn=campaign.boat(campaign.outing(pull.outing).boat).top_thrust_kn,
        )
        for pull in pulls
        if pull.has_set and not pull.is_void
    )


@dataclass(frozen=True, kw_only=True)
class EffectAlone:
    """Distribution of two sides' difference, or log ratio, on a grid, each ``(effect,)``."""

    effect: Array
    weight: Array

    def cdf(self, x: float) -> float:
        """Probability of an effect of x or less."""
        found = np.interp(x, self.effect, self._below, left=0.0, right=1.0)
        return float(np.clip(found, 0.0, 1.0))

    def quantile(self, p: float) -> float:
        """Effect with the probability p below it."""
        return float(np.interp(p, self._below, self.effect))

    @property
    def _below(self) -> Array:
        return np.cumsum(self.weight) - self.weight / 2  # mass up to the middle of each cell


def effect_alone(a: Sequence[FirstBite], b: Sequence[FirstBite]) -> EffectAlone | None:
    """Log ratio of two sides' typical loads, by their own first bites; None with none on a side."""
    a_kn, b_kn = ([load_range(first) for first in side] for side in (a, b))
    return _effect_of_ranges(a_kn, b_kn, ARM_PRIOR, LOG_SIGMA_PRIOR)


def buried_effect_alone(a_m: Sequence[Range], b_m: Sequence[Range]) -> EffectAlone | None:
    """Log ratio of two sides' buried rode, by ranges of their lengths, m; None with none on one."""
    return _effect_of_ranges(a_m, b_m, BURIED_ARM_PRIOR, BURIED_LOG_SIGMA_PRIOR)


def _effect_of_ranges(
    a: Sequence[Range],
    b: Sequence[Range],
    arm_prior: tuple[float, float],
    log_sigma_prior: tuple[float, float],
) -> EffectAlone | None:
    """Grid of the effect ``(effect,)`` and its probabilities.

    On an even grid of means every effect is a whole number of steps, so that
    summing over the other mean is a correlation.
    """
    if min(len(a), len(b)) < 1:
        return None
    log_prior = -0.5 * ((MU - arm_prior[0]) / arm_prior[1]) ** 2
    arm_a, arm_b = (_log_likelihood(side) + log_prior for side in (a, b))
    scatter = -0.5 * ((np.log(SIGMA) - log_sigma_prior[0]) / log_sigma_prior[1]) ** 2
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
    return EffectAlone(effect=effect, weight=weight / weight.sum())


def _log_likelihood(side: Sequence[Range]) -> Array:
    """Log likelihood of one arm's ranges ``(sigma, mu)``."""
    total = np.zeros((SIGMA.size, MU.size))
    for lower, upper in side:
        total += _log_range_probability(lower, upper)
    return total


def _log_range_probability(lower: float, upper: float) -> Array:
    """Log P(lower < value <= upper) ``(sigma, mu)``, from the tail where it is accurate."""
    with np.errstate(divide="ignore"):
        ends = np.log(np.array([lower, upper]))
    low, high = ((end - MU[None, :]) / SIGMA[:, None] for end in ends)
    is_above = low > 0
    far = np.where(is_above, log_ndtr(-low), log_ndtr(high))
    near = np.where(is_above, log_ndtr(-high), log_ndtr(low))
    with np.errstate(divide="ignore"):
        log_probability = far + np.log1p(-np.exp(near - far))
    # A row of nothing but -inf would turn into NaN when its maximum is taken off.
    return np.asarray(np.maximum(log_probability, LOG_FLOOR))


def load_range(first: FirstBite) -> Range:
    """Range of the load at the first release (kN) that a bite tells: above, up to."""
    found = capacity_range(first.bite, first.ladder, 0.0, first.top_thrust_kn)
    return (
        found.lower_kn * np.exp(HOLD_EXPONENT * found.lower_log_hold),
        found.upper_kn * np.exp(HOLD_EXPONENT * found.upper_log_hold),
    )
