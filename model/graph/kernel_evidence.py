"""Log probability of what was seen of each bite beside its load, and the way back.

Camera, buried rode and signs tell nothing of each other given the mode, so
their logs add up to one number a mode and bite.
"""

from math import exp, inf, log, log1p
from typing import Any, Final

import numpy as np

from model.graph.kernel import UNDERFLOW
from model.graph.kernel_tail import log_density, log_interval, log_sigmoid
from model.graph.machine_code import compiled
from model.graph.normal_tail import between, tail_and_density

LOST_BASE, LOST_DIFFERENCE, RATE, GAP, SCATTER, SIGN_RATE = 5, 6, 7, 9, 10, 11
"""Positions in the shared parameters; the rates of the signs end them, upright ones first."""

LOWER_Z, UPPER_Z, AT_LOWER, AT_UPPER = range(4)
"""What a range of buried rode brings to the gradient, by mode: its ends in scatters
from the mean, and the density there over the range's probability."""

N_SEEN: Final = 4
"""Codes of ``seen``; see :mod:`model.base.names`."""


@compiled
def camera_logs(shared: Any) -> Any:
    """Log probability of each code of ``seen`` by mode, ``(2, 4)``."""
    out = np.zeros((2, N_SEEN))
    for mode in range(2):
        half = 0.5 * shared[LOST_DIFFERENCE]
        logit_lost = shared[LOST_BASE] + (half if mode == 0 else -half)
        log_seen, right = log_sigmoid(-logit_lost), shared[RATE + mode]
        out[mode, 1] = log_sigmoid(logit_lost)
        out[mode, 2 + mode] = log_seen + log(right)
        out[mode, 3 - mode] = log_seen + log1p(-right)
    return out


@compiled
def add_camera_gradient(shared: Any, by_code: Any, out: Any) -> None:
    """Chain derivatives by the codes' logs ``(2, 4)`` to the shared parameters."""
    for mode in range(2):
        sign = 0.5 if mode == 0 else -0.5
        p_lost = exp(log_sigmoid(shared[LOST_BASE] + sign * shared[LOST_DIFFERENCE]))
        right, own, other = shared[RATE + mode], by_code[mode, 2 + mode], by_code[mode, 3 - mode]
        by_logit = by_code[mode, 1] * (1 - p_lost) - (own + other) * p_lost
        out[LOST_BASE] += by_logit
        out[LOST_DIFFERENCE] += sign * by_logit
        out[RATE + mode] += own / right - other / (1 - right)


@compiled
def buried_ends(shared: Any, mean: float, mode: int, lower: float, upper: float) -> Any:
    """Ends of a range of log length in scatters from the mode's mean."""
    centre = mean - (shared[GAP] if mode == 1 else 0.0)
    return (lower - centre) / shared[SCATTER], (upper - centre) / shared[SCATTER]


@compiled
def range_parts(a: float, b: float, parts: Any) -> float:
    """Fill `parts (4,)`, and return the log probability of a range."""
    parts[LOWER_Z], parts[UPPER_Z] = a, b
    tail_a, at_a = tail_and_density(a)
    tail_b, at_b = tail_and_density(b)
    p = between(a, tail_a, b, tail_b)
    if p > UNDERFLOW:
        parts[AT_LOWER], parts[AT_UPPER] = at_a / p, at_b / p
        return log(p)
    log_p: float = log_interval(a, b)
    parts[AT_LOWER], parts[AT_UPPER] = exp(log_density(a) - log_p), exp(log_density(b) - log_p)
    return log_p


@compiled
def sign_logs(shared: Any, n_sign: int) -> Any:
    """Log probability of each sign's no and yes by mode, ``(2, sign, 2)``."""
    out = np.empty((2, n_sign, 2))
    for mode in range(2):
        for k in range(n_sign):
            rate = shared[SIGN_RATE + mode * n_sign + k]
            out[mode, k, 0], out[mode, k, 1] = log1p(-rate), log(rate)
    return out


@compiled
def fill_evidence(
    shared: Any, log_buried: Any, pull_index: Any, seen: Any, buried: Any, signs: Any
) -> tuple[Any, Any]:
    """Log probability of all that was seen ``(2, bite)``, and :func:`range_parts` of each."""
    n_bite, n_sign = signs.shape
    by_code, by_sign = camera_logs(shared), sign_logs(shared, n_sign)
    out, parts = np.empty((2, n_bite)), np.zeros((2, n_bite, 4))
    for j in range(n_bite):
        is_measured = buried[0, j] > -inf or buried[1, j] < inf
        for mode in range(2):
            total = by_code[mode, seen[j]]
            if is_measured:
                mean = log_buried[pull_index[j]]
                a, b = buried_ends(shared, mean, mode, buried[0, j], buried[1, j])
                total += range_parts(a, b, parts[mode, j])
            for k in range(n_sign):
                if signs[j, k] >= 0:
                    total += by_sign[mode, k, signs[j, k]]
            out[mode, j] = total
    return out, parts


@compiled
def add_buried_gradient(shared: Any, parts: Any, mode: int, weight: float, out: Any) -> float:
    """Add to the gap and the scatter; return the derivative by the mean log length."""
    at_a, at_b = parts[AT_LOWER], parts[AT_UPPER]
    slope = (parts[UPPER_Z] * at_b if at_b > 0 else 0.0) - (
        parts[LOWER_Z] * at_a if at_a > 0 else 0.0
    )
    by_mean: float = weight * (at_a - at_b) / shared[SCATTER]
    out[SCATTER] -= weight * slope / shared[SCATTER]
    if mode == 1:
        out[GAP] -= by_mean
    return by_mean


@compiled
def evidence_gradient(
    shared: Any, pull_index: Any, n_pull: int, seen: Any, signs: Any, parts: Any,
    by_evidence: Any, by_shared: Any,
) -> Any:  # fmt: skip
    """Add to the shared parameters; return derivatives by the mean log length of each pull."""
    n_bite, n_sign = signs.shape
    by_code, by_mean = np.zeros((2, N_SEEN)), np.zeros(n_pull)
    by_sign = np.zeros((2, n_sign, 2))
    for j in range(n_bite):
        for mode in range(2):
            weight = by_evidence[mode, j]
            by_code[mode, seen[j]] += weight
            by_mean[pull_index[j]] += add_buried_gradient(
                shared, parts[mode, j], mode, weight, by_shared
            )
            for k in range(n_sign):
                if signs[j, k] >= 0:
                    by_sign[mode, k, signs[j, k]] += weight
    for mode in range(2):
        for k in range(n_sign):
            place = SIGN_RATE + mode * n_sign + k
            rate = shared[place]
            by_shared[place] += by_sign[mode, k, 1] / rate - by_sign[mode, k, 0] / (1 - rate)
    add_camera_gradient(shared, by_code, by_shared)
    return by_mean
