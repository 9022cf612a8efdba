"""The log posterior density of a campaign: one compiled function for campaigns of every shape."""

import hashlib
import inspect
from collections.abc import Callable
from functools import cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from model.graph import (
    kernel,
    kernel_campaign,
    kernel_evidence,
    kernel_position,
    kernel_tail,
    kernel_whitening,
    machine_code,
    normal_tail,
)
from model.graph.data import DataArrays
from model.graph.kernel_position import log_density_with_gradient
from model.graph.machine_code import compiled_and_kept
from model.outcomes.terms import quadrature

Array = NDArray[np.float64]

POSITION: Final = "position"
"""The point that is sampled; every parameter is a function of it."""

LIKELIHOOD_DATA: Final = ("row_start", "column", "value", "shared_index", "has_set", "bites",
                          "seen", "buried", "signs", "first_bite")  # fmt: skip
"""Data of the likelihood, in its order."""

DENSITY_DATA: Final = ("prior_mean", "prior_sd", "scale_sd", "rate_a", "rate_b", "variate_rows",
                       "kin", "kin_transposed", "told", "block_start", "information",
                       *LIKELIHOOD_DATA)  # fmt: skip
"""Data of the posterior density, in its order."""

KERNEL: Final = (
    kernel,
    kernel_campaign,
    kernel_evidence,
    kernel_position,
    kernel_tail,
    kernel_whitening,
    machine_code,
    normal_tail,
)
"""Modules whose source the machine code is made of."""


def position_size(data: DataArrays) -> int:
    """Number of coordinates that are sampled."""
    return data["prior_mean"].size + data["scale_sd"].size + data["rate_a"].size


Evaluated = tuple[float, Array, Array]
"""Log posterior density up to a constant, its gradient, and the parameter vector."""


def density(data: DataArrays) -> Callable[[Array], Evaluated]:
    """What a position is worth, and what it stands for.

    The first call of a program compiles, or loads what an earlier one kept.

    Parameters
    ----------
    data : dict of str to array
        From :func:`model.graph.data.density_data`.

    Returns
    -------
    callable
        Takes a position ``(coordinate,)``, see :mod:`model.graph.kernel_position`; returns the log
        density, its gradient, and the parameters in the order of
        :data:`model.outcomes.design.VECTOR`.
    """
    # In another order of memory an array is of another type, and all would be compiled once more.
    arrays = (np.ascontiguousarray(data[name]) for name in DENSITY_DATA)
    function, inputs = _function(), (*arrays, *quadrature())

    def evaluate(position: Array) -> Evaluated:
        found: Evaluated = function(position, *inputs)
        return found

    return evaluate


@cache
def _function() -> Callable[..., Any]:
    return compiled_and_kept(log_density_with_gradient, kernel_source_hash())


def kernel_source_hash() -> str:
    """Hash of the kernel's source: under it its machine code is kept."""
    text = "".join(inspect.getsource(module) for module in KERNEL)
    return hashlib.sha256(text.encode()).hexdigest()
