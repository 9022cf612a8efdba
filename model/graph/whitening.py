"""What pulls tell of the variates, roughly: by which they are sampled in their own units.

See :mod:`model.graph.kernel_whitening`.
"""

from itertools import pairwise
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from model.outcomes.design import PREDICTORS, design, positions
from model.outcomes.shape import Shape
from model.outcomes.variates import VARIATES

Array = NDArray[np.float64]

INFORMATION: Final = {
    # One pull's rough Fisher information about each predictor: loads with a
    # scatter of 0.15 and a step's width, shared by the modes as they occur;
    # logits as p (1 - p), less where the mode is not seen.
    "log_load_upright": 0.6 / 0.25**2,
    "log_load_on_side": 0.4 / 0.25**2,
    "log_scatter_upright": 0.4,
    "log_scatter_on_side": 0.2,
    "logit_upright": 0.12,
    "logit_resets": 0.10,
    "logit_turns": 0.02,
    "logit_sets": 0.05,
    "log_buried": 1 / 0.5**2,
}


def whitening(
    arrays: xr.Dataset, prior: dict[str, NDArray[Any]], shape: Shape, kin: Array
) -> dict[str, NDArray[Any]]:
    """Variates that pulls tell of, in blocks that have no pull in common.

    Parameters
    ----------
    arrays : xarray.Dataset
        From :func:`model.arrays.campaign_arrays.campaign_arrays`.
    prior : dict
        From :func:`model.graph.prior_arrays.prior_arrays`.
    shape : Shape
        Slots of each dim.
    kin : (variate, variate)
        From :func:`model.graph.kinship.kinship`: what is whitened is mixed by it after.

    Returns
    -------
    dict of str to array
        ``told (told,)``: positions of those variates, block by block; ``block_start (block + 1,)``;
        ``information (told, widest block)`` at scales of 1, each row from its block's first column.
    """
    rows = _predictor_rows(arrays, shape) * (prior["prior_sd"] * _slope(prior, shape))
    rows = rows @ kin
    everywhere = np.ones(arrays.sizes["pull"])
    is_told = {"log_buried": _has_buried(arrays)}
    weight = np.concatenate(
        [INFORMATION.get(name, 0.0) * is_told.get(name, everywhere) for name in PREDICTORS]
    )
    information = rows.T @ (rows * weight[:, None])
    told = np.flatnonzero(np.diag(information) > 0)
    _, block = connected_components(csr_array(information[np.ix_(told, told)]), directed=False)
    order = np.argsort(block, kind="stable")
    start = np.concatenate([[0], np.cumsum(np.bincount(block))]).astype(np.int64)
    return {
        "told": told[order].astype(np.int64),
        "block_start": start,
        "information": _by_block(information[np.ix_(told[order], told[order])], start),
    }


def _by_block(information: Array, start: NDArray[np.int64]) -> Array:
    """The blocks on the diagonal one under another: other columns would only take up room."""
    widest = int(np.diff(start).max(initial=0))
    found = np.zeros((len(information), widest))
    for a, b in pairwise(start):
        found[a:b, : b - a] = information[a:b, a:b]
    return found


def _predictor_rows(arrays: xr.Dataset, shape: Shape) -> Array:
    """Dense predictor matrix by variate.

    All that is told of the gaps counts for their centre: an anchor that hardly ever lies on its side
    has a gap that nothing tells of, and taken for known it moved half as freely.
    """
    found = design(arrays, shape)
    n_row, where = found.row_start.size - 1, positions(shape)
    n_variate = sum(where[name].size for name in VARIATES)
    dense = np.zeros((n_row, sum(index.size for index in where.values())))
    row = np.repeat(np.arange(n_row), np.diff(found.row_start))
    dense[row, found.column] = found.value
    dense[:, where["mode_gap_centre"]] = dense[:, where["mode_gap"]].sum(axis=1)
    dense[:, where["mode_gap"]] = 0.0
    return dense[:, :n_variate]


def _has_buried(arrays: xr.Dataset) -> Array:
    """1 for each pull with some length of buried rode on record."""
    is_said = (arrays["buried_lower_m"] > 0) | (arrays["buried_upper_m"] < np.inf)
    pulls = arrays["pull_index"].to_numpy()[is_said.to_numpy()]
    return np.minimum(np.bincount(pulls, minlength=arrays.sizes["pull"]), 1).astype(float)


def _slope(prior: dict[str, NDArray[Any]], shape: Shape) -> Array:
    """Derivative of each parameter by its variate, where the prior puts it."""
    where = positions(shape)
    slope = np.ones(prior["prior_mean"].size)
    slope[where["mode_gap_centre"]] = np.exp(prior["prior_mean"][where["mode_gap_centre"]])
    slope[where["scope_slope"]] = np.exp(prior["prior_mean"][where["scope_slope"]])
    return slope
