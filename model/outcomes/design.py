"""The linear predictors as one sparse matrix on the parameter vector.

The predictors of :mod:`model.outcomes.formula` are linear in the parameters
they name, so applying the formula to unit vectors gives the matrix; the
sampler multiplies by it instead of tracing the formula again.
"""

from dataclasses import dataclass
from math import prod
from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.sparse import csr_array

from model.base.names import ON_SIDE, UPRIGHT
from model.outcomes.formula import (
    Parameters,
    log_buried,
    log_load_on_side,
    log_load_upright,
    log_scatter,
    logit_resets,
    logit_sets,
    logit_turns,
    logit_upright,
)
from model.outcomes.likelihood import pull_rows
from model.outcomes.shape import Shape
from model.outcomes.variates import RATES, SCALES, VARIATES

PREDICTORS: Final = (
    "log_load_upright",
    "log_load_on_side",
    "log_scatter_upright",
    "log_scatter_on_side",
    "log_gauge",
    "logit_upright",
    "logit_resets",
    "logit_turns",
    "logit_sets",
    "log_buried",
)
"""Blocks of rows of the matrix; loads include the boat's bias."""

VECTOR: Final = (*VARIATES, *SCALES, *RATES)
"""Order of the parameter vector."""

SHARED: Final = (
    "pull_load_scale",
    "later_bite_load",
    "later_bite_upright",
    "hold_exponent",
    "spoilt_share",
    "not_seen_base",
    "not_seen_difference",
    "seen_upright_rate",
    "seen_on_side_rate",
    "buried_gap",
    "buried_scatter",
    "sign_upright_rate",
    "sign_on_side_rate",
)
"""Parameters that every bite shares, outside the linear predictors; the last two by sign."""


@dataclass(frozen=True, kw_only=True)
class Design:
    """Compressed sparse rows of the predictors, and where the shared parameters stand."""

    row_start: NDArray[np.int64]
    column: NDArray[np.int64]
    value: NDArray[np.float64]
    shared_index: NDArray[np.int64]


def positions(shape: Shape) -> dict[str, NDArray[np.int64]]:
    """Where each parameter stands in the parameter vector, shaped as it."""
    found, start = {}, 0
    for name in VECTOR:
        sizes = shape.sizes(name)
        found[name] = np.arange(start, start + prod(sizes)).reshape(sizes)
        start += prod(sizes)
    return found


def predictors(parameters: Parameters, arrays: xr.Dataset) -> list[NDArray[np.float64]]:
    """Each of ``PREDICTORS`` as ``(draw, pull)``; `log_gauge` takes the gauge on log scale."""
    rows = pull_rows(arrays)
    bias = parameters["boat_bias"][..., arrays["boat_index"].to_numpy()]
    return [
        log_load_upright(parameters, rows) + bias,
        log_load_on_side(parameters, rows) + bias,
        log_scatter(parameters, rows, UPRIGHT),
        log_scatter(parameters, rows, ON_SIDE),
        parameters["gauge_scatter"][..., arrays["gauge_index"].to_numpy()],
        logit_upright(parameters, rows),
        logit_resets(parameters, rows),
        logit_turns(parameters, rows),
        logit_sets(parameters, rows),
        log_buried(parameters, rows),
    ]


def design(arrays: xr.Dataset, shape: Shape) -> Design:
    """Matrix of the predictors of every pull, rows in the order of ``PREDICTORS``."""
    where = positions(shape)
    n_vector = sum(index.size for index in where.values())
    unit = np.eye(n_vector)
    by_name = {name: unit[:, index] for name, index in where.items()}
    dense = np.concatenate(predictors(by_name, arrays), axis=1).T
    matrix = csr_array(dense)
    return Design(
        row_start=matrix.indptr.astype(np.int64),
        column=matrix.indices.astype(np.int64),
        value=matrix.data.astype(np.float64),
        shared_index=np.concatenate([where[name].ravel() for name in SHARED]).astype(np.int64),
    )
