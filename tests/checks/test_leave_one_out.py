"""Leave one pull out: against the library on known data, and against doing it exactly."""

import dataclasses

import numpy as np
import pytest
import xarray as xr
from arviz_base import load_arviz_data
from arviz_stats import loo
from scipy.special import logsumexp
from scipy.stats import norm

from model.base.names import DRAW, PULL
from model.checks.leave_one_out import leave_each_out
from model.posterior.posterior import LOG_LIKELIHOOD

FREE = {"load_base": (np.log(3.5), 0.5), "upright_base": (0.3, 1.0)}


def with_told(posterior, told, names):
    draws = xr.Dataset(
        {LOG_LIKELIHOOD: ((DRAW, PULL), told)}, coords={PULL: np.array(names, dtype=str)}
    )
    return dataclasses.replace(posterior, draws=draws)


def test_eight_schools_as_the_library_has_them(made_up_posterior, small_campaign, small_pulls):
    """Rubin's Eight Schools, as they come with ArviZ."""
    schools = load_arviz_data("centered_eight")
    told = schools.log_likelihood["obs"].stack(sample=("chain", "draw"))
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=8)
    posterior = with_told(posterior, told.transpose("sample", "school").to_numpy(),
                          schools.log_likelihood.school.to_numpy())  # fmt: skip
    found = leave_each_out(posterior)
    with pytest.warns(UserWarning, match="Pareto"):  # as two of the schools ask for a refit
        expected = loo(schools, pointwise=True, reff=1.0)
    assert found.elpd == pytest.approx(expected.elpd_i.to_numpy(), abs=1e-6)
    assert found.pareto_k == pytest.approx(expected.pareto_k.to_numpy(), abs=1e-6)


def test_weights_are_shares_and_those_that_ask_most_come_first(
    made_up_posterior, small_campaign, small_pulls
):
    posterior = made_up_posterior(small_campaign, small_pulls)
    told = posterior.draws[LOG_LIKELIHOOD].to_numpy().copy()
    effect = np.random.default_rng(0).standard_normal(len(told))
    told[:, 3], told[:, 5] = -3 * effect**2, -8 * effect**2
    names = posterior.draws[PULL].to_numpy()
    found = leave_each_out(with_told(posterior, told, names))
    assert found.shares.sum(axis=0) == pytest.approx(1.0)
    assert found.asks_for_refit == (names[5], names[3])


def test_it_is_what_leaving_out_exactly_gives(make_world, make_pulls, learning):
    world = make_world()
    pulls = make_pulls(world, 16, seed=4)
    found = leave_each_out(learning(world, pulls, FREE, n_draws=2000, n_proposed=20_000))
    assert (found.pareto_k < 0.6).all()
    for place in (0, 7, 15):
        name = found.pulls[place]
        others = tuple(pull for pull in pulls if pull.id != name)
        # The one left out comes back in the likelihood alone: its chance under draws without it.
        without = learning(world, others, FREE, n_draws=2000, n_proposed=20_000, seed=6)
        told = _told(without, pulls, name)
        exact = logsumexp(told) - np.log(told.size)
        assert found.elpd[place] == pytest.approx(exact, abs=0.05)


def _told(posterior, pulls, name):
    from model.arrays.campaign_arrays import campaign_arrays
    from model.base.names import PARAMETER_DIMS
    from model.outcomes.likelihood import log_likelihood

    [one] = [pull for pull in pulls if pull.id == name]
    parameters = {each: posterior.draws[each].to_numpy() for each in PARAMETER_DIMS}
    return log_likelihood(parameters, campaign_arrays(posterior.campaign, [one]))[:, 0]


def test_a_pulls_own_effect_left_in_the_draws_would_ask_for_a_refit():
    """Why it is integrated out: one normal reading each, its own effect known from it alone."""
    rng = np.random.default_rng(8)
    reading, own_sd, noise_sd, n = 1.5, 0.5, 0.1, 4000
    posterior_sd = 1 / np.sqrt(1 / own_sd**2 + 1 / noise_sd**2)
    middle = reading * posterior_sd**2 / noise_sd**2
    own = rng.normal(middle, posterior_sd, n)
    inside = norm.logpdf(reading, own, noise_sd)
    outside = np.full(n, norm.logpdf(reading, 0.0, np.hypot(own_sd, noise_sd)))
    outside = outside + rng.normal(0, 1e-3, n)
    from model.questions.weights import pareto_limit, smoothed_weights

    assert smoothed_weights(-inside).pareto_k > pareto_limit(n)
    assert smoothed_weights(-outside).pareto_k < 0.5
