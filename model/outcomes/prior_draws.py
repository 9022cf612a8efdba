"""Draws of every parameter from the priors: what is believed of a campaign before any pull."""

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from model.base.priors import Priors
from model.outcomes.kinship import kinship
from model.outcomes.prior_arrays import prior_arrays
from model.outcomes.shape import Shape
from model.outcomes.variates import (
    FROM_SCALE,
    SCALES,
    name_parameters,
    on_predictor_scale,
    scale_positions,
)

Array = NDArray[np.float64]


def prior_draws(
    arrays: xr.Dataset, priors: Priors, shape: Shape, n_draw: int, rng: np.random.Generator
) -> dict[str, Array]:
    """Independent draws from the priors.

    Parameters
    ----------
    arrays : xarray.Dataset
        Of the campaign: the seabeds' classes, the boats' calibration errors, the gauges'
        repeatability, and which specimens are kin.
    shape : Shape
        Size of each dim.
    n_draw : int
        How many, 1 or more.

    Returns
    -------
    dict of str to array
        ``(draw, *dims)`` for each of :data:`model.base.names.PARAMETER_DIMS`.
    """
    prior = prior_arrays(arrays, priors, shape)
    standard = rng.standard_normal((n_draw, prior["prior_mean"].size))
    standard = standard @ kinship(arrays, shape, priors.kin_correlation).T
    scales = np.abs(rng.standard_normal((n_draw, len(SCALES)))) * prior["scale_sd"]
    one = np.ones((n_draw, 1))
    of_each = np.concatenate([scales[:, : len(FROM_SCALE)], one], axis=1)
    position = np.minimum(np.array(scale_positions(shape)), len(FROM_SCALE))
    values = prior["prior_mean"] + prior["prior_sd"] * standard * of_each[:, position]
    rates = rng.beta(prior["rate_a"], prior["rate_b"], (n_draw, prior["rate_a"].size))
    return name_parameters(on_predictor_scale(values, shape), scales, rates, shape)
