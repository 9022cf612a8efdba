"""From the parameter vector to a campaign's log-likelihood and its gradient."""

from math import exp, expm1, log, log1p
from typing import Any, Final

import numpy as np

from model.graph.kernel import EVIDENCE, N_BY_PULL, N_SHARED, VARIANCE, bites_with_gradient
from model.graph.kernel_tail import log_sigmoid
from model.graph.machine_code import compiled

LOG_SCATTER, LOG_GAUGE, LOGITS, LOGIT_SETS = 2, 4, 5, 7
"""Blocks of predictor rows; see :data:`model.outcomes.design.PREDICTORS`."""
N_PREDICTOR: Final = 8
LOST_BASE, LOST_DIFFERENCE, RATE = 5, 6, 7
"""Positions in the shared parameters; the first five pass straight to the kernel."""


@compiled
def multiply(row_start: Any, column: Any, value: Any, vector: Any) -> Any:
    """Sparse matrix times vector."""
    out = np.zeros(row_start.size - 1)
    for i in range(out.size):
        for k in range(row_start[i], row_start[i + 1]):
            out[i] += value[k] * vector[column[k]]
    return out


@compiled
def add_transposed(row_start: Any, column: Any, value: Any, weight: Any, out: Any) -> None:
    """Add the transposed sparse matrix times `weight` to `out`."""
    for i in range(weight.size):
        for k in range(row_start[i], row_start[i + 1]):
            out[column[k]] += value[k] * weight[i]


@compiled
def fill_evidence(shared: Any, out: Any) -> None:
    """Log probability of each code of ``seen`` by mode into the kernel's shared vector."""
    for mode in range(2):
        half = 0.5 * shared[LOST_DIFFERENCE]
        logit_lost = shared[LOST_BASE] + (half if mode == 0 else -half)
        log_seen, right = log_sigmoid(-logit_lost), shared[RATE + mode]
        start = EVIDENCE + 4 * mode
        out[start] = 0.0
        out[start + 1] = log_sigmoid(logit_lost)
        out[start + 2 + mode] = log_seen + log(right)
        out[start + 3 - mode] = log_seen + log1p(-right)


@compiled
def evidence_gradient(shared: Any, by_kernel: Any, out: Any) -> None:
    """Chain the kernel's derivatives by evidence to the shared parameters."""
    for mode in range(2):
        sign = 0.5 if mode == 0 else -0.5
        p_lost = exp(log_sigmoid(shared[LOST_BASE] + sign * shared[LOST_DIFFERENCE]))
        start = EVIDENCE + 4 * mode
        right, own = shared[RATE + mode], by_kernel[start + 2 + mode]
        other = by_kernel[start + 3 - mode]
        by_logit = by_kernel[start + 1] * (1 - p_lost) - (own + other) * p_lost
        out[LOST_BASE] += by_logit
        out[LOST_DIFFERENCE] += sign * by_logit
        out[RATE + mode] += own / right - other / (1 - right)


@compiled
def by_pull_inputs(predictor: Any, n_pull: int) -> Any:
    """The kernel's ``(6, pull)`` inputs from the predictors ``(8, pull)``."""
    out = np.empty((N_BY_PULL, n_pull))
    for i in range(n_pull):
        gauge_variance = exp(2 * predictor[LOG_GAUGE, i])
        for mode in range(2):
            out[mode, i] = predictor[mode, i]
            scatter = exp(2 * predictor[LOG_SCATTER + mode, i])
            out[VARIANCE + mode, i] = scatter + gauge_variance
            out[VARIANCE + 2 + mode, i] = predictor[LOGITS + mode, i]
    return out


@compiled
def predictor_gradient(predictor: Any, jacobian: Any, has_set: Any) -> tuple[float, Any]:
    """Log chance of what set, and derivatives by each predictor ``(8, pull)``."""
    n_pull = has_set.size
    out = np.empty((N_PREDICTOR, n_pull))
    total = 0.0
    for i in range(n_pull):
        by_variance = 0.0
        for mode in range(2):
            out[mode, i] = jacobian[mode, i]
            variance = exp(2 * predictor[LOG_SCATTER + mode, i])
            out[LOG_SCATTER + mode, i] = 2 * variance * jacobian[VARIANCE + mode, i]
            out[LOGITS + mode, i] = jacobian[VARIANCE + 2 + mode, i]
            by_variance += jacobian[VARIANCE + mode, i]
        out[LOG_GAUGE, i] = 2 * exp(2 * predictor[LOG_GAUGE, i]) * by_variance
        sign = 1.0 if has_set[i] > 0 else -1.0
        log_p = log_sigmoid(sign * predictor[LOGIT_SETS, i])
        total += log_p
        out[LOGIT_SETS, i] = -sign * expm1(log_p)
    return total, out


@compiled
def log_likelihood_with_gradient(
    vector: Any,
    row_start: Any,
    column: Any,
    value: Any,
    shared_index: Any,
    has_set: Any,
    bites: Any,
    seen: Any,
    first_bite: Any,
    nodes: Any,
    log_weight: Any,
) -> tuple[float, Any]:
    """Log-likelihood of a campaign and its gradient by the parameter vector.

    `vector` is in the order of :data:`model.outcomes.design.VECTOR`, with the
    gauge's scatter on the log scale; the rest is the data of
    :func:`model.graph.data.graph_data`.
    """
    n_pull = has_set.size
    predictor = multiply(row_start, column, value, vector).reshape((N_PREDICTOR, n_pull))
    shared = vector[shared_index]
    kernel_shared = np.empty(N_SHARED)
    for k in range(EVIDENCE):
        kernel_shared[k] = shared[k]
    fill_evidence(shared, kernel_shared)
    by_pull = by_pull_inputs(predictor, n_pull)
    log_bites, jacobian, by_kernel = bites_with_gradient(
        by_pull, kernel_shared, bites, seen, first_bite, nodes, log_weight
    )
    log_sets, by_predictor = predictor_gradient(predictor, jacobian, has_set)
    gradient = np.zeros(vector.size)
    add_transposed(row_start, column, value, by_predictor.ravel(), gradient)
    by_shared = np.zeros(shared.size)
    for k in range(EVIDENCE):
        by_shared[k] = by_kernel[k]
    evidence_gradient(shared, by_kernel, by_shared)
    for k in range(shared.size):
        gradient[shared_index[k]] += by_shared[k]
    return log_bites + log_sets, gradient
