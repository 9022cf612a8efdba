"""A prior on effects that is not that of the truths is caught at three pulls a side.

A reduced problem with an exact answer: everything but one treatment's effect is known, so
that the posterior of the effect is a grid's. With truths from the prior the chance that is
given to values below the truth is uniform; as a normal deviate its square has a mean of 1.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest
import xarray as xr
from scipy.stats import chi2, norm

from model.arrays.campaign_arrays import campaign_arrays
from model.base.priors import DEFAULT_PRIORS, Normal
from model.calibration.sand_campaign import one_pull_of_each, sand_campaign
from model.outcomes.likelihood import log_likelihood
from model.outcomes.prior_arrays import named_priors
from model.outcomes.shape import Shape
from model.records.campaign import Campaign
from model.simulate.campaign import simulate_campaign
from model.simulate.plan import Protocol
from model.simulate.prior_world import draw_world
from model.simulate.world import World

pytestmark = pytest.mark.calibration

EFFECT = "treatment_load"
CAMPAIGNS = 300
GRID = np.linspace(-1.2, 1.2, 121)
"""Log ratios of the effect; twelve standard deviations of the truths' prior either way."""
KNOWN = {
    "load_base": np.log(2.5),
    "log_scatter": np.log(0.25),
    "anchor_scatter": 0.0,
    "sets_base": 4.0,
}
"""Loads in the middle of the ladder, and so much scatter that the prior weighs."""

RARE = 1e-4
"""Of the right prior, at either end; a wrong one must be a hundred times rarer."""


@dataclass(frozen=True, kw_only=True)
class Told:
    """A true effect, and the log-likelihood of six pulls over the grid."""

    truth: float
    log_likelihood: np.ndarray
    arrays: xr.Dataset


@pytest.fixture(scope="module")
def campaign() -> Campaign:
    return sand_campaign(
        "Three a side", month=10, masses_kg={"K1": 9.0}, treatments=("change",), questions=()
    )


@pytest.fixture(scope="module")
def told(campaign: Campaign, truth_as_draw: Callable) -> list[Told]:
    """Many campaigns of three pulls a side, their effects from the default prior."""
    return [_told(campaign, truth_as_draw, number) for number in range(CAMPAIGNS)]


def _told(campaign: Campaign, truth_as_draw: Callable, number: int) -> Told:
    rng = np.random.default_rng([1, number])
    drawn = draw_world(campaign, DEFAULT_PRIORS, rng)
    known = {name: np.full_like(drawn.values[name], value) for name, value in KNOWN.items()}
    world = World(campaign=campaign, values={**drawn.values, **known})
    pulls = simulate_campaign(world, one_pull_of_each(("K1",), ("change",)), Protocol(), rng)
    assert [len(pull.levels) for pull in pulls].count(1) == len(pulls) - 3 == 3
    arrays = campaign_arrays(campaign, pulls)
    one = truth_as_draw(world, arrays)
    draws = {name: np.repeat(values, GRID.size, axis=0) for name, values in one.items()}
    draws[EFFECT] = GRID[:, None]
    return Told(
        truth=world.value(EFFECT, treatment_level=campaign.treatment_level_names[0]),
        log_likelihood=log_likelihood(draws, arrays).sum(axis=1),
        arrays=arrays,
    )


def _chance_of_less_spread(told: list[Told], campaign: Campaign, sd: float) -> float:
    """Chance that calibrated truths were less spread among their draws than these, by a fit's sd.

    Near 0 the fit's intervals are too wide for its truths, near 1 too narrow.
    """
    priors = replace(DEFAULT_PRIORS, treatment_load=Normal(mean=0.0, sd=sd))
    deviates = []
    for one in told:
        # As the sampler's density gets it, and not as this file would have it.
        mean, spread = named_priors(one.arrays, priors, Shape.of(campaign))[EFFECT]
        log_posterior = one.log_likelihood + norm.logpdf(GRID, mean[0], spread[0])
        mass = np.exp(log_posterior - log_posterior.max())
        below = (np.cumsum(mass) - mass / 2) / mass.sum()
        deviates.append(norm.ppf(np.interp(one.truth, GRID, below)))
    return float(chi2.cdf(np.sum(np.square(deviates)), len(deviates)))


def test_under_the_truths_own_prior_they_rank_uniformly(
    told: list[Told], campaign: Campaign
) -> None:
    assert DEFAULT_PRIORS.treatment_load == Normal(mean=0.0, sd=0.10)
    assert RARE < _chance_of_less_spread(told, campaign, sd=0.10) < 1 - RARE


def test_twice_as_wide_a_prior_is_caught(told: list[Told], campaign: Campaign) -> None:
    assert _chance_of_less_spread(told, campaign, sd=0.20) < RARE / 100


def test_half_as_wide_a_prior_is_caught(told: list[Told], campaign: Campaign) -> None:
    assert _chance_of_less_spread(told, campaign, sd=0.05) > 1 - RARE / 100
