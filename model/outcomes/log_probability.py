"""Log probabilities of ranges under a normal, in log space and double precision."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

Array = NDArray[np.float64]

LOG_HALF: Final = np.log(0.5)


def log1mexp(log_p: Array) -> Array:
    """``log(1 - exp(log_p))`` for ``log_p < 0``, exact at both ends (Mächler 2012)."""
    near_one = log_p > LOG_HALF
    safe_near = np.where(near_one, log_p, LOG_HALF)
    safe_far = np.where(near_one, LOG_HALF, log_p)
    return np.where(near_one, np.log(-np.expm1(safe_near)), np.log1p(-np.exp(safe_far)))


def log_interval(lower_z: Array, upper_z: Array) -> Array:
    """Log of ``Phi(upper_z) - Phi(lower_z)``; infinite ends allowed.

    Both ends are put on the side of zero where tails are small, so that a
    range 40 standard deviations out keeps its digits.
    """
    with np.errstate(invalid="ignore"):
        flip = np.nan_to_num(lower_z + upper_z, nan=0.0, posinf=1.0, neginf=-1.0) > 0
    low = np.where(flip, -upper_z, lower_z)
    high = np.where(flip, -lower_z, upper_z)
    log_high = log_ndtr(high)
    with np.errstate(divide="ignore", invalid="ignore"):
        difference = log_ndtr(low) - log_high
        inner = np.where(np.isneginf(low), 0.0, log1mexp(np.minimum(difference, -1e-300)))
    return log_high + inner


def log_sigmoid(logit: Array) -> Array:
    """Log of the inverse logit, without overflow at either end."""
    return -np.logaddexp(0.0, -logit)
