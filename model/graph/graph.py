"""The PyMC model of a campaign."""

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import pymc as pm
import pytensor.tensor as pt
from numpy.typing import NDArray

from model.graph.campaign_likelihood import campaign_log_likelihood
from model.graph.data import DataArrays
from model.outcomes.shape import Shape
from model.outcomes.terms import quadrature
from model.outcomes.variates import SCALES, on_predictor_scale, rate_sizes, scale_positions

SAMPLED: Final = ("standard", "scales", "rates")
"""The random vectors; every parameter is a function of them."""

LIKELIHOOD_DATA: Final = ("row_start", "column", "value", "shared_index", "has_set", "bites",
                          "seen", "buried", "signs", "first_bite")  # fmt: skip
"""Data variables of the likelihood, in its order."""


def build_graph(data: DataArrays, shape: Shape) -> pm.Model:
    """Model whose data can be swapped for any campaign of the same shape.

    Parameters
    ----------
    data : dict of str to array
        From :func:`model.graph.data.graph_data`: pulls and priors.
    shape : Shape
        Slots of each dim.

    Returns
    -------
    pymc.Model
        With the three random vectors ``SAMPLED`` and a potential.
    """
    with pm.Model() as graph:
        tensors = {name: pm.Data(f"data_{name}", values) for name, values in data.items()}
        vector = _draw_vector(tensors, shape)
        log_likelihood, _ = campaign_log_likelihood.make_node(
            vector, *(tensors[name] for name in LIKELIHOOD_DATA), *quadrature()
        ).outputs
        pm.Potential("log_likelihood", log_likelihood)
    return graph


def _draw_vector(data: dict[str, Any], shape: Shape) -> Any:
    """Declare the random vectors; return the parameter vector of the likelihood.

    A half-normal scale is sampled as a normal with a sign. Where it multiplies
    a standard normal the sign makes no difference, and a scale near 0 is then
    an ordinary point, not the end of a long tail on the log scale.
    """
    positions = np.array(scale_positions(shape), dtype=np.int64)
    signed = pm.Normal("scales", shape=len(SCALES)) * data["scale_sd"]
    n_rate = sum(rate_sizes(shape))
    rates = pm.Beta("rates", alpha=data["rate_a"], beta=data["rate_b"], shape=n_rate)
    values = draw_values(data, signed, positions)
    return pt.concatenate(
        [on_predictor_scale(values, shape, pt.exp, pt.switch), pt.abs(signed), rates]
    )


def draw_values(data: Mapping[str, Any], signed: Any, positions: NDArray[np.int64]) -> Any:
    """Declare the standard normals; return each normal parameter's value.

    Parameters
    ----------
    data : mapping
        ``prior_mean`` and ``prior_sd`` by variate, ``mixing (variate, standard)``: a
        rotation, then kinship.
    signed : (scale,)
        Learnt scales, with their signs.
    positions : (variate,) int
        Which scale a variate has; the number of scales where it has none.
    """
    of_each = pt.concatenate([signed, np.ones(1)])[positions]
    standard = pm.Normal("standard", shape=positions.size)
    variates = pt.dot(data["mixing"], standard)
    return data["prior_mean"] + data["prior_sd"] * of_each * variates
