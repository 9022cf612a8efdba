"""What the density takes as data: pulls, priors, and how the standard normals are whitened.

Another campaign and other priors are other data: nothing is compiled for them.
"""

from dataclasses import asdict
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from model.base.priors import Priors
from model.graph.kernel_position import NO_CENTRE
from model.graph.whitening import whitening
from model.outcomes.design import design
from model.outcomes.kinship import kinship
from model.outcomes.likelihood import NO_SPOILT_LOG
from model.outcomes.prior_arrays import prior_arrays
from model.outcomes.shape import Shape
from model.outcomes.variates import centre_positions, is_log, scale_positions

DataArrays = dict[str, NDArray[Any]]


def density_data(arrays: xr.Dataset, priors: Priors, shape: Shape) -> DataArrays:
    """Everything that the density takes, by name."""
    prior = prior_arrays(arrays, priors, shape)
    kin = kinship(arrays, shape, priors.kin_correlation)
    is_linked = not np.array_equal(kin, np.eye(len(kin)))
    links = kin if is_linked else np.empty((0, 0))  # nobody is: nothing to multiply by
    return {
        **asdict(design(arrays, shape)),
        "has_set": arrays["has_set"].to_numpy(),
        **_bite_arrays(arrays),
        **prior,
        "variate_rows": _variate_rows(shape),
        "kin": links,
        "kin_transposed": np.ascontiguousarray(links.T),
        **whitening(arrays, prior, shape, kin),
    }


def _variate_rows(shape: Shape) -> NDArray[np.int64]:
    """What the kernel knows of each variate, ``(3, variate)``."""
    centres = [NO_CENTRE if centre is None else centre for centre in centre_positions(shape)]
    return np.array([scale_positions(shape), centres, is_log(shape)], dtype=np.int64)


def _bite_arrays(arrays: xr.Dataset) -> DataArrays:
    with np.errstate(divide="ignore"):  # an open end is an infinite log
        log_lower, log_upper, log_spoilt, *buried = (
            np.log(arrays[name].to_numpy())
            for name in ("lower_kn", "upper_kn", "spoilt_share", "buried_lower_m", "buried_upper_m")
        )
    others = ("lower_log_hold", "upper_log_hold", "is_later", "is_reset", "is_unseen", "is_turn")
    lower_hold, upper_hold, *flags = (arrays[name].to_numpy() for name in others)
    rows = [log_lower, log_upper, lower_hold, upper_hold]
    bites = np.stack([*rows, np.maximum(log_spoilt, NO_SPOILT_LOG), *flags])
    counts = np.bincount(arrays["pull_index"].to_numpy(), minlength=arrays.sizes["pull"])
    return {
        "bites": bites,
        "seen": arrays["seen"].to_numpy(),
        "buried": np.stack(buried),
        "signs": arrays["signs"].to_numpy(),
        "first_bite": np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
    }
