"""What a pooled model without modes or censoring makes of stepped pulls.

A hierarchical normal model of log recorded loads: anchors, what a treatment does on each,
and days are partially pooled; a pull that held counts as the top step. Given its four scales
it is a normal linear model, so that the posterior is a mixture of normals over a grid of them.
"""

from collections.abc import Sequence
from itertools import product
from math import log
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.stats import halfnorm, norm

from model.calibration.result import Estimate
from model.calibration.spreadsheet import estimate_of
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question

Array = NDArray[np.float64]

LEVEL_PRIOR: Final = (log(3.0), 1.5)
"""Weak prior of the mean log load, log kN: mean and sd."""
CHANGE_PRIOR_SD: Final = 0.5
"""Weak prior sd of what a treatment does on average, log scale."""
SCALE_PRIOR: Final = 0.5
"""Scale of the half-normal prior of each of the four scales."""
NODES: Final = 6
"""Equally likely values of each scale."""

_SCALES: Final = np.array(
    list(product(halfnorm.ppf((np.arange(NODES) + 0.5) / NODES, scale=SCALE_PRIOR), repeat=4))
)
"""``(node, scale)``: of anchors, of a treatment on each anchor, of days, of pulls."""


def pooled_normal_estimate(
    campaign: Campaign,
    question: Question,
    pulls: Sequence[Pull],
    *,
    log_band: tuple[float, float],
    truth: float,
) -> Estimate | None:
    """Log ratio of one anchor's loads, changed over bare.

    Parameters
    ----------
    campaign : Campaign
        With one treatment of two levels.
    question : Question
        About one anchor, its one changed level against its baseline.

    Returns
    -------
    Estimate or None
        None if no pull set.
    """
    used = [pull for pull in pulls if pull.has_set and not pull.is_void]
    if not used:
        return None
    means, sds, weights = _effect(campaign, question, used)

    def cdf(x: float) -> float:
        return float(np.clip(weights @ norm.cdf(x, means, sds), 0.0, 1.0))

    def quantile(p: float) -> float:
        low, high = (means - 10 * sds).min(), (means + 10 * sds).max()
        return float(brentq(lambda x: cdf(x) - p, low, high))

    return estimate_of(cdf, quantile, log_band=log_band, truth=truth)


def _effect(
    campaign: Campaign, question: Question, pulls: Sequence[Pull]
) -> tuple[Array, Array, Array]:
    """Mean, sd and weight of the effect at every node, each ``(node,)``."""
    y = np.log([pull.bites[0].load_kn or np.nan for pull in pulls]) - LEVEL_PRIOR[0]
    anchors = np.array([pull.anchor for pull in pulls])
    days = np.array([pull.outing for pull in pulls])
    is_changed = np.array([_is_changed(campaign, pull) for pull in pulls], dtype=float)
    both = is_changed[:, None] * is_changed
    same_anchor = (anchors[:, None] == anchors).astype(float)
    same_day = (days[:, None] == days).astype(float)
    of_anchor, of_change, of_day, of_pull = (
        _SCALES[:, place, None, None] ** 2 for place in range(4)
    )
    covariance = (
        LEVEL_PRIOR[1] ** 2
        + CHANGE_PRIOR_SD**2 * both
        + of_anchor * same_anchor
        + of_change * same_anchor * both
        + of_day * same_day
        + of_pull * np.eye(len(y))
    )
    own = is_changed * (anchors == question.a.anchor)
    shared = CHANGE_PRIOR_SD**2 * is_changed + of_change[:, :, 0] * own  # with the effect
    root = np.linalg.cholesky(covariance)
    white_y = np.linalg.solve(root, np.broadcast_to(y[:, None], (*root.shape[:2], 1)))[..., 0]
    white_shared = np.linalg.solve(root, shared[..., None])[..., 0]
    means = np.sum(white_shared * white_y, axis=1)
    variances = CHANGE_PRIOR_SD**2 + of_change[:, 0, 0] - np.sum(white_shared**2, axis=1)
    log_weight = -0.5 * np.sum(white_y**2, axis=1) - np.sum(
        np.log(np.diagonal(root, axis1=1, axis2=2)), axis=1
    )
    weights = np.exp(log_weight - log_weight.max())
    return means, np.sqrt(variances), weights / weights.sum()


def _is_changed(campaign: Campaign, pull: Pull) -> bool:
    baselines = {treatment.name: treatment.baseline for treatment in campaign.treatments}
    return any(pull.levels.get(name, baseline) != baseline for name, baseline in baselines.items())
