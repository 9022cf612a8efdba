"""The log density of the priors at draws from them."""

import numpy as np
import pytest
from scipy.stats import halfnorm, norm

from model.arrays.campaign_arrays import campaign_arrays
from model.base.names import PARAMETER_DIMS
from model.base.priors import DEFAULT_PRIORS
from model.checks.log_prior import log_prior
from model.outcomes.prior_draws import prior_draws
from model.outcomes.shape import Shape


@pytest.fixture
def drawn(small_campaign, small_pulls):
    arrays, shape = campaign_arrays(small_campaign, small_pulls), Shape.of(small_campaign)
    rng = np.random.default_rng(1)
    return prior_draws(arrays, DEFAULT_PRIORS, shape, 4000, rng), arrays


def test_one_parameter_more_adds_its_own_density(drawn):
    parameters, arrays = drawn
    before = log_prior(parameters, arrays, DEFAULT_PRIORS)
    priors = DEFAULT_PRIORS
    for name, shift, expected in (
        ("load_base", 0.3, lambda v: norm.logpdf(v, priors.load_base.mean, priors.load_base.sd)),
        ("treatment_load", 0.1, lambda v: norm.logpdf(v, 0.0, 0.1).sum(axis=1)),
        ("anchor_load_scale", 0.2, lambda v: halfnorm.logpdf(v, scale=0.4)),
    ):
        moved = {**parameters, name: parameters[name] + shift}
        after = log_prior(moved, arrays, priors)
        change = expected(moved[name]) - expected(parameters[name])
        assert after - before == pytest.approx(change, abs=1e-9)


def test_log_normal_ones_are_held_to_their_prior_on_the_log_scale(drawn):
    parameters, arrays = drawn
    prior = DEFAULT_PRIORS.scope_slope
    moved = {**parameters, "scope_slope": 2 * parameters["scope_slope"]}
    change = log_prior(moved, arrays, DEFAULT_PRIORS) - log_prior(
        parameters, arrays, DEFAULT_PRIORS
    )
    logs = np.log(parameters["scope_slope"])
    expected = norm.logpdf(logs + np.log(2), prior.mean, prior.sd) - norm.logpdf(
        logs, prior.mean, prior.sd
    )
    assert change == pytest.approx(expected)


def test_deviations_below_a_learnt_scale_are_left_out(drawn):
    parameters, arrays = drawn
    before = log_prior(parameters, arrays, DEFAULT_PRIORS)
    moved = {**parameters, "anchor_load": parameters["anchor_load"] + 5.0}
    assert np.array_equal(log_prior(moved, arrays, DEFAULT_PRIORS), before)
    assert set(parameters) == set(PARAMETER_DIMS)
