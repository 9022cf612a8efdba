"""Worlds whose truth is known, pulls made in them, and posteriors that know that truth.

Nothing is fitted: a posterior here has the truth in every draw, or draws of the priors of a few
parameters, weighed by the likelihood of the pulls and drawn again, which is exact in so few.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from model.arrays.campaign_arrays import campaign_arrays, used_pulls
from model.base.names import DRAW, PARAMETER_DIMS, PULL
from model.checks.all_checks import run_checks
from model.outcomes.likelihood import log_likelihood
from model.posterior.posterior import LOG_LIKELIHOOD, Posterior
from model.questions.ask import answer
from model.questions.effect import parameters_of
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.simulate.campaign import simulate_campaign
from model.simulate.plan import Plan, Protocol
from model.simulate.world import World, dim_names

TRUTH = {
    "load_base": np.log(3.5),
    "mass_exponent": 0.8,
    "scope_slope": 2.6,
    "mode_gap": 0.5,
    "mode_gap_centre": np.log(0.5),
    "log_scatter": np.log(0.15),
    "pull_load_scale": 0.05,
    "upright_base": 0.3,
    "sets_base": 2.2,
    "resets_base": 0.0,
    "turns_base": 0.5,
    "hold_exponent": 0.02,
    "gauge_scatter": 0.02,
    "spoilt_share": 0.02,
    "seen_upright_rate": 0.95,
    "seen_on_side_rate": 0.95,
    "not_seen_base": -1.0,
    "buried_base": np.log(0.6),
    "buried_gap": 0.5,
    "buried_scatter": 0.3,
    "sign_upright_rate": 0.7,
    "sign_on_side_rate": 0.3,
}
"""Every other parameter is 0, but for scales, which are 0.1."""

ARMS = (("S6", "chain only"), ("S6", "wire 2 m"), ("P9", "chain only"), ("P9", "wire 2 m"))


def truth_of(campaign: Campaign, **changes: float) -> World:
    names = dim_names(campaign)
    values = {**TRUTH, **changes}
    found = {
        name: np.full(
            tuple(len(names[dim]) for dim in dims),
            values.get(name, 0.1 if name.endswith("_scale") else 0.0),
        )
        for name, dims in PARAMETER_DIMS.items()
    }
    return World(campaign=campaign, values=found)


@pytest.fixture
def make_world(small_campaign: Campaign) -> Callable[..., World]:
    """A truth of the small campaign; keywords change whole parameters to one value."""
    return lambda **changes: truth_of(small_campaign, **changes)


def pulls_in(world: World, count: int, seed: int) -> tuple[Pull, ...]:
    plans = [
        Plan(
            outing=("day 1", "day 2")[number // 4 % 2],
            anchor=ARMS[number % 4][0],
            seabed="firm sand",
            site="north",
            code=f"{number:03}",
            levels={"leader": ARMS[number % 4][1]},
        )
        for number in range(count)
    ]
    protocol = Protocol(camera_chance=0.8)
    return simulate_campaign(world, plans, protocol, np.random.default_rng(seed))


@pytest.fixture
def make_pulls() -> Callable[..., tuple[Pull, ...]]:
    """So many pulls of both anchors, with and without the leader, in a world."""
    return pulls_in


def _with_draws(
    posterior: Posterior, values: Mapping[str, Any], pulls: Sequence[Pull]
) -> Posterior:
    draws = posterior.draws.copy(deep=True)
    for name, drawn in values.items():
        draws[name] = ((DRAW, *PARAMETER_DIMS[name]), np.asarray(drawn, dtype=float))
    arrays = campaign_arrays(posterior.campaign, pulls)
    told = log_likelihood({name: draws[name].to_numpy() for name in PARAMETER_DIMS}, arrays)
    draws[LOG_LIKELIHOOD] = ((DRAW, PULL), told)
    return replace(posterior, draws=draws)


def _padded(name: str, value: np.ndarray) -> np.ndarray:
    """With a place for the unnamed site or gauge, which a truth has not."""
    more = {"site_load": 0.0, "gauge_scatter": 0.02}
    return np.append(value, more[name]) if name in more else value


@pytest.fixture
def knowing(made_up_posterior: Callable[..., Posterior]) -> Callable[..., Posterior]:
    """A factory: a posterior with a world's truth in every draw, ``shift`` added to some of it."""

    def make(
        world: World,
        pulls: Sequence[Pull],
        *,
        n_draws: int = 200,
        shift: Mapping[str, float] | None = None,
    ) -> Posterior:
        posterior = made_up_posterior(world.campaign, pulls, n_draws=n_draws)
        values = {
            name: np.repeat(_padded(name, value)[None], n_draws, axis=0)
            for name, value in world.values.items()
        }
        for name, amount in (shift or {}).items():
            values[name] = values[name] + amount
        return _with_draws(posterior, values, pulls)

    return make


@pytest.fixture
def learning(knowing: Callable[..., Posterior]) -> Callable[..., Posterior]:
    """A factory: all but ``free`` known, and these as the pulls leave them after their priors.

    ``free`` maps a parameter to the mean and sd of its prior; every element has a draw of its own.
    """

    def make(
        world: World,
        pulls: Sequence[Pull],
        free: Mapping[str, tuple[float, float]],
        *,
        n_draws: int = 1000,
        n_proposed: int = 8000,
        seed: int = 5,
    ) -> Posterior:
        rng = np.random.default_rng(seed)
        posterior = knowing(world, pulls, n_draws=4)
        wide = {name: np.repeat(drawn[:1], n_proposed, axis=0) for name, drawn in
                parameters_of(posterior).items() if name != LOG_LIKELIHOOD}  # fmt: skip
        for name, (mean, sd) in free.items():
            wide[name] = rng.normal(mean, sd, wide[name].shape)
        arrays = campaign_arrays(world.campaign, pulls)
        told = log_likelihood(wide, arrays).sum(axis=1)
        weights = np.exp(told - told.max())
        chosen = rng.choice(n_proposed, n_draws, p=weights / weights.sum())
        many = knowing(world, pulls, n_draws=n_draws)
        return _with_draws(many, {name: wide[name][chosen] for name in free}, pulls)

    return make


@pytest.fixture
def checked() -> Callable[..., Any]:
    """Run all checks of a posterior and its campaign's standing questions."""

    def run(posterior: Posterior, pulls: Sequence[Pull], refits: Sequence[Any] = ()) -> Any:
        answers = [
            answer(question, posterior, pulls, table=())
            for question in posterior.campaign.questions
        ]
        return run_checks(posterior, pulls, answers, refits)

    return run


@pytest.fixture
def used() -> Callable[..., Any]:
    """Arrays of some pulls, and these by their identity, in the order of the arrays."""
    return lambda campaign, pulls: (campaign_arrays(campaign, pulls), used_pulls(pulls))
