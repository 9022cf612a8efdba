"""Log-likelihood of every pull with its exact derivatives, compiled by Numba.

One pass over bites, quadrature nodes and modes. Probabilities are added as
they are while they are far from underflow, and in log space where they are
not (:mod:`model.graph.kernel_tail`): as separate tensor operations the same
sums took several times as long to compile and to run.

Rows of ``by_pull (7, pull)``: mean log load upright and on its side (boat bias
included), variance upright and on its side (gauge included, pull effect not),
logit upright, logit of setting again after a release and after a turn.
``shared (5,)``: scale of the pull effect, later bite's load and logit, hold
exponent, spoilt share. ``evidence (2, bite)``: log probability of all that was
seen of a bite beside its load, upright and on its side.
"""

from math import exp, inf, log, sqrt
from typing import Any, Final

import numpy as np

from model.graph.kernel_tail import log_sigmoid, mode_parts_in_tail, reset_term
from model.graph.machine_code import compiled
from model.graph.normal_tail import between, tail_and_density

MEAN, VARIANCE, LOGIT_UPRIGHT, LOGIT_RESETS, LOGIT_TURNS = 0, 2, 4, 5, 6
PULL_SCALE, LATER_LOAD, LATER_LOGIT, HOLD, SPOILT = range(5)
N_BY_PULL: Final = 7
N_SHARED: Final = 5
N_GRADIENT: Final = N_BY_PULL + N_SHARED

LOG_LOWER, LOG_UPPER, LOWER_HOLD, UPPER_HOLD, LOG_SPOILT = range(5)
IS_LATER, IS_RESET, IS_UNSEEN, IS_TURN = range(5, 9)
"""Rows of ``bites (9, bite)``; ends may be infinite."""

LOG_MODE, SD, LOWER_Z, UPPER_Z, WEIGHT_OF_MODE = range(5)
"""What a bite brings to every node, by mode."""

WEIGHT, SOUND, AT_LOWER, AT_UPPER = range(4)
"""What a mode contributes to a bite: its share of the bite's probability, the
share that is sound (not spoilt), and that share's density at either end."""

UNDERFLOW: Final = 1e-200
LOG_UNDERFLOW: Final = -460.0
"""A bite or pull less probable than this is computed in log space."""


@compiled
def prepare_bite(
    pull: Any, shared: Any, bite: Any, evidence: Any, is_single: float, out: Any
) -> None:
    """What does not depend on the node: ends in sd from the mean, mode's log weight."""
    logit = pull[LOGIT_UPRIGHT] + bite[IS_LATER] * shared[LATER_LOGIT]
    lower = bite[LOG_LOWER] + shared[HOLD] * bite[LOWER_HOLD]
    upper = bite[LOG_UPPER] + shared[HOLD] * bite[UPPER_HOLD]
    for mode in range(2):
        mean = pull[MEAN + mode] + bite[IS_LATER] * shared[LATER_LOAD]
        sd = sqrt(pull[VARIANCE + mode] + is_single * shared[PULL_SCALE] ** 2)
        out[mode, LOG_MODE] = log_sigmoid(logit if mode == 0 else -logit) + evidence[mode]
        out[mode, WEIGHT_OF_MODE] = exp(out[mode, LOG_MODE])
        out[mode, SD] = sd
        out[mode, LOWER_Z], out[mode, UPPER_Z] = (lower - mean) / sd, (upper - mean) / sd


@compiled
def mode_parts(
    prepared: Any, j: int, n: int, shift: float, sound: float, share: float, parts: Any
) -> float:
    """Fill `parts[j, n]`, and return the probability of bite j at node n."""
    total = 0.0
    for mode in range(2):
        z = shift / prepared[j, mode, SD]
        a, b = prepared[j, mode, LOWER_Z] - z, prepared[j, mode, UPPER_Z] - z
        tail_a, at_a = tail_and_density(a)
        tail_b, at_b = tail_and_density(b)
        weight = prepared[j, mode, WEIGHT_OF_MODE]
        in_range = weight * sound * between(a, tail_a, b, tail_b)
        parts[j, n, mode, SOUND] = in_range
        parts[j, n, mode, WEIGHT] = in_range + weight * share
        parts[j, n, mode, AT_LOWER] = weight * sound * at_a
        parts[j, n, mode, AT_UPPER] = weight * sound * at_b
        total += in_range + weight * share
    if total >= UNDERFLOW:
        scale = 1 / total
        for mode in range(2):
            for k in range(4):
                parts[j, n, mode, k] *= scale
    return total


@compiled
def reset_factor(
    p_bite: float, p_resets: float, is_reset: float, is_unseen: float
) -> tuple[float, float]:
    """A bite's factor with its re-set chance, and d log(factor) by log(`p_bite`)."""
    if is_reset == 0.0:
        return p_bite, 1.0
    again = p_resets * p_bite
    if is_unseen == 0.0:
        return again, 1.0
    again = min(again, 1 - 1e-12)
    return 1 - again, -again / (1 - again)


@compiled
def again_logit(pull: Any, bite: Any) -> float:
    """Logit of setting again: after a turn, or after a release."""
    logit: float = pull[LOGIT_TURNS] if bite[IS_TURN] > 0 else pull[LOGIT_RESETS]
    return logit


@compiled
def fill_parts(
    shared: Any, bites: Any, prepared: Any, log_again: Any, nodes: Any, parts: Any, chain: Any,
    by_node: Any,
) -> bool:  # fmt: skip
    """Probability of the pull at each node; False if any bite's is near underflow."""
    sound = 1 - shared[SPOILT]
    for n in range(nodes.size):
        by_node[n] = 1.0
    for j in range(bites.shape[1]):
        log_share = bites[LOG_SPOILT, j]
        share = 0.0 if log_share < LOG_UNDERFLOW else shared[SPOILT] * exp(log_share)
        p_again = exp(log_again[j])
        for n in range(nodes.size):
            shift = shared[PULL_SCALE] * nodes[n]
            p_bite = mode_parts(prepared, j, n, shift, sound, share, parts)
            if p_bite < UNDERFLOW:
                return False
            factor, chain[j, n] = reset_factor(
                p_bite, p_again, bites[IS_RESET, j], bites[IS_UNSEEN, j]
            )
            by_node[n] *= factor
    return True


@compiled
def fill_parts_in_tail(
    shared: Any, bites: Any, prepared: Any, log_again: Any, nodes: Any, parts: Any, chain: Any,
    by_node: Any,
) -> None:  # fmt: skip
    """The same in log space: `by_node` is the log probability."""
    for n in range(nodes.size):
        by_node[n] = 0.0
    for j in range(bites.shape[1]):
        for n in range(nodes.size):
            shift = shared[PULL_SCALE] * nodes[n]
            log_bite = mode_parts_in_tail(
                prepared[j], shift, shared[SPOILT], bites[LOG_SPOILT, j], parts[j, n]
            )
            term, chain[j, n] = reset_term(log_bite, log_again[j], bites[IS_RESET, j],
                                           bites[IS_UNSEEN, j])  # fmt: skip
            by_node[n] += term


@compiled
def add_bite(
    j: int, bites: Any, p_upright: float, p_again: float, shared: Any, prepared: Any, parts: Any,
    chain: Any, node_weight: Any, nodes: Any, gradient: Any, by_evidence: Any,
) -> None:  # fmt: skip
    """Add the derivatives of bite j, each summed over the nodes by their weight."""
    spoilt, pull_scale = shared[SPOILT], shared[PULL_SCALE]
    is_single = 1.0 if nodes.size == 1 else 0.0
    by_logit, by_sound, by_spoilt, by_again = 0.0, 0.0, 0.0, 0.0
    for mode in range(2):
        per_sd = 1 / prepared[j, mode, SD]
        by_mean, by_slope, by_hold, by_scale, by_weight = 0.0, 0.0, 0.0, 0.0, 0.0
        for n in range(nodes.size):
            w = node_weight[n] * chain[j, n]
            z = pull_scale * nodes[n] * per_sd
            a, b = prepared[j, mode, LOWER_Z] - z, prepared[j, mode, UPPER_Z] - z
            at_a, at_b = w * parts[j, n, mode, AT_LOWER], w * parts[j, n, mode, AT_UPPER]
            by_mean += at_a - at_b
            by_scale += (at_a - at_b) * nodes[n]
            by_slope += (0.0 if b == inf else b * at_b) - (0.0 if a == -inf else a * at_a)
            by_hold += at_b * bites[UPPER_HOLD, j] - at_a * bites[LOWER_HOLD, j]
            by_weight += w * parts[j, n, mode, WEIGHT]
            by_sound += w * parts[j, n, mode, SOUND]
            by_spoilt += w * (parts[j, n, mode, WEIGHT] - parts[j, n, mode, SOUND])
        by_mean, by_scale, by_hold = by_mean * per_sd, by_scale * per_sd, by_hold * per_sd
        by_variance = -0.5 * by_slope * per_sd * per_sd
        gradient[MEAN + mode] += by_mean
        gradient[VARIANCE + mode] += by_variance
        by_scale += by_variance * 2 * pull_scale * is_single
        gradient[N_BY_PULL + PULL_SCALE] += by_scale
        gradient[N_BY_PULL + LATER_LOAD] += by_mean * bites[IS_LATER, j]
        gradient[N_BY_PULL + HOLD] += by_hold
        by_evidence[mode, j] = by_weight
        by_logit += by_weight * (1 - p_upright if mode == 0 else -p_upright)
    gradient[LOGIT_UPRIGHT] += by_logit
    gradient[N_BY_PULL + LATER_LOGIT] += by_logit * bites[IS_LATER, j]
    gradient[N_BY_PULL + SPOILT] += by_spoilt / spoilt - by_sound / (1 - spoilt)
    if bites[IS_RESET, j] > 0:
        for n in range(nodes.size):
            by_again += node_weight[n] * chain[j, n]
        place = LOGIT_TURNS if bites[IS_TURN, j] > 0 else LOGIT_RESETS
        gradient[place] += by_again * (1 - p_again)


@compiled
def workspace(first_bite: Any, n_node: int) -> tuple[Any, Any, Any, Any, Any, Any]:
    """What one pull is worked out in, for the one of most bites; the next writes over it.

    Made anew for each pull, these arrays took a quarter of the time.
    """
    n_bite = 1
    for i in range(first_bite.size - 1):
        n_bite = max(n_bite, first_bite[i + 1] - first_bite[i])
    prepared, parts = np.empty((n_bite, 2, 5)), np.empty((n_bite, n_node, 2, 4))
    return (prepared, parts, np.empty((n_bite, n_node)), np.empty(n_bite), np.empty(n_node),
            np.empty(n_node))  # fmt: skip


@compiled
def weigh_nodes(by_node: Any, weight: Any, node_weight: Any) -> float:
    """Fill `node_weight` with each node's share of the pull's probability, and return that."""
    total = 0.0
    for n in range(weight.size):
        node_weight[n] = by_node[n] * weight[n]
        total += node_weight[n]
    for n in range(weight.size):
        node_weight[n] /= total
    return total


@compiled
def pull_term(
    pull: Any, shared: Any, bites: Any, evidence: Any, nodes: Any, weight: Any, space: Any,
    gradient: Any, by_evidence: Any,
) -> float:  # fmt: skip
    """Log-likelihood of one pull's bites; derivatives are added to `gradient (12,)`."""
    prepared, parts, chain, log_again, by_node, node_weight = space
    n_bite, n_node = bites.shape[1], nodes.size
    is_single = 1.0 if n_node == 1 else 0.0
    for j in range(n_bite):
        log_again[j] = log_sigmoid(again_logit(pull, bites[:, j]))
        prepare_bite(pull, shared, bites[:, j], evidence[:, j], is_single, prepared[j])
    total, largest = 0.0, 0.0
    if fill_parts(shared, bites, prepared, log_again, nodes, parts, chain, by_node):
        total = weigh_nodes(by_node, weight, node_weight)
    if total <= UNDERFLOW:
        fill_parts_in_tail(shared, bites, prepared, log_again, nodes, parts, chain, by_node)
        largest = by_node[0]
        for n in range(1, n_node):
            largest = max(largest, by_node[n])
        for n in range(n_node):
            by_node[n] = exp(by_node[n] - largest)
        total = weigh_nodes(by_node, weight, node_weight)
    for j in range(n_bite):
        logit = pull[LOGIT_UPRIGHT] + bites[IS_LATER, j] * shared[LATER_LOGIT]
        add_bite(j, bites, exp(log_sigmoid(logit)), exp(log_again[j]), shared, prepared, parts,
                 chain, node_weight, nodes, gradient, by_evidence)  # fmt: skip
    return largest + log(total)


@compiled
def bites_with_gradient(
    by_pull: Any, shared: Any, bites: Any, evidence: Any, first_bite: Any, nodes: Any,
    log_weight: Any,
) -> tuple[float, Any, Any, Any]:  # fmt: skip
    """Log-likelihood of all bites; derivatives by each of the first inputs but the bites."""
    n_pull = by_pull.shape[1]
    total, by_shared = 0.0, np.zeros(N_SHARED)
    jacobian, by_evidence = np.empty((N_BY_PULL, n_pull)), np.zeros(evidence.shape)
    gradient, space = np.empty(N_GRADIENT), workspace(first_bite, nodes.size)
    # Arrays that may not be written to are another type: everything below would be compiled once
    # for them and once for the one node.
    weight = np.empty(nodes.size)
    for n in range(nodes.size):
        weight[n] = exp(log_weight[n])
    nodes, one_node, one_weight = nodes.copy(), np.zeros(1), np.ones(1)
    for i in range(n_pull):
        start, stop = first_bite[i], first_bite[i + 1]
        pull, its_bites = by_pull[:, i], bites[:, start:stop]
        its_evidence, by_its = evidence[:, start:stop], by_evidence[:, start:stop]
        for k in range(N_GRADIENT):
            gradient[k] = 0.0
        if stop > start:
            # One call for either kind: a second one would be compiled once more, which takes as
            # long again.
            is_joint = stop - start > 1
            total += pull_term(
                pull, shared, its_bites, its_evidence, nodes if is_joint else one_node,
                weight if is_joint else one_weight, space, gradient, by_its,
            )  # fmt: skip
        for k in range(N_BY_PULL):
            jacobian[k, i] = gradient[k]
        for k in range(N_SHARED):
            by_shared[k] += gradient[N_BY_PULL + k]
    return total, jacobian, by_shared, by_evidence
