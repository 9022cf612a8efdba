"""Where chains start: near the middle of the priors, each at a point of its own.

A start far out can call upright what was seen to lie on its side. A chain that
begins there climbs into a posterior with its modes' names exchanged: on the
demo 36 units of log density below the rest, and never left again. From starts
spread evenly over a unit to either side 2 of 64 chains ended there, which is
one fit of four chains in eight; from these, with rates at their means, none of 40.
"""

from typing import Any, Final

import numpy as np
import pymc as pm

STANDARD_SPREAD: Final = 0.2
"""Standard deviation of the starts of standard normals, of their prior's own."""

SCALE_START: Final = 0.67
"""Of the learnt scales, in their priors' sd: the median of a half-normal.

At 0, the middle of a scale with a sign, what it multiplies has no gradient,
and the sampler refuses to start.
"""


def starting_points(graph: pm.Model) -> dict[str, Any]:
    """Start of each random vector by its name; a random one is drawn anew for each chain.

    Parameters
    ----------
    graph : pymc.Model
        From :func:`model.graph.graph.build_graph`. Its rates start about their
        prior means, by the sampler's own jitter: at the mean itself a rate that
        no pull informs has no gradient either.
    """
    sizes = {name: value.shape for name, value in graph.initial_point().items()}
    return {
        "standard": STANDARD_SPREAD * pm.Normal.dist(shape=sizes["standard"]),
        "scales": np.full(sizes["scales"], SCALE_START),
    }
