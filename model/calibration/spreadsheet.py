"""What a spreadsheet does with stepped pulls: means of step values, and Welch's interval."""

from collections.abc import Callable, Sequence
from math import log, sqrt

import numpy as np
from scipy.stats import t as student

from model.calibration.result import Estimate
from model.questions.alone import FirstBite

Cdf = Callable[[float], float]


def spreadsheet_estimate(
    a: Sequence[FirstBite], b: Sequence[FirstBite], *, log_band: tuple[float, float], truth: float
) -> Estimate | None:
    """Log ratio of mean step values, with Welch's interval.

    Each pull counts as the step at which it let go, and as the top step if it
    held: the classic mistake. The standard error of the log ratio is that of
    the two means by the delta method, its degrees of freedom Welch's.

    Returns
    -------
    Estimate or None
        None with fewer than two pulls on a side. With no spread on either side
        the interval has no width, as in a spreadsheet.
    """
    if min(len(a), len(b)) < 2:
        return None
    values_a, values_b = _step_values(a), _step_values(b)
    shares = np.array([v.var(ddof=1) / len(v) / v.mean() ** 2 for v in (values_a, values_b)])
    value = log(values_a.mean() / values_b.mean())
    error = sqrt(shares.sum())
    degrees = _welch_degrees(shares, (len(a), len(b)))

    def quantile(p: float) -> float:
        return value + error * float(student.ppf(p, degrees))

    def cdf(x: float) -> float:
        if error == 0.0:
            return 0.5 if x == value else float(x > value)
        return float(student.cdf((x - value) / error, degrees))

    return estimate_of(cdf, quantile, log_band=log_band, truth=truth)


def _step_values(side: Sequence[FirstBite]) -> np.ndarray:
    return np.array([first.bite.load_kn for first in side], dtype=np.float64)


def _welch_degrees(shares: np.ndarray, counts: tuple[int, int]) -> float:
    """Welch's degrees of freedom; with no spread at all those of the pooled test."""
    weights = shares**2 / (np.array(counts) - 1)
    return float(shares.sum() ** 2 / weights.sum()) if weights.sum() > 0 else sum(counts) - 2.0


def estimate_of(
    cdf: Cdf, quantile: Cdf, *, log_band: tuple[float, float], truth: float
) -> Estimate:
    """Sum up a distribution of the effect by its functions."""
    p_below, p_not_above = cdf(log_band[0]), cdf(log_band[1])
    return Estimate(
        value=quantile(0.5),
        lower50=quantile(0.25),
        upper50=quantile(0.75),
        lower90=quantile(0.05),
        upper90=quantile(0.95),
        p_higher=1 - cdf(0.0),
        p_above_band=1 - p_not_above,
        p_inside_band=max(0.0, p_not_above - p_below),
        p_below_band=p_below,
        p_below_truth=cdf(truth),
    )
