"""The priors as vectors in the order of the sampled variates."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from model.base.names import PARAMETER_DIMS, SIGN
from model.base.priors import Normal, Priors
from model.outcomes.shape import Shape
from model.outcomes.variates import FROM_SCALE, RATES, SCALES, VARIATES

Array = NDArray[np.float64]


def prior_arrays(arrays: xr.Dataset, priors: Priors, shape: Shape) -> dict[str, NDArray[Any]]:
    """``prior_mean``, ``prior_sd (variate)``, ``scale_sd (scale)`` and the rates' a and b."""
    named = named_priors(arrays, priors, shape)
    means, sds = zip(*(named[name] for name in VARIATES), strict=True)
    beta = [named[name] for name in RATES]
    return {
        "prior_mean": _joined(means),
        "prior_sd": _joined(sds),
        "scale_sd": np.array([_scale_sd(name, priors) for name in SCALES]),
        "rate_a": _joined([a for a, _ in beta]),
        "rate_b": _joined([b for _, b in beta]),
    }


def named_priors(
    arrays: xr.Dataset, priors: Priors, shape: Shape
) -> dict[str, tuple[Array, Array]]:
    """Mean and sd of every variate, a and b of every rate, shaped as the parameter is.

    On the scale on which a variate is normal; of one with a scale of its own in units of that.
    """
    found = {}
    for name in (*VARIATES, *RATES):
        pair = (_rate if name in RATES else _mean_sd)(name, arrays, priors, shape)
        first, second = (
            np.broadcast_to(np.asarray(part, dtype=float), shape.sizes(name)) for part in pair
        )
        found[name] = (first, second)
    return found


def _joined(parts: Sequence[Array]) -> Array:
    return np.concatenate([part.ravel() for part in parts])


def _rate(
    name: str, arrays: xr.Dataset, priors: Priors, shape: Shape
) -> tuple[Array | float, Array | float]:
    """The two shape numbers of a rate's beta."""
    del shape
    if name == "spoilt_share":
        return priors.spoilt_share.a, priors.spoilt_share.b
    if SIGN not in PARAMETER_DIMS[name]:
        return priors.seen_rate.a, priors.seen_rate.b
    yes = {True: priors.sign_pointed_at, False: priors.sign_pointed_away}
    is_own = arrays["sign_points_upright"].to_numpy().astype(bool)
    by_sign = [yes[bool(own) is (name == "sign_upright_rate")] for own in is_own]
    return np.array([beta.a for beta in by_sign]), np.array([beta.b for beta in by_sign])


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
