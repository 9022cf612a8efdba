"""The term of burial on load, on posteriors that know the truth: nothing is sampled."""

import numpy as np
import pytest

from model.arrays.campaign_arrays import campaign_arrays
from model.base.names import PARAMETER_DIMS
from model.calibration import burial_and_load
from model.calibration.burial_and_load import GRID, coupled_pulls, coupling
from model.calibration.simulated import demo_campaign
from model.outcomes.likelihood import log_likelihood
from model.posterior.posterior import LOG_LIKELIHOOD
from model.simulate.hollow_sound import hollow_sound_plans, hollow_sound_world
from model.simulate.nature import mean_log_buried

N_DRAWS = 100


@pytest.fixture
def knowing(made_up_posterior):
    """A posterior whose draws are all (nearly) the truth, of the pulls of one seed."""

    def make(seed, correlation):
        campaign = demo_campaign()
        pulls = coupled_pulls(campaign, seed, correlation)
        posterior = made_up_posterior(campaign, pulls, n_draws=N_DRAWS)
        world, rng = hollow_sound_world(campaign), np.random.default_rng(seed)
        named = {}
        for name in PARAMETER_DIMS:
            drawn = posterior.draws[name]
            truth = np.zeros(drawn.shape[1:])
            value = np.asarray(world.values[name])
            truth[tuple(slice(0, size) for size in value.shape)] = value
            drawn[:] = truth
            named[name] = drawn.to_numpy()
        named["load_base"] = named["load_base"] + rng.normal(0, 0.005, N_DRAWS)
        gauges = named["gauge_scatter"]
        named["gauge_scatter"] = np.where(gauges > 0, gauges, 0.02)
        for name, values in named.items():
            posterior.draws[name][:] = values
        found = log_likelihood(named, campaign_arrays(campaign, pulls))
        posterior.draws[LOG_LIKELIHOOD][:] = found
        return posterior, pulls

    return make


def test_burial_goes_with_the_load_as_much_as_it_is_told_to():
    campaign = demo_campaign()
    world, plans = hollow_sound_world(campaign), hollow_sound_plans()
    alone, together = (coupled_pulls(campaign, 101, rho) for rho in (0.0, 0.9))
    assert [pull.bites[-1].load_kn for pull in alone] == [
        pull.bites[-1].load_kn for pull in together
    ]
    lengths = [
        (pull.bites[-1].buried, mean_log_buried(world, plan, is_upright=True))
        for pull, plan in zip(alone, plans, strict=True)
    ]
    z = [np.log(one.length_m) - mean for one, mean in lengths if one and one.kind == "reading"]
    assert len(z) > 40
    assert np.std(z) > 0.15


def test_a_term_that_is_there_is_found_and_foretells(knowing):
    found = coupling(*knowing(101, 0.9), seed=101, correlation=0.9)
    assert found.lower90 > 0.02
    assert found.median == pytest.approx(0.09, abs=0.05)
    assert found.gain > 2
    assert found.pulls == 93


def test_a_term_that_is_not_there_gains_nothing(knowing):
    found = coupling(*knowing(101, 0.0), seed=101, correlation=0.0)
    assert found.lower90 < 0.02
    assert found.upper90 > -0.02
    assert found.gain < 1


def test_a_term_of_zero_changes_no_pull(knowing):
    posterior, pulls = knowing(102, 0.5)
    ratio = burial_and_load._log_ratio(posterior, pulls)
    middle = len(GRID) // 2
    assert GRID[middle] == pytest.approx(0, abs=1e-12)
    np.testing.assert_allclose(ratio[..., middle], 0, atol=1e-12)
    assert np.abs(ratio).max() > 0.1
