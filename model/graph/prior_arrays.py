"""The priors as vectors in the order of the sampled variates."""

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from model.base.priors import Beta, Normal, Priors
from model.outcomes.shape import Shape
from model.outcomes.variates import FROM_SCALE, SCALES, VARIATES

Array = NDArray[np.float64]


def prior_arrays(arrays: xr.Dataset, priors: Priors, shape: Shape) -> dict[str, NDArray[Any]]:
    """``prior_mean``, ``prior_sd (variate)``, ``scale_sd (scale)`` and the rates' a and b."""
    means, sds = [], []
    for name in VARIATES:
        mean, sd = _mean_sd(name, arrays, priors, shape)
        means.append(np.broadcast_to(mean, shape.sizes(name)).ravel())
        sds.append(np.broadcast_to(sd, shape.sizes(name)).ravel())
    beta = _rates(arrays, priors)
    return {
        "prior_mean": np.concatenate(means).astype(float),
        "prior_sd": np.concatenate(sds).astype(float),
        "scale_sd": np.array([_scale_sd(name, priors) for name in SCALES]),
        "rate_a": np.array([prior.a for prior in beta]),
        "rate_b": np.array([prior.b for prior in beta]),
    }


def _rates(arrays: xr.Dataset, priors: Priors) -> list[Beta]:
    """Prior of each rate, in the order of ``RATES``."""
    yes = {True: priors.sign_pointed_at, False: priors.sign_pointed_away}
    points_upright = [bool(value) for value in arrays["sign_points_upright"].to_numpy()]
    return [
        priors.spoilt_share,
        priors.seen_rate,
        priors.seen_rate,
        *(yes[points] for points in points_upright),
        *(yes[not points] for points in points_upright),
    ]


def _scale_sd(name: str, priors: Priors) -> float:
    value: float = getattr(priors, "hold_exponent_scale" if name == "hold_exponent" else name)
    return value


def _mean_sd(
    name: str, arrays: xr.Dataset, priors: Priors, shape: Shape
) -> tuple[Array | float, Array | float]:
    if name == "site_load":
        # Pulls that name no site share no ground: the last, unnamed one has no effect of its own.
        return 0.0, np.append(np.ones(shape.site - 1), 0.0)
    if name in FROM_SCALE:
        return 0.0, 1.0
    if name == "mass_exponent":
        exponents = [priors.mass_exponent[str(kind)] for kind in arrays["seabed_class"].to_numpy()]
        return np.array([one.mean for one in exponents]), np.array([one.sd for one in exponents])
    if name == "gauge_scatter":
        known = arrays["repeatability"].to_numpy()
        is_known = np.isfinite(known)
        mean = np.where(is_known, np.log(np.where(is_known, known, 1)), priors.gauge_scatter.mean)
        sd = np.where(is_known, priors.gauge_scatter_known_sd, priors.gauge_scatter.sd)
        return mean, sd
    if name == "boat_bias":
        return 0.0, arrays["calibration_error"].to_numpy()
    prior: Normal = getattr(priors, name)
    return prior.mean, prior.sd
