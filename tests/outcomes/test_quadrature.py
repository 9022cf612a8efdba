"""How far the few nodes of the pull effect are from many."""

import numpy as np
import pytest

from model.arrays.campaign_arrays import campaign_arrays
from model.outcomes import terms
from model.outcomes.likelihood import log_likelihood
from model.outcomes.terms import likelihood_terms, quadrature
from model.simulate.campaign import simulate_campaign
from model.simulate.plan import Plan, Protocol
from model.simulate.world import World

MANY = 61
WORLD = {
    "load_base": np.log(2.0),
    "log_scatter": np.log(0.15),
    "resets_base": 0.5,
    "upright_base": 1.0,
    "mode_gap": 0.4,
    "gauge_scatter": 0.02,
    "hold_exponent": 0.02,
    "spoilt_share": 0.02,
}


@pytest.fixture
def slipping(make_bench, make_bite, plain_parameters):
    """Ninety simulated pulls at a pull effect, and the truth behind them."""

    def make(pull_load_scale: float):
        bench = make_bench(0.8, 1.0, 1.25, 1.55, 1.9, 2.3, 2.8, 3.4)
        truth = {**WORLD, "pull_load_scale": pull_load_scale}
        wide = plain_parameters(bench.arrays([make_bite("held", 3.4)]), **truth)
        values = {name: value[0] for name, value in wide.items()} | {"site_load": np.zeros(0)}
        world = World(campaign=bench.campaign, values=values)
        plans = [Plan(code=f"{i:02}", outing="day", anchor="S6", seabed="ground")
                 for i in range(90)]  # fmt: skip
        pulls = simulate_campaign(world, plans, Protocol(), np.random.default_rng(4))
        arrays = campaign_arrays(bench.campaign, pulls)
        return arrays, plain_parameters(arrays, **truth)

    return make


def _total(monkeypatch, nodes: int, arrays, parameters) -> float:
    monkeypatch.setattr(terms, "NODES", nodes)
    return float(log_likelihood(parameters, arrays).sum())


# The errors that the docstring of NODES states, doubled.
@pytest.mark.parametrize(("pull_load_scale", "largest"), [(0.05, 2e-4), (0.10, 8e-3)])
def test_the_nodes_are_off_by_no_more_than_they_say(
    pull_load_scale, largest, slipping, monkeypatch
):
    arrays, parameters = slipping(pull_load_scale)
    assert (likelihood_terms(arrays).joint_pull_index.size > 75, terms.NODES) == (True, 5)
    ours = _total(monkeypatch, terms.NODES, arrays, parameters)
    exact = _total(monkeypatch, MANY, arrays, parameters)
    assert abs(ours - exact) < largest
    # One node is no pull effect at all.
    assert abs(_total(monkeypatch, 1, arrays, parameters) - exact) > 100 * largest


def test_three_nodes_would_not_do(slipping, monkeypatch):
    arrays, parameters = slipping(0.10)
    three = _total(monkeypatch, 3, arrays, parameters)
    assert abs(three - _total(monkeypatch, MANY, arrays, parameters)) > 8e-3


def test_nodes_have_the_moments_of_a_standard_normal():
    nodes, log_weight = quadrature()
    moments = [float((np.exp(log_weight) * nodes**k).sum()) for k in range(10)]
    assert moments == pytest.approx([1, 0, 1, 0, 3, 0, 15, 0, 105, 0], abs=1e-10)
    tenth = float((np.exp(log_weight) * nodes**10).sum())
    assert tenth != pytest.approx(945, rel=0.05)  # five nodes are exact to degree 9 only


def test_a_bite_alone_in_its_pull_needs_no_node(slipping, make_bench, make_bite, monkeypatch):
    bench = make_bench(1.0, 2.0)
    alone, slip = make_bite("held", 2.0), make_bite("released", 2.0)
    arrays = bench.arrays([alone, slip])
    found = likelihood_terms(arrays)
    assert found.row_index.tolist() == [0, *[1] * terms.NODES, *[2] * terms.NODES]
    assert found.is_single.tolist() == [1.0] + [0.0] * 2 * terms.NODES
    assert (found.single_pull_index.tolist(), found.joint_pull_index.tolist()) == ([0], [1])


def test_a_lone_bites_wider_scatter_is_the_integral_over_nodes(
    make_bench, make_bite, plain_parameters, monkeypatch
):
    bench = make_bench(1.0, 1.5, 2.0, 2.5)
    # A release that the crew followed by taking the thrust off is alone in its pull.
    arrays = bench.arrays([make_bite("released_then_stopped", 2.0)])
    truth = {"load_base": np.log(2.0), "log_scatter": np.log(0.15), "spoilt_share": 0.02}
    lone = log_likelihood(plain_parameters(arrays, **truth, pull_load_scale=0.1), arrays)[0, 0]
    monkeypatch.setattr(terms, "NODES", MANY)
    nodes, log_weight = quadrature()
    shifted = [
        log_likelihood(plain_parameters(arrays, **{**truth, "load_base": np.log(2.0) + 0.1 * x}),
                       arrays)[0, 0] for x in nodes
    ]  # fmt: skip
    assert lone == pytest.approx(np.log(np.exp(shifted + log_weight).sum()), abs=1e-10)
    without = log_likelihood(plain_parameters(arrays, **truth), arrays)[0, 0]
    assert abs(lone - without) > 1e-2
