"""Where chains start: near the middle of the priors, each at a point of its own.

A start far out can call upright what was seen to lie on its side. A chain that
begins there climbs into a posterior with its modes' names exchanged: on the
demo 36 units of log density below the rest, and never left again. From starts
spread evenly over a unit to either side 2 of 64 chains ended there, which is
one fit of four chains in eight; from these, with rates at their means, none of 40.
"""

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.graph.data import DataArrays

STANDARD_SPREAD: Final = 0.2
"""Standard deviation of the starts of what is sampled in the place of standard normals; those that
pulls tell of start nearer together than that, in their own units."""

SCALE_START: Final = 0.67
"""Of the learnt scales, in their priors' sd: the median of a half-normal.

At 0, the middle of a scale with a sign, what it multiplies has no gradient,
and the sampler refuses to start.
"""

RATE_SPREAD: Final = 1.0
"""Rates start so far to either side of their prior means, on the logit scale.

At the mean itself a rate that no pull informs has no gradient either.
"""


def starting_point(data: DataArrays) -> Callable[[int], NDArray[np.float64]]:
    """Where a chain starts, by its seed.

    Parameters
    ----------
    data : dict of str to array
        From :func:`model.graph.data.density_data`.
    """
    middle = np.log(data["rate_a"] / data["rate_b"])

    def start(seed: int) -> NDArray[np.float64]:
        rng = np.random.default_rng(seed)
        return np.concatenate(
            [
                STANDARD_SPREAD * rng.standard_normal(data["prior_mean"].size),
                np.full(data["scale_sd"].size, SCALE_START),
                middle + rng.uniform(-RATE_SPREAD, RATE_SPREAD, middle.size),
            ]
        )

    return start
