"""Log-likelihood of every pull with its exact derivatives, compiled by Numba.

One pass over bites, quadrature nodes and modes. Probabilities are added as
they are while they are far from underflow, and in log space where they are
not (:mod:`model.graph.kernel_tail`): as separate tensor operations the same
sums took several times as long to compile and to run.

Rows of ``by_pull (6, pull)``: mean log load upright and on its side (boat bias
included), variance upright and on its side (gauge included, pull effect not),
logit upright, logit re-set. ``shared (13,)``: scale of the pull effect, later
bite's load and logit, hold exponent, spoilt share, then the log evidence of
the four codes of ``seen`` upright and the four on its side.
"""

from math import erfc, exp, expm1, inf, log, log1p, pi, sqrt
from typing import Any, Final

import numba
import numpy as np

from model.graph.kernel_tail import log1mexp, log_sigmoid, mode_parts_in_tail

MEAN, VARIANCE, LOGIT_UPRIGHT, LOGIT_RESETS = 0, 2, 4, 5
PULL_SCALE, LATER_LOAD, LATER_LOGIT, HOLD, SPOILT, EVIDENCE = range(6)
N_BY_PULL: Final = 6
N_SHARED: Final = 13
N_GRADIENT: Final = N_BY_PULL + N_SHARED

LOG_LOWER, LOG_UPPER, LOWER_HOLD, UPPER_HOLD, LOG_SPOILT, IS_LATER, IS_RESET, IS_UNSEEN = range(8)
"""Rows of ``bites (8, bite)``; ends may be infinite."""

LOG_MODE, SD, LOWER_Z, UPPER_Z = range(4)
"""What a bite brings to every node, by mode."""

WEIGHT, SOUND, AT_LOWER, AT_UPPER = range(4)
"""What a mode contributes to a bite: its share of the bite's probability, the
share that is sound (not spoilt), and that share's density at either end."""

SQRT_HALF: Final = sqrt(0.5)
DENSITY: Final = 1 / sqrt(2 * pi)
UNDERFLOW: Final = 1e-250
"""A bite less probable than this is computed in log space."""


@numba.njit(cache=True)
def interval(a: float, b: float) -> float:
    """``Phi(b) - Phi(a)``; both ends on the side of zero where tails are small."""
    low, high = (-b, -a) if a + b > 0 else (a, b)
    upper = 2.0 if high == inf else erfc(-high * SQRT_HALF)
    lower = 0.0 if low == -inf else erfc(-low * SQRT_HALF)
    return 0.5 * (upper - lower)


@numba.njit(cache=True)
def density(z: float) -> float:
    """Standard normal density; 0 at an infinite end."""
    return 0.0 if z in (inf, -inf) else DENSITY * exp(-0.5 * z * z)


@numba.njit(cache=True)
def prepare_bite(pull: Any, shared: Any, bite: Any, seen: int, is_single: float, out: Any) -> None:
    """What does not depend on the node: ends in sd from the mean, mode's log weight."""
    logit = pull[LOGIT_UPRIGHT] + bite[IS_LATER] * shared[LATER_LOGIT]
    lower = bite[LOG_LOWER] + shared[HOLD] * bite[LOWER_HOLD]
    upper = bite[LOG_UPPER] + shared[HOLD] * bite[UPPER_HOLD]
    for mode in range(2):
        mean = pull[MEAN + mode] + bite[IS_LATER] * shared[LATER_LOAD]
        sd = sqrt(pull[VARIANCE + mode] + is_single * shared[PULL_SCALE] ** 2)
        evidence = shared[EVIDENCE + 4 * mode + seen]
        out[mode, LOG_MODE] = log_sigmoid(logit if mode == 0 else -logit) + evidence
        out[mode, SD] = sd
        out[mode, LOWER_Z], out[mode, UPPER_Z] = (lower - mean) / sd, (upper - mean) / sd


@numba.njit(cache=True)
def mode_parts(prepared: Any, shift: float, spoilt: float, log_spoilt: float, out: Any) -> float:
    """Fill `out (mode, 4)` and return the bite's log probability at one node."""
    total = 0.0
    share = 0.0 if log_spoilt < -700.0 else spoilt * exp(log_spoilt)
    for mode in range(2):
        z = shift / prepared[mode, SD]
        a, b = prepared[mode, LOWER_Z] - z, prepared[mode, UPPER_Z] - z
        weight = exp(prepared[mode, LOG_MODE])
        sound = weight * (1 - spoilt) * interval(a, b)
        out[mode, WEIGHT] = sound + weight * share
        out[mode, SOUND] = sound
        out[mode, AT_LOWER] = weight * (1 - spoilt) * density(a)
        out[mode, AT_UPPER] = weight * (1 - spoilt) * density(b)
        total += out[mode, WEIGHT]
    if total < UNDERFLOW:
        return mode_parts_in_tail(prepared, shift, spoilt, log_spoilt, out)
    out /= total
    return log(total)


@numba.njit(cache=True)
def reset_term(log_bite: float, log_resets: float, bite: Any) -> tuple[float, float]:
    """A bite's term with its re-set chance, and the term's derivative by `log_bite`."""
    if bite[IS_RESET] == 0.0:
        return log_bite, 1.0
    if bite[IS_UNSEEN] == 0.0:
        return log_bite + log_resets, 1.0
    log_again = min(log_resets + log_bite, -1e-12)
    return log1mexp(log_again), exp(log_again) / expm1(log_again)


@numba.njit(cache=True)
def add_bite(
    bite: Any,
    seen: int,
    pull: Any,
    shared: Any,
    prepared: Any,
    parts: Any,
    chain: Any,
    node_weight: Any,
    nodes: Any,
    is_single: float,
    gradient: Any,
) -> None:
    """Add one bite's derivatives, each summed over the nodes by their weight."""
    p_upright = exp(log_sigmoid(pull[LOGIT_UPRIGHT] + bite[IS_LATER] * shared[LATER_LOGIT]))
    spoilt, pull_scale = shared[SPOILT], shared[PULL_SCALE]
    by_logit, by_resets, by_spoilt = 0.0, 0.0, 0.0
    for mode in range(2):
        sd = prepared[mode, SD]
        by_mean, by_variance, by_hold, by_scale, by_weight = 0.0, 0.0, 0.0, 0.0, 0.0
        for n in range(node_weight.size):
            w = node_weight[n] * chain[n]
            z = pull_scale * nodes[n] / sd
            a, b = prepared[mode, LOWER_Z] - z, prepared[mode, UPPER_Z] - z
            at_a, at_b = w * parts[n, mode, AT_LOWER], w * parts[n, mode, AT_UPPER]
            mean = (at_a - at_b) / sd
            slope = (0.0 if b == inf else b * at_b) - (0.0 if a == -inf else a * at_a)
            by_mean += mean
            by_scale += mean * nodes[n]
            by_variance -= 0.5 * slope / (sd * sd)
            by_hold += (at_b * bite[UPPER_HOLD] - at_a * bite[LOWER_HOLD]) / sd
            by_weight += w * parts[n, mode, WEIGHT]
            sound = parts[n, mode, SOUND]
            by_spoilt += w * ((parts[n, mode, WEIGHT] - sound) / spoilt - sound / (1 - spoilt))
        gradient[MEAN + mode] += by_mean
        gradient[VARIANCE + mode] += by_variance
        by_scale += by_variance * 2 * pull_scale * is_single
        gradient[N_BY_PULL + PULL_SCALE] += by_scale
        gradient[N_BY_PULL + LATER_LOAD] += by_mean * bite[IS_LATER]
        gradient[N_BY_PULL + HOLD] += by_hold
        gradient[N_BY_PULL + EVIDENCE + 4 * mode + seen] += by_weight
        by_logit += by_weight * (1 - p_upright if mode == 0 else -p_upright)
    gradient[LOGIT_UPRIGHT] += by_logit
    gradient[N_BY_PULL + LATER_LOGIT] += by_logit * bite[IS_LATER]
    gradient[N_BY_PULL + SPOILT] += by_spoilt
    if bite[IS_RESET] > 0:
        for n in range(node_weight.size):
            by_resets += node_weight[n] * chain[n]
        gradient[LOGIT_RESETS] -= by_resets * expm1(log_sigmoid(pull[LOGIT_RESETS]))


@numba.njit(cache=True)
def log_add(a: float, b: float) -> float:
    """``log(exp(a) + exp(b))``."""
    return a + log1p(exp(b - a)) if a > b else b + log1p(exp(a - b))


@numba.njit(cache=True)
def pull_term(
    pull: Any, shared: Any, bites: Any, seen: Any, nodes: Any, log_weight: Any, gradient: Any
) -> float:
    """Log-likelihood of one pull's bites; derivatives are added to `gradient (19,)`."""
    n_bite, n_node = bites.shape[1], nodes.size
    is_single = 1.0 if n_node == 1 else 0.0
    prepared = np.empty((n_bite, 2, 4))
    parts = np.empty((n_bite, n_node, 2, 4))
    chain, by_node = np.empty((n_bite, n_node)), log_weight.copy()
    log_resets = log_sigmoid(pull[LOGIT_RESETS])
    for j in range(n_bite):
        prepare_bite(pull, shared, bites[:, j], seen[j], is_single, prepared[j])
        log_spoilt = bites[LOG_SPOILT, j]
        for n in range(n_node):
            shift = shared[PULL_SCALE] * nodes[n]
            log_bite = mode_parts(prepared[j], shift, shared[SPOILT], log_spoilt, parts[j, n])
            term, chain[j, n] = reset_term(log_bite, log_resets, bites[:, j])
            by_node[n] += term
    total = by_node[0]
    for n in range(1, n_node):
        total = log_add(total, by_node[n])
    node_weight = np.exp(by_node - total)
    for j in range(n_bite):
        add_bite(bites[:, j], seen[j], pull, shared, prepared[j], parts[j], chain[j], node_weight,
                 nodes, is_single, gradient)  # fmt: skip
    return total


@numba.njit(cache=True)
def bites_with_gradient(
    by_pull: Any, shared: Any, bites: Any, seen: Any, first_bite: Any, nodes: Any, log_weight: Any
) -> tuple[float, Any, Any]:
    """Log-likelihood of all bites; derivatives by pull ``(6, pull)`` and shared ``(13,)``."""
    n_pull = by_pull.shape[1]
    total, by_shared = 0.0, np.zeros(N_SHARED)
    jacobian = np.empty((N_BY_PULL, n_pull))
    one_node, no_weight, gradient = np.zeros(1), np.zeros(1), np.empty(N_GRADIENT)
    for i in range(n_pull):
        start, stop = first_bite[i], first_bite[i + 1]
        pull, its_bites, its_seen = by_pull[:, i].copy(), bites[:, start:stop], seen[start:stop]
        gradient[:] = 0.0
        if stop - start == 1:
            total += pull_term(pull, shared, its_bites, its_seen, one_node, no_weight, gradient)
        elif stop > start:
            total += pull_term(pull, shared, its_bites, its_seen, nodes, log_weight, gradient)
        jacobian[:, i] = gradient[:N_BY_PULL]
        by_shared += gradient[N_BY_PULL:]
    return total, jacobian, by_shared
