"""Log density of the priors at every draw."""

from collections.abc import Mapping
from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.stats import beta, norm

from model.base.priors import Priors
from model.outcomes.prior_arrays import named_priors, prior_arrays
from model.outcomes.shape import Shape
from model.outcomes.variates import FROM_PRIOR, LOGS, RATES, SCALES

Array = NDArray[np.float64]

ON_LOG_SCALE: Final = LOGS | {"gauge_scatter"}
"""Log-normal ones, held to their prior on the log scale, where it is normal."""


def log_prior(parameters: Mapping[str, Array], arrays: xr.Dataset, priors: Priors) -> Array:
    """Log density of everything that has a prior of its own, ``(draw,)``.

    Deviations that have a learnt scale are left out: how they spread is part of the model, not a
    belief that one might have made wider, and scaling it as well would move every answer
    (Kallioinen et al. 2024, on hierarchical models).

    Parameters
    ----------
    parameters : mapping of str to array
        ``(draw, *dims)`` for :data:`model.base.names.PARAMETER_DIMS`.
    arrays : xarray.Dataset
        What was fitted: classes of seabeds, calibrations.
    """
    n_draw = max(len(drawn) for drawn in parameters.values())
    shape = _shape(arrays)
    named = named_priors(arrays, priors, shape)
    total = np.zeros(n_draw)
    for name in FROM_PRIOR:
        mean, sd = named[name]
        drawn = parameters[name]
        values = np.log(drawn) if name in ON_LOG_SCALE else drawn
        is_free = sd > 0  # a boat without a calibration error has no bias to believe anything of
        density = np.asarray(norm.logpdf(values, mean, np.where(is_free, sd, 1.0)))
        total += np.where(is_free, density, 0.0).reshape(n_draw, -1).sum(axis=1)
    for name in RATES:
        a, b = named[name]
        density = np.asarray(beta.logpdf(parameters[name], a, b))
        total += density.reshape(n_draw, -1).sum(axis=1)
    scale_sd = prior_arrays(arrays, priors, shape)["scale_sd"]
    for name, sd in zip(SCALES, scale_sd, strict=True):
        total += -0.5 * (parameters[name] / sd) ** 2
    return total


def _shape(arrays: xr.Dataset) -> Shape:
    dims = ("anchor", "seabed", "site", "outing", "boat", "gauge", "treatment_level", "sign")
    return Shape(**{dim: arrays.coords[dim].size for dim in dims})
