"""Where chains start: apart, near the middle of the priors, and at a point with a gradient."""

import numpy as np
import pymc as pm
import pytest

from model.arrays.campaign_arrays import campaign_arrays
from model.base.priors import DEFAULT_PRIORS
from model.graph.data import graph_data
from model.graph.graph import build_graph
from model.graph.starts import SCALE_START, STANDARD_SPREAD, starting_points
from model.outcomes.shape import Shape


@pytest.fixture
def graph(small_campaign, small_pulls):
    shape = Shape.of(small_campaign)
    data = graph_data(campaign_arrays(small_campaign, small_pulls), DEFAULT_PRIORS, shape)
    return build_graph(data, shape)


def gradient_of(graph, start, names):
    """The gradient's entries by the named random vectors."""
    whole = graph.compile_dlogp()(start)
    of_each = np.repeat(
        [value.name for value in graph.value_vars], [start[v.name].size for v in graph.value_vars]
    )
    return whole[np.isin(of_each, list(names))]


def test_starts_are_spread_narrowly_about_the_middle(graph):
    points = starting_points(graph)
    drawn = pm.draw(points["standard"], draws=200, random_seed=1)
    assert drawn.shape[1:] == graph["standard"].type.shape
    assert np.std(drawn) == pytest.approx(STANDARD_SPREAD, rel=0.05)
    assert np.all(points["scales"] == SCALE_START)


def test_every_coordinate_has_a_gradient_where_a_chain_starts(graph):
    points = starting_points(graph)
    start = graph.initial_point() | {
        "standard": pm.draw(points["standard"], random_seed=1),
        "scales": points["scales"],
    }
    gradient = gradient_of(graph, start, points)
    assert np.all(np.isfinite(gradient))
    assert np.all(gradient != 0)


def test_in_the_middle_itself_there_are_coordinates_without_one(graph):
    middle = graph.initial_point()
    assert np.any(gradient_of(graph, middle, middle) == 0)
