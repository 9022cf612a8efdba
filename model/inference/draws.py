"""Sampled positions to named draws."""

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from model.arrays.campaign_arrays import coordinates
from model.base.errors import FitFailed
from model.base.names import DRAW, MODE, MODES, PARAMETER_DIMS, PULL
from model.graph.data import DataArrays
from model.graph.density import POSITION, density
from model.outcomes.likelihood import log_likelihood
from model.outcomes.shape import Shape
from model.outcomes.variates import name_parameters
from model.posterior.posterior import CHAIN, LOG_LIKELIHOOD
from model.records.campaign import Campaign

Array = NDArray[np.float64]


def named_draws(
    trace: xr.Dataset, data: DataArrays, shape: Shape, campaign: Campaign, arrays: xr.Dataset
) -> xr.Dataset:
    """Draws of every parameter and the log-likelihood of every pull.

    Parameters
    ----------
    trace : xarray.Dataset
        The position by ``chain`` and ``draw``.
    data : dict of str to array
        What the density was given.

    Raises
    ------
    FitFailed
        If a draw is not finite: an interrupted run is padded with NaN.
    """
    position = trace[POSITION].to_numpy()
    position = position.reshape(-1, position.shape[-1])
    if not np.isfinite(position).all():
        raise FitFailed("the sampler stopped before its last draw", hint="Fit again.")
    evaluate = density(data)
    vectors = np.stack([evaluate(point)[2] for point in position])
    n_variate, n_scale = data["prior_mean"].size, data["scale_sd"].size
    values, scales, rates = np.split(vectors, [n_variate, n_variate + n_scale], axis=1)
    found = name_parameters(values, scales, rates, shape)
    return _label(found, campaign, arrays, trace.sizes["chain"], trace.sizes["draw"])


def _label(
    found: dict[str, Array], campaign: Campaign, arrays: xr.Dataset, n_chain: int, n_draw: int
) -> xr.Dataset:
    names: dict[str, list[str]] = {**coordinates(campaign), MODE: list(MODES)}
    kept = {
        name: ((DRAW, *PARAMETER_DIMS[name]), np.ascontiguousarray(values))
        for name, values in found.items()
    }
    parameters = {name: values for name, (_, values) in kept.items()}
    kept[LOG_LIKELIHOOD] = ((DRAW, PULL), log_likelihood(parameters, arrays))
    chain = np.repeat(np.arange(n_chain), n_draw)
    return xr.Dataset(kept, coords={**names, PULL: arrays[PULL].to_numpy(), CHAIN: (DRAW, chain)})
