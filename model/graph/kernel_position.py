"""From the point that is sampled to the parameter vector, its log prior, and the way back.

A position holds, one after another: standard normals, those that pulls tell of in other units
(:mod:`model.graph.kernel_whitening`), scales in their priors' sd with a sign, and rates on the
logit scale. A half-normal scale is sampled as a normal with a sign: where it
multiplies a standard normal the sign makes no difference, and a scale near 0 is then an ordinary
point, not the end of a long tail on the log scale.
"""

from math import exp
from typing import Any, Final

import numpy as np

from model.graph.kernel_campaign import log_likelihood_with_gradient, picked
from model.graph.kernel_tail import log_sigmoid
from model.graph.kernel_whitening import (
    fill_factor,
    fill_inverse,
    log_scale_gradient,
    times_upper,
    times_upper_transposed,
)
from model.graph.machine_code import compiled

SCALE, CENTRE, IS_LOG = range(3)
"""Rows of ``variate_rows (3, variate)``: which scale a variate has, the number of scales where it
has none; which variate is added before it is exponentiated, -1 for none; whether it is."""
NO_CENTRE: Final = -1
LEAST_SCALE: Final = 1e-9
"""Nearer to 0 a derivative by a scale's log, divided by it, is rounding error only."""


@compiled
def mix(matrix: Any, vector: Any) -> Any:
    """The transposed matrix times a vector, row by row; the vector itself without a matrix."""
    if matrix.size == 0:
        return vector.copy()
    out = np.zeros(matrix.shape[1])
    for k in range(matrix.shape[0]):
        for i in range(out.size):
            out[i] += matrix[k, i] * vector[k]
    return out


@compiled
def scale_at(signed: Any, index: int) -> float:
    """A variate's scale with its sign; 1 where it has none."""
    return signed[index] if index < signed.size else 1.0


@compiled
def values_of(mixed: Any, signed: Any, rows: Any, mean: Any, sd: Any) -> Any:
    """Each normal parameter's value: prior mean, plus its sd times scale times standard normal."""
    out = np.empty(mixed.size)
    for i in range(out.size):
        out[i] = mean[i] + sd[i] * scale_at(signed, rows[SCALE, i]) * mixed[i]
    return out


@compiled
def values_gradient(
    by_value: Any, mixed: Any, signed: Any, rows: Any, sd: Any, kin: Any
) -> tuple[Any, Any]:
    """Derivatives by the standard normals and by the signed scales."""
    by_mixed, by_signed = np.empty(mixed.size), np.zeros(signed.size)
    for i in range(mixed.size):
        index = rows[SCALE, i]
        by_mixed[i] = by_value[i] * sd[i] * scale_at(signed, index)
        if index < signed.size:
            by_signed[index] += by_value[i] * sd[i] * mixed[i]
    return mix(kin, by_mixed), by_signed


@compiled
def fill_predictor_scale(values: Any, rows: Any, out: Any) -> None:
    """Values as the likelihood takes them; see :mod:`model.outcomes.variates`."""
    for i in range(values.size):
        centre = rows[CENTRE, i]
        log_value = values[i] + (values[centre] if centre >= 0 else 0.0)
        out[i] = exp(log_value) if rows[IS_LOG, i] > 0 else log_value


@compiled
def predictor_scale_gradient(gradient: Any, vector: Any, rows: Any) -> Any:
    """Derivatives by the values, from those by the parameter vector."""
    n_variate = rows.shape[1]
    out = np.zeros(n_variate)
    for i in range(n_variate):
        by_value = gradient[i] * (vector[i] if rows[IS_LOG, i] > 0 else 1.0)
        out[i] += by_value
        if rows[CENTRE, i] >= 0:
            out[rows[CENTRE, i]] += by_value
    return out


@compiled
def unwhiten(
    z: Any, scale: Any, information: Any, block_start: Any, factor: Any, inverse: Any, out: Any
) -> float:
    """Fill the standard normals that pulls tell of; return the log density of the map."""
    log_map = 0.0
    for b in range(block_start.size - 1):
        start, stop = block_start[b], block_start[b + 1]
        log_map -= fill_factor(scale, information, start, stop, factor)
        fill_inverse(factor, start, stop, inverse)
        times_upper(inverse, start, stop, z, out)
    return log_map


@compiled
def whitened_gradient(z: Any, u: Any, by_u: Any, block_start: Any, inverse: Any) -> tuple[Any, Any]:
    """Derivatives by what is sampled, and by each log scale, from those by the normals."""
    by_z, by_log_scale = np.empty(z.size), np.empty(z.size)
    for b in range(block_start.size - 1):
        start, stop = block_start[b], block_start[b + 1]
        times_upper_transposed(inverse, start, stop, by_u, by_z)
        log_scale_gradient(inverse, start, stop, z, by_z, u, by_u, by_log_scale)
    return by_z, by_log_scale


@compiled
def log_density_with_gradient(
    position: Any, prior_mean: Any, prior_sd: Any, scale_sd: Any, rate_a: Any, rate_b: Any,
    variate_rows: Any, kin: Any, kin_transposed: Any, told: Any, block_start: Any,
    information: Any, row_start: Any, column: Any, value: Any, shared_index: Any, has_set: Any,
    bites: Any, seen: Any, buried: Any, signs: Any, first_bite: Any, nodes: Any, log_weight: Any,
) -> tuple[float, Any, Any]:  # fmt: skip
    """Log posterior density up to a constant, its gradient by the position, the parameter vector.

    The data are those of :func:`model.graph.data.density_data`.
    """
    n_variate, n_scale, n_rate = prior_mean.size, scale_sd.size, rate_a.size
    first_rate = n_variate + n_scale
    signed, scale = np.empty(n_scale), np.empty(told.size)
    for k in range(n_scale):
        signed[k] = position[n_variate + k] * scale_sd[k]
    for i in range(told.size):
        scale[i] = scale_at(signed, variate_rows[SCALE, told[i]])
    z, u, standard = picked(position, told), np.empty(told.size), position[:n_variate].copy()
    factor, inverse = np.empty(information.shape), np.empty(information.shape)
    log_prior = unwhiten(z, scale, information, block_start, factor, inverse, u)
    for i in range(told.size):
        standard[told[i]] = u[i]
    mixed = mix(kin_transposed, standard)
    values = values_of(mixed, signed, variate_rows, prior_mean, prior_sd)
    vector = np.empty(position.size)
    fill_predictor_scale(values, variate_rows, vector)
    for k in range(n_variate):
        log_prior -= 0.5 * standard[k] * standard[k]
    for k in range(n_scale):
        log_prior -= 0.5 * position[n_variate + k] * position[n_variate + k]
        vector[n_variate + k] = abs(signed[k])
    for k in range(n_rate):
        logit = position[first_rate + k]
        log_rate, log_rest = log_sigmoid(logit), log_sigmoid(-logit)
        vector[first_rate + k] = exp(log_rate)
        log_prior += rate_a[k] * log_rate + rate_b[k] * log_rest
    log_likelihood, by_vector = log_likelihood_with_gradient(
        vector, row_start, column, value, shared_index, has_set, bites, seen, buried, signs,
        first_bite, nodes, log_weight,
    )  # fmt: skip
    by_value = predictor_scale_gradient(by_vector, vector, variate_rows)
    by_standard, by_signed = values_gradient(by_value, mixed, signed, variate_rows, prior_sd, kin)
    gradient = np.empty(position.size)
    for k in range(n_variate):
        gradient[k] = by_standard[k] - standard[k]
    by_z, by_log_scale = whitened_gradient(z, u, picked(gradient, told), block_start, inverse)
    for i in range(told.size):
        gradient[told[i]] = by_z[i]
        index = variate_rows[SCALE, told[i]]
        if index < n_scale and abs(scale[i]) > LEAST_SCALE:
            by_signed[index] += by_log_scale[i] / scale[i]
    for k in range(n_scale):
        sign = 1.0 if signed[k] >= 0 else -1.0
        by_scale = by_signed[k] + sign * by_vector[n_variate + k]
        gradient[n_variate + k] = by_scale * scale_sd[k] - position[n_variate + k]
    for k in range(n_rate):
        rate = vector[first_rate + k]
        by_logit = by_vector[first_rate + k] * rate * (1 - rate)
        gradient[first_rate + k] = by_logit + rate_a[k] * (1 - rate) - rate_b[k] * rate
    return log_prior + log_likelihood, gradient, vector
