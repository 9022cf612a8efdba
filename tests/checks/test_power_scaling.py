"""Power-scaling: as the library has it, and what it says of answers that lean on priors."""

import numpy as np
import pytest
from arviz_base import from_dict
from arviz_stats import psense
from scipy.stats import norm

from model.checks.asked import Asked
from model.checks.check import Status
from model.checks.power_scaling import (
    POWERS,
    find_sensitivities,
    power_sensitivity,
    scaled_weights,
)
from model.records.answer import Finding
from model.records.question import Question, SetUp

N, CHAINS = 4000, 4
QUESTION = Question(
    name="leader on S6",
    a=SetUp(anchor="S6", levels={"leader": "wire 2 m"}),
    b=SetUp(anchor="S6"),
)


def normal_model(prior_mean=0.0, prior_sd=1.0, reading=0.5, reading_sd=0.1, seed=1):
    """Draws of a normal mean after one reading, with its log prior and log likelihood."""
    precision = 1 / prior_sd**2 + 1 / reading_sd**2
    mean = (prior_mean / prior_sd**2 + reading / reading_sd**2) / precision
    draws = np.random.default_rng(seed).normal(mean, 1 / np.sqrt(precision), N)
    return (
        draws,
        norm.logpdf(draws, prior_mean, prior_sd),
        norm.logpdf(reading, draws, reading_sd),
    )


def asked(effect, finding=Finding.NOT_SETTLED):
    return Asked(question=QUESTION, effect=effect, finding=finding, is_ratio=True, pulls=(6, 6))


def test_it_is_what_the_library_gives_on_a_plain_model():
    draws, log_prior, told = normal_model(reading_sd=0.5)
    shaped = {name: values.reshape(CHAINS, -1) for name, values in
              (("mu", draws), ("prior", log_prior), ("told", told))}  # fmt: skip
    tree = from_dict(
        {
            "posterior": {"mu": shaped["mu"]},
            "log_prior": {"mu": shaped["prior"]},
            "log_likelihood": {"y": shaped["told"][..., None]},
        }
    )
    for group, component in (("prior", log_prior), ("likelihood", told)):
        expected = float(psense(tree, group=group, alphas=POWERS)["mu"])
        found = power_sensitivity(draws, scaled_weights(component), CHAINS)
        # Theirs takes the tail's length from the chains apart, ours from all draws as one.
        assert found == pytest.approx(expected, rel=0.02)


def test_pulls_that_tell_much_leave_the_priors_nothing_to_say():
    draws, log_prior, told = normal_model(prior_sd=1.0, reading=0.2, reading_sd=0.05)
    found = find_sensitivities([asked(draws, Finding.HIGHER)], log_prior, told, CHAINS)
    [row] = found.rows
    assert row.is_by_pulls
    assert not row.is_by_prior
    assert found.check.status is Status.PASSED


def test_priors_that_say_something_else_are_told():
    draws, log_prior, told = normal_model(prior_mean=-1.0, prior_sd=0.2, reading=1.0,
                                          reading_sd=0.2)  # fmt: skip
    found = find_sensitivities([asked(draws)], log_prior, told, CHAINS)
    [row] = found.rows
    assert row.is_by_prior
    assert row.is_by_pulls
    assert found.check.status is Status.LOOK
    assert "moves with both" in found.check.reason


def test_a_finding_owed_to_the_priors_alone_fails():
    draws, log_prior, told = normal_model(prior_mean=0.5, prior_sd=0.1, reading_sd=50.0)
    found = find_sensitivities([asked(draws, Finding.HIGHER)], log_prior, told, CHAINS)
    assert found.check.status is Status.FAILED
    assert "rests on the priors more than on the pulls" in found.check.reason
    open_one = find_sensitivities([asked(draws)], log_prior, told, CHAINS)
    assert open_one.check.status is Status.LOOK


def test_simulation_alone_is_not_taken_for_sensitivity():
    """Densities of many terms that have nothing to do with the answer, as a campaign has them."""
    rng = np.random.default_rng(2)
    effect, other = rng.normal(0.0, 0.1, 1000), -0.5 * (rng.normal(size=(1000, 80)) ** 2).sum(1)
    found = find_sensitivities([asked(effect)], other, other, CHAINS)
    [row] = found.rows
    assert row.prior_noise > 0.05  # the method's own threshold would not do
    assert found.check.status is Status.PASSED or row.prior < 1.3 * row.prior_noise


def test_what_no_draw_tells_apart_is_not_sensitive():
    weights = scaled_weights(np.random.default_rng(1).normal(size=N))
    assert power_sensitivity(np.zeros(N), weights, CHAINS) == 0.0
