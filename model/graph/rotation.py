"""A rotation of the standard normals that lines the posterior up with its axes.

Standard normals may be rotated freely without changing their prior. Anchors,
seabeds and the base share one sum that the pulls fix tightly, and a sampler
that scales each axis on its own crawls along such a ridge (85 effective draws
of 4,000 on a demo-sized campaign). The rotation to the eigenvectors of a rough
information matrix straightens it; a poor guess costs speed, never correctness.
"""

from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from model.outcomes.design import PREDICTORS, design, positions
from model.outcomes.shape import Shape
from model.outcomes.variates import VARIATES, scale_positions

Array = NDArray[np.float64]

TYPICAL_SCALE: Final = 0.6745
"""Median of a half-normal with unit scale: where a learnt scale is taken to be."""

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


def rotation(arrays: xr.Dataset, prior: dict[str, NDArray[Any]], shape: Shape, kin: Array) -> Array:
    """Orthogonal matrix ``(variate, standard)``.

    Parameters
    ----------
    arrays : xarray.Dataset
        From :func:`model.arrays.campaign_arrays.campaign_arrays`.
    prior : dict
        From :func:`model.graph.prior_arrays.prior_arrays`.
    shape : Shape
        Slots of each dim.
    kin : (variate, variate)
        From :func:`model.graph.kinship.kinship`: the rotation comes before it.
    """
    scale = np.append(prior["scale_sd"] * TYPICAL_SCALE, 1.0)[scale_positions(shape)]
    rows = _predictor_rows(arrays, shape) * (prior["prior_sd"] * scale * _slope(prior, shape))
    rows = rows @ kin
    everywhere = np.ones(arrays.sizes["pull"])
    is_told = {"log_buried": _has_buried(arrays)}
    weight = np.concatenate(
        [INFORMATION.get(name, 0.0) * is_told.get(name, everywhere) for name in PREDICTORS]
    )
    information = rows.T @ (rows * weight[:, None])
    _, vectors = np.linalg.eigh(information)
    return np.ascontiguousarray(vectors)


def _predictor_rows(arrays: xr.Dataset, shape: Shape) -> Array:
    """Dense predictor matrix by variate; a gap counts for its centre and its deviation."""
    found = design(arrays, shape)
    n_row, where = found.row_start.size - 1, positions(shape)
    n_variate = sum(where[name].size for name in VARIATES)
    dense = np.zeros((n_row, sum(index.size for index in where.values())))
    row = np.repeat(np.arange(n_row), np.diff(found.row_start))
    dense[row, found.column] = found.value
    dense[:, where["mode_gap_centre"]] = dense[:, where["mode_gap"]].sum(axis=1)
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
    gap = np.exp(prior["prior_mean"][where["mode_gap_centre"]])
    slope[where["mode_gap"]] = slope[where["mode_gap_centre"]] = gap
    slope[where["scope_slope"]] = np.exp(prior["prior_mean"][where["scope_slope"]])
    return slope
