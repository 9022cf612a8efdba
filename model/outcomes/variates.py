"""Parameters from the variates that are sampled.

Sampled are three vectors: ``standard`` (normals that become every normal
parameter), ``scales`` and ``rates``. Hierarchical effects are non-centred: a
scale times a standard normal, which keeps the sampler out of the funnel of a
scale near 0; centring even the well-informed ones brought divergences.
"""

from math import prod
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.names import PARAMETER_DIMS
from model.outcomes.shape import Shape

Array = NDArray[np.float64]

FROM_PRIOR: Final = (
    "load_base",
    "mass_exponent",
    "seabed_load",
    "scope_slope",
    "treatment_load",
    "treatment_upright_load",
    "later_bite_load",
    "mode_gap_centre",
    "log_scatter",
    "upright_base",
    "treatment_upright",
    "later_bite_upright",
    "sets_base",
    "seabed_sets",
    "treatment_sets",
    "resets_base",
    "turns_base",
    "buried_base",
    "treatment_buried",
    "buried_gap",
    "buried_scatter",
    "gauge_scatter",
    "boat_bias",
    "not_seen_base",
    "not_seen_difference",
)
"""Normal with a mean and sd that are given (some on the log scale)."""

FROM_SCALE: Final = (
    "anchor_load",
    "anchor_seabed_load",
    "site_load",
    "treatment_anchor_load",
    "treatment_seabed_load",
    "day_load",
    "mode_gap",
    "anchor_scatter",
    "anchor_upright",
    "anchor_seabed_upright",
    "treatment_anchor_upright",
    "day_upright",
    "anchor_sets",
    "anchor_resets",
    "anchor_turns",
    "anchor_buried",
    "treatment_anchor_buried",
)
"""Normal around 0 with a learnt scale named ``<name>_scale``."""

VARIATES: Final = (*FROM_PRIOR, *FROM_SCALE)
SCALES: Final = (*(f"{name}_scale" for name in FROM_SCALE), "pull_load_scale", "hold_exponent")
RATES: Final = (
    "spoilt_share",
    "seen_upright_rate",
    "seen_on_side_rate",
    "sign_upright_rate",
    "sign_on_side_rate",
)
LOGS: Final = frozenset({"scope_slope", "buried_gap", "buried_scatter"})
"""Sampled on the log scale, and used as they are."""


def sizes(shape: Shape) -> list[int]:
    """Number of elements of each of ``VARIATES``."""
    return [prod(shape.sizes(name)) for name in VARIATES]


def rate_sizes(shape: Shape) -> list[int]:
    """Number of elements of each of ``RATES``."""
    return [prod(shape.sizes(name)) for name in RATES]


def scale_positions(shape: Shape) -> list[int]:
    """For each variate the position of its scale in ``SCALES``; their number if it has none."""
    no_scale = len(SCALES)
    position = {name: i for i, name in enumerate(FROM_SCALE)}
    return [position.get(name, no_scale) for name in names_of_each(shape)]


def names_of_each(shape: Shape) -> list[str]:
    """Name of every variate, element by element."""
    return [name for name, size in zip(VARIATES, sizes(shape), strict=True) for _ in range(size)]


def centre_positions(shape: Shape) -> list[int | None]:
    """For each variate the position of what is added to it: a gap's centre; None for others."""
    names = names_of_each(shape)
    centre = names.index("mode_gap_centre")
    return [centre if name == "mode_gap" else None for name in names]


def is_log(shape: Shape) -> list[bool]:
    """For each variate whether it is exponentiated."""
    return [name == "mode_gap" or name in LOGS for name in names_of_each(shape)]


def on_predictor_scale(values: Array, shape: Shape) -> Array:
    """Values as the likelihood takes them: gaps and ``LOGS`` exponentiated.

    Parameters
    ----------
    values : (..., variate)
        Each normal parameter's value, its scale applied.
    """
    found = values.copy()
    for i, centre in enumerate(centre_positions(shape)):
        if centre is not None:
            found[..., i] += values[..., centre]
    exponentiated = np.array(is_log(shape))
    found[..., exponentiated] = np.exp(found[..., exponentiated])
    return found


def name_parameters(values: Array, scales: Array, rates: Array, shape: Shape) -> dict[str, Array]:
    """Name and shape every parameter of draws.

    Parameters
    ----------
    values : (draw, variate)
        From :func:`on_predictor_scale`.
    scales : (draw, scale)
        In the order of ``SCALES``.
    rates : (draw, rate)
        In the order of ``RATES``, those by sign one after another.

    Returns
    -------
    dict of str to array
        One ``(draw, *dims)`` array for each name of ``PARAMETER_DIMS``.
    """
    found: dict[str, Array] = {name: scales[..., i] for i, name in enumerate(SCALES)}
    for names, each, whole in (
        (VARIATES, sizes(shape), values),
        (RATES, rate_sizes(shape), rates),
    ):
        parts = np.split(whole, np.cumsum(each)[:-1], axis=-1)
        for name, part in zip(names, parts, strict=True):
            found[name] = part.reshape((*whole.shape[:-1], *shape.sizes(name)))
    found["gauge_scatter"] = np.exp(found["gauge_scatter"])
    return {name: found[name] for name in PARAMETER_DIMS}
