"""How much an answer leans on priors and on other pulls, against cases known exactly."""

import numpy as np
import pytest
from scipy.stats import norm

from model.base.priors import DEFAULT_PRIORS
from model.posterior.posterior import LOG_LIKELIHOOD
from model.questions.sensitivity import (
    changed_levels,
    doubled_prior_weights,
    finding_of,
    own_share,
    survives_doubling,
    terms_at_prior,
)
from model.questions.weights import pareto_limit
from model.records.answer import Finding
from model.records.question import Measure, Question, SetUp

WIRE = {"leader": "wire 2 m"}
LEADER = Question(name="leader", a=SetUp(anchor="S6", levels=WIRE), b=SetUp(anchor="S6"))
ANCHORS = Question(name="anchors", a=SetUp(anchor="S6"), b=SetUp(anchor="P9"))
PRIOR_SD = DEFAULT_PRIORS.treatment_load.sd


@pytest.mark.parametrize(
    ("n_draw", "limit"), [(100, 0.5), (320, 0.6), (1000, 0.67), (2200, 0.7), (100_000, 0.7)]
)
def test_limit_of_pareto_k(n_draw, limit):
    # min(1 - 1/log10 S, 0.7): Vehtari, Simpson, Gelman, Yao and Gabry (2024); the same values
    # stand in arviz-stats.
    assert pareto_limit(n_draw) == pytest.approx(limit, abs=0.005)


def _doubled(mean, sd):
    """Mean and sd of a normal posterior, known in full, when its normal prior is twice as wide."""
    precision = 1 / sd**2 - 1 / PRIOR_SD**2 + 1 / (2 * PRIOR_SD) ** 2
    return mean / sd**2 / precision, precision**-0.5


@pytest.mark.parametrize(("mean", "sd"), [(0.10, 0.05), (-0.15, 0.06), (0.0, 0.06)])
def test_weights_under_a_doubled_prior_against_the_exact_posterior(
    mean, sd, known_posterior, normal_draws
):
    effect = normal_draws(mean, sd)
    weights, k = doubled_prior_weights(known_posterior(leader=effect), LEADER)
    expected_mean, expected_sd = _doubled(mean, sd)
    assert k < pareto_limit(effect.size)
    assert weights.sum() == pytest.approx(1)
    assert weights @ effect == pytest.approx(expected_mean, abs=0.1 * expected_sd)
    found_sd = np.sqrt(weights @ (effect - weights @ effect) ** 2)
    assert found_sd == pytest.approx(expected_sd, rel=0.03)
    assert found_sd > 1.05 * sd  # a wider prior leaves more open, never less


def test_weights_the_other_way_up_would_be_seen():
    """A narrower prior instead of a wider one misses the exact posterior by far."""
    _, expected_sd = _doubled(0.0, 0.06)
    narrower = (1 / 0.06**2 + 0.75 / PRIOR_SD**2) ** -0.5
    assert abs(narrower / expected_sd - 1) > 0.2


def test_draws_that_follow_the_prior_cannot_tell(known_posterior, normal_draws):
    """Their weights have a tail of shape 3/4 whatever their number: the limit is 0.7."""
    effect = normal_draws(0.4, 1.1 * PRIOR_SD)
    posterior = known_posterior(leader=effect)
    assert doubled_prior_weights(posterior, LEADER)[1] > pareto_limit(effect.size)
    assert survives_doubling(posterior, LEADER, effect, Finding.HIGHER, 0.95) is None


def test_without_a_treatment_in_question_every_draw_weighs_the_same(known_posterior):
    weights, k = doubled_prior_weights(known_posterior(), ANCHORS)
    assert (k, set(weights)) == (0.0, {1 / weights.size})


def test_the_prior_doubled_is_the_measures_own(known_posterior, normal_draws):
    upright = np.zeros((4000, 2))
    upright[:, 0] = normal_draws(0.3, 0.3)
    posterior = known_posterior({"treatment_upright": upright}, leader=normal_draws(0.1, 0.05))
    by_upright = LEADER.model_copy(update={"measure": Measure.UPRIGHT})
    weights = doubled_prior_weights(posterior, by_upright)[0]
    prior_sd = DEFAULT_PRIORS.treatment_upright.sd
    exact = norm.pdf(upright[:, 0], 0, 2 * prior_sd) / norm.pdf(upright[:, 0], 0, prior_sd)
    assert np.corrcoef(weights, exact)[0, 1] > 0.999
    resets = LEADER.model_copy(update={"measure": Measure.RESETS})
    assert doubled_prior_weights(posterior, resets)[1] == 0.0  # no effect of a treatment in it


def test_levels_in_question_are_those_in_which_the_sides_differ(known_posterior):
    both = Question(name="both", a=SetUp(levels={**WIRE, "chain": "6 mm"}), b=SetUp())
    one = Question(
        name="one", a=SetUp(levels={**WIRE, "chain": "6 mm"}), b=SetUp(levels={"chain": "6 mm"})
    )
    campaign = known_posterior().campaign
    found = [changed_levels(campaign, question) for question in (both, one, ANCHORS)]
    assert found == [[0, 1], [0], []]


@pytest.mark.parametrize(
    ("region", "finding"),
    [
        ("above", Finding.HIGHER),
        ("below", Finding.LOWER),
        ("inside", Finding.NO_PRACTICAL_DIFFERENCE),
    ],
)
def test_a_region_is_found_at_its_threshold(region, finding):
    from model.questions.effect import BandShares

    shares = {"above": 0.0, "inside": 0.0, "below": 0.0}
    assert finding_of(BandShares(higher=0.5, **shares | {region: 0.95}), 0.95) is finding
    below = BandShares(higher=0.5, **shares | {region: 0.9499})
    assert finding_of(below, 0.95) is Finding.NOT_SETTLED


# --- share of what is known that comes from its own pulls ---------------------------------------


def _linear_world(rng, n=20_000):
    """Two unknowns with normal priors, pulls that read sums of them: everything exact.

    Returns the draws, the log-likelihood of each pull, and each pull's share of
    what is told about ``contrast``.
    """
    rows = np.array([[1, 0], [1, 0], [0, 1], [0, 1], [0, 1], [1, 1]], dtype=float)
    noise = np.array([0.3, 0.5, 0.4, 0.6, 0.8, 0.5])
    contrast = np.array([1.0, -1.0])
    covariance = np.linalg.inv(np.eye(2) / 0.8**2 + (rows / noise[:, None] ** 2).T @ rows)
    read = rows @ [0.5, -0.2]
    mean = covariance @ (rows / noise[:, None] ** 2).T @ read
    draws = mean + rng.standard_normal((n, 2)) @ np.linalg.cholesky(covariance).T
    log_likelihood = -0.5 * ((draws @ rows.T - read) / noise) ** 2
    told = ((rows @ covariance @ contrast) / noise) ** 2
    return draws @ contrast, log_likelihood, told / told.sum()


@pytest.mark.parametrize("own", [(0, 1), (2,), (0, 1, 2, 3, 4), (5,)])
def test_own_share_in_a_linear_world(own, made_up_posterior, small_campaign, small_pulls):
    effect, log_likelihood, shares = _linear_world(np.random.default_rng(3))
    posterior = made_up_posterior(small_campaign, small_pulls[:6], n_draws=effect.size)
    posterior.draws[LOG_LIKELIHOOD][:] = log_likelihood
    names = [str(posterior.draws["pull"].to_numpy()[i]) for i in own]
    found = own_share(posterior, set(names), effect)
    assert found == pytest.approx(sum(shares[list(own)]), abs=0.03)


def test_pulls_that_tell_nothing_have_no_share(known_posterior, normal_draws):
    effect = normal_draws(0.0, 0.1)
    assert own_share(known_posterior(leader=effect), {"day 1/1"}, effect) is None


def test_an_effect_that_never_moves_has_no_share(known_posterior):
    posterior = known_posterior()
    posterior.draws[LOG_LIKELIHOOD][:] = np.random.default_rng(1).normal(size=(4000, 15))
    assert own_share(posterior, {"day 1/1"}, np.zeros(4000)) is None


# --- terms still at their prior -----------------------------------------------------------------


@pytest.mark.parametrize(("ratio", "expected"), [(1.0, (("leader=wire 2 m", "load"),)), (0.8, ())])
def test_a_term_as_wide_as_its_prior_is_named(ratio, expected, known_posterior, normal_draws):
    posterior = known_posterior(leader=normal_draws(0.1, ratio * PRIOR_SD))
    found = terms_at_prior(posterior, LEADER)
    assert tuple((term.of, term.on) for term in found) == expected
    told = [term.told_by for term in found]
    assert told == ["pulls with {of} that let go below the boat's most"] * len(expected)
    assert terms_at_prior(posterior, ANCHORS) == ()
