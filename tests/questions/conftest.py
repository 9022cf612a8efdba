"""Posteriors that are certain of everything but what a test lets vary."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from model.base.names import PARAMETER_DIMS, PULL
from model.posterior.posterior import LOG_LIKELIHOOD, Posterior
from model.questions.ask import answer
from model.records.answer import AnswerSummary, Finding
from model.records.campaign import Campaign
from model.records.pull import Pull

N_DRAWS = 4000

CERTAIN = {
    "load_base": np.log(3.0),
    "mass_exponent": 0.8,
    "mode_gap": 0.4,
    "mode_gap_centre": np.log(0.4),
    "log_scatter": np.log(0.15),
    "upright_base": 0.5,
    "sets_base": 6.0,
    "scope_slope": 2.6,
    "buried_base": np.log(0.6),
    "buried_gap": 1.0,
    "buried_scatter": 0.3,
    "sign_upright_rate": 0.7,
    "sign_on_side_rate": 0.3,
}
"""Every other parameter, the scales of deviations among them, is 0."""

KnownPosterior = Callable[..., Posterior]


def spread_out(mean: float, sd: float, seed: int = 1, n: int = N_DRAWS) -> np.ndarray:
    """Normal draws without luck: the quantiles at even probabilities, in random order."""
    even = norm.ppf((np.arange(n) + 0.5) / n)
    return mean + sd * np.random.default_rng(seed).permutation(even)


@pytest.fixture
def normal_draws() -> Callable[..., np.ndarray]:
    return spread_out


@pytest.fixture
def known_posterior(
    made_up_posterior: Callable[..., Posterior],
    small_campaign: Campaign,
    small_pulls: tuple[Pull, ...],
) -> KnownPosterior:
    """A factory; `values` maps a parameter to its draws, ``(draw, *dims)`` or less.

    ``leader`` stands for the draws of the leader's effect on the log load.
    """

    def make(
        values: Mapping[str, Any] | None = None,
        *,
        campaign: Campaign = small_campaign,
        leader: Any = None,
    ) -> Posterior:
        posterior = made_up_posterior(campaign, small_pulls, n_draws=N_DRAWS)
        draws = posterior.draws.copy(deep=True)
        for name in PARAMETER_DIMS:
            draws[name][:] = CERTAIN.get(name, 0.0)
        # Not quite certain: importance weights of equal draws have no tail to look at.
        draws["treatment_upright"][:, 0] = spread_out(0.0, 1e-6, seed=2)
        draws["treatment_load"][:, 0] = spread_out(0.0, 1e-6) if leader is None else leader
        draws[LOG_LIKELIHOOD][:] = 0.0
        for name, drawn in (values or {}).items():
            draws[name][:] = drawn
        return Posterior(
            draws=draws,
            campaign=campaign,
            provenance=posterior.provenance,
            fit_check=posterior.fit_check,
        )

    return make


@pytest.fixture
def many_pulls(small_pulls: tuple[Pull, ...]) -> tuple[Pull, ...]:
    """Every small pull, and five more like it on the same day: enough of any side for a finding."""
    again = (
        pull.model_copy(update={"code": f"{pull.code} {letter}"})
        for letter in "bcdef"
        for pull in small_pulls
    )
    return (*small_pulls, *again)


@pytest.fixture
def pull_index(small_campaign, small_pulls, made_up_posterior):
    """Position of a pull on the dim ``pull``."""
    names = made_up_posterior(small_campaign, small_pulls, n_draws=8).draws[PULL].to_numpy()
    return {str(name): i for i, name in enumerate(names)}


Look = Callable[..., AnswerSummary]


@pytest.fixture
def look(known_posterior, small_campaign, small_pulls) -> Look:
    """An earlier answer that says a finding with 0.99, or nothing with 0.90."""

    def make(finding: Finding, *, probability: float = 0.99) -> AnswerSummary:
        summary = answer(small_campaign.questions[0], known_posterior(), small_pulls).summary
        regions = {
            Finding.HIGHER: "p_above_band",
            Finding.LOWER: "p_below_band",
            Finding.NO_PRACTICAL_DIFFERENCE: "p_inside_band",
        }
        rest = (1 - probability) / 2
        shares = dict.fromkeys(regions.values(), rest) | {regions[finding]: probability}
        return summary.model_copy(update=shares)

    return make
