"""Re-set chances and loads come back from simulated pulls; without the joint form they do not."""

import numpy as np
import pytest
from scipy.special import expit, logit

from model.arrays import campaign_arrays as arrays_module
from model.arrays.campaign_arrays import campaign_arrays
from model.arrays.ranges import next_bite_range
from model.simulate.campaign import simulate_campaign
from model.simulate.plan import Plan, Protocol
from model.simulate.world import World

P_RESETS, LOG_LOAD, SCATTER = 0.7, np.log(2.0), 0.2
TRUTH = {
    "load_base": LOG_LOAD,
    "log_scatter": np.log(SCATTER),
    "resets_base": logit(P_RESETS),
    "pull_load_scale": 0.05,
    "gauge_scatter": 0.02,
    "hold_exponent": 0.02,
    "spoilt_share": 0.01,
}
LADDER_KN = (0.8, 1.0, 1.25, 1.55, 1.9, 2.3, 2.8, 3.4, 4.2)
SEEDS, PULLS = 20, 60


@pytest.fixture
def bench(make_bench):
    return make_bench(*LADDER_KN)


@pytest.fixture
def campaigns(bench, make_bite, plain_parameters):
    """Pulls of each seed: the anchor always sets, upright."""
    wide = plain_parameters(bench.arrays([make_bite("held", LADDER_KN[-1])]), **TRUTH)
    # The simulator knows no unnamed site, and calls the gauge that is not named its own.
    values = {name: value[0] for name, value in wide.items()} | {"site_load": np.zeros(0)}
    world = World(campaign=bench.campaign, values=values)
    plans = [Plan(code=f"{i:02}", outing="day", anchor="S6", seabed="ground") for i in range(PULLS)]
    return [
        simulate_campaign(world, plans, Protocol(), np.random.default_rng(seed))
        for seed in range(SEEDS)
    ]


@pytest.fixture
def estimates(bench, campaigns, plain_parameters, maximise):
    """Load ratio to the truth and re-set chance of every seed, ``(2, seed)``."""

    def place(v):
        scatter = np.stack([v[:, 1], v[:, 1]], axis=1)
        return {"load_base": v[:, 0], "log_scatter": scatter, "resets_base": v[:, 2]}

    def compute():
        found = []
        for pulls in campaigns:
            arrays = campaign_arrays(bench.campaign, pulls)
            plain = plain_parameters(arrays, **TRUTH)
            found.append(maximise(arrays, plain, place, (LOG_LOAD, np.log(SCATTER), 0.5)).at)
        loads, _, resets = np.array(found).T
        return np.exp(loads - LOG_LOAD), expit(resets)

    return compute


def _error(values: np.ndarray) -> float:
    return float(values.std(ddof=1) / np.sqrt(values.size))


def test_reset_chance_and_load_come_back(estimates):
    loads, resets = estimates()
    assert abs(resets.mean() - P_RESETS) < 3 * _error(resets) < 0.1
    assert abs(loads.mean() - 1) < 3 * _error(loads) < 0.03


def test_without_the_joint_form_they_do_not(estimates, monkeypatch):
    monkeypatch.setattr(arrays_module, "next_bite_range", lambda _: next_bite_range(0.0))
    loads, resets = estimates()
    assert resets.mean() < 0.4
    assert P_RESETS - resets.mean() > 10 * _error(resets)
    assert loads.mean() - 1 > 4 * _error(loads)
