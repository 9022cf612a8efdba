"""From the parameter vector to a campaign's log-likelihood and its gradient."""

from math import exp, expm1
from typing import Any, Final

import numpy as np

from model.graph.kernel import N_BY_PULL, N_SHARED, VARIANCE, bites_with_gradient
from model.graph.kernel_evidence import evidence_gradient, fill_evidence
from model.graph.kernel_tail import log_sigmoid
from model.graph.machine_code import compiled

LOG_SCATTER, LOG_GAUGE, LOGITS, LOGIT_SETS, LOG_BURIED = 2, 4, 5, 8, 9
"""Blocks of predictor rows; see :data:`model.outcomes.design.PREDICTORS`."""
N_PREDICTOR: Final = 10
N_LOGIT: Final = 3
"""Logits that the kernel takes: upright, setting again after a release, after a turn."""


@compiled
def multiply(row_start: Any, column: Any, value: Any, vector: Any) -> Any:
    """Sparse matrix times vector, a row of :data:`N_PREDICTOR` for each predictor."""
    n_pull = (row_start.size - 1) // N_PREDICTOR
    out = np.zeros((N_PREDICTOR, n_pull))
    for i in range(N_PREDICTOR * n_pull):
        total = 0.0
        for k in range(row_start[i], row_start[i + 1]):
            total += value[k] * vector[column[k]]
        out[i // n_pull, i % n_pull] = total
    return out


@compiled
def picked(vector: Any, index: Any) -> Any:
    """Elements of a vector."""
    out = np.empty(index.size)
    for i in range(index.size):
        out[i] = vector[index[i]]
    return out


@compiled
def pull_of_each(first_bite: Any, n_bite: int) -> Any:
    """Position of each bite's pull."""
    out = np.empty(n_bite, dtype=np.int64)
    for i in range(first_bite.size - 1):
        for j in range(first_bite[i], first_bite[i + 1]):
            out[j] = i
    return out


@compiled
def add_transposed(row_start: Any, column: Any, value: Any, weight: Any, out: Any) -> None:
    """Add the transposed sparse matrix times `weight` to `out`."""
    n_pull = weight.shape[1]
    for i in range(N_PREDICTOR * n_pull):
        by_row = weight[i // n_pull, i % n_pull]
        for k in range(row_start[i], row_start[i + 1]):
            out[column[k]] += value[k] * by_row


@compiled
def by_pull_inputs(predictor: Any, n_pull: int) -> Any:
    """The kernel's ``(7, pull)`` inputs from the predictors ``(10, pull)``."""
    out = np.empty((N_BY_PULL, n_pull))
    for i in range(n_pull):
        gauge_variance = exp(2 * predictor[LOG_GAUGE, i])
        for mode in range(2):
            out[mode, i] = predictor[mode, i]
            scatter = exp(2 * predictor[LOG_SCATTER + mode, i])
            out[VARIANCE + mode, i] = scatter + gauge_variance
        for k in range(N_LOGIT):
            out[VARIANCE + 2 + k, i] = predictor[LOGITS + k, i]
    return out


@compiled
def predictor_gradient(
    predictor: Any, jacobian: Any, by_buried: Any, has_set: Any
) -> tuple[float, Any]:
    """Log chance of what set, and derivatives by each predictor ``(10, pull)``."""
    n_pull = has_set.size
    out = np.empty((N_PREDICTOR, n_pull))
    total = 0.0
    for i in range(n_pull):
        by_variance = 0.0
        for mode in range(2):
            out[mode, i] = jacobian[mode, i]
            variance = exp(2 * predictor[LOG_SCATTER + mode, i])
            out[LOG_SCATTER + mode, i] = 2 * variance * jacobian[VARIANCE + mode, i]
            by_variance += jacobian[VARIANCE + mode, i]
        for k in range(N_LOGIT):
            out[LOGITS + k, i] = jacobian[VARIANCE + 2 + k, i]
        out[LOG_BURIED, i] = by_buried[i]
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
    buried: Any,
    signs: Any,
    first_bite: Any,
    nodes: Any,
    log_weight: Any,
) -> tuple[float, Any]:
    """Log-likelihood of a campaign and its gradient by the parameter vector.

    `vector` is in the order of :data:`model.outcomes.design.VECTOR`, with the
    gauge's scatter on the log scale; the rest is the data of
    :func:`model.graph.data.density_data`.
    """
    n_pull = has_set.size
    # Loops in the place of array functions: of those, the difference and the repetition alone
    # took a quarter of the time to compile.
    predictor, shared = multiply(row_start, column, value, vector), picked(vector, shared_index)
    pull_index = pull_of_each(first_bite, bites.shape[1])
    evidence, parts = fill_evidence(shared, predictor[LOG_BURIED], pull_index, seen, buried, signs)
    by_pull = by_pull_inputs(predictor, n_pull)
    log_bites, jacobian, by_kernel, by_evidence = bites_with_gradient(
        by_pull, shared, bites, evidence, first_bite, nodes, log_weight
    )
    by_shared = np.zeros(shared.size)
    for k in range(N_SHARED):
        by_shared[k] = by_kernel[k]
    by_buried = evidence_gradient(
        shared, pull_index, n_pull, seen, signs, parts, by_evidence, by_shared
    )
    log_sets, by_predictor = predictor_gradient(predictor, jacobian, by_buried, has_set)
    gradient = np.zeros(vector.size)
    add_transposed(row_start, column, value, by_predictor, gradient)
    for k in range(shared.size):
        gradient[shared_index[k]] += by_shared[k]
    return log_bites + log_sets, gradient
