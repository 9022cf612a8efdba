"""Linked specimens: alike before any pull, in the sampler's priors and in the simulator's."""

import numpy as np
import pytest

from model.arrays.campaign_arrays import campaign_arrays
from model.base.names import ANCHOR, PARAMETER_DIMS
from model.base.priors import DEFAULT_PRIORS
from model.graph.data import density_data
from model.outcomes.design import positions
from model.outcomes.kinship import BY_ANCHOR, kinship, of_anchors
from model.outcomes.shape import Shape
from model.outcomes.variates import VARIATES
from model.records.campaign import Anchor
from model.simulate.prior_world import draw_world

KIN = DEFAULT_PRIORS.kin_correlation


@pytest.fixture
def family(small_campaign):
    """P9 stands alone; S6 was bent into S6b, which was mended into S6c; S6c is listed first."""
    s6, p9 = small_campaign.anchors
    bent = Anchor(code="S6b", mass_kg=6.0, modified_from="S6")
    mended = Anchor(code="S6c", mass_kg=6.1, modified_from="S6b")
    return small_campaign.model_copy(update={"anchors": (mended, s6, p9, bent)})


def test_kin_are_alike_by_degree_and_as_wide_as_all_others():
    mixed = of_anchors(np.array([3, -1, -1, 1]), 6, 0.8)
    covariance = mixed @ mixed.T
    assert np.diag(covariance) == pytest.approx(np.ones(6))
    assert covariance[3, 1] == pytest.approx(0.8)
    assert covariance[0, 3] == pytest.approx(0.8)
    assert covariance[0, 1] == pytest.approx(0.64)
    assert covariance[2, [0, 1, 3, 4]] == pytest.approx(np.zeros(4))


def test_nobody_linked_changes_nothing(small_campaign, small_pulls):
    arrays, shape = campaign_arrays(small_campaign, small_pulls), Shape.of(small_campaign)
    assert np.array_equal(kinship(arrays, shape, KIN), np.eye(len(kinship(arrays, shape, KIN))))
    assert density_data(arrays, DEFAULT_PRIORS, shape)["kin"].size == 0


def test_the_sampler_gets_kin_in_every_effect_of_an_anchor(family, small_pulls):
    shape = Shape.of(family)
    kin = density_data(campaign_arrays(family, small_pulls), DEFAULT_PRIORS, shape)["kin"]
    covariance, where = kin @ kin.T, positions(shape)
    assert np.diag(covariance) == pytest.approx(np.ones(len(kin)))
    linked = 0
    for name in BY_ANCHOR:
        by_anchor = np.moveaxis(where[name], PARAMETER_DIMS[name].index(ANCHOR), 0)
        for bent, first, other in zip(
            by_anchor[3].ravel(), by_anchor[1].ravel(), by_anchor[2].ravel(), strict=True
        ):
            assert covariance[bent, first] == pytest.approx(KIN)
            assert covariance[bent, other] == pytest.approx(0.0, abs=1e-12)
            linked += 1
    assert linked > len(BY_ANCHOR)
    assert not set(BY_ANCHOR) - set(VARIATES)


@pytest.mark.parametrize("name", ["anchor_load", "anchor_upright", "mode_gap"])
def test_the_simulators_truths_are_as_alike(family, name):
    rng = np.random.default_rng(3)
    drawn = []
    for _ in range(1500):
        world = draw_world(family, DEFAULT_PRIORS, rng).values
        away = np.log(world[name]) - world["mode_gap_centre"] if name == "mode_gap" else world[name]
        drawn.append(away / world[f"{name}_scale"])
    mended, _, other, bent = np.corrcoef(np.array(drawn).T)
    # Standard errors of these correlations from 1,500 truths: 0.01, 0.015 and 0.026.
    assert bent[1] == pytest.approx(KIN, abs=0.04)
    assert mended[1] == pytest.approx(KIN**2, abs=0.06)
    assert other[[0, 1, 3]] == pytest.approx(np.zeros(3), abs=0.1)
