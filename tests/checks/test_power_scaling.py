"""Power-scaling: as the library has it, and what it says of answers that lean on priors."""

import numpy as np
import pytest
from arviz_base import from_dict
from arviz_stats import psense
from scipy.signal import lfilter
from scipy.stats import norm

from model.checks.asked import Asked
from model.checks.check import Status
from model.checks.moves import can_tell
from model.checks.power_scaling import (
    MOVES,
    POWERS,
    ROLLS,
    Sensitivity,
    find_sensitivities,
    power_sensitivity,
    scaled_weights,
    within_reach,
)
from model.questions.weights import EFFECTIVE_DRAWS_MIN, smoothed_weights
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


def slow(rng, count=N, chains=CHAINS, hold=0.95):
    """Chains of a standard normal, each draw near the one before it."""
    steps = rng.normal(0.0, np.sqrt(1 - hold**2), (chains, count // chains))
    steps[:, 0] = rng.normal(size=chains)
    return lfilter([1.0], [1.0, -hold], steps, axis=1).ravel()


def alarms(runs, make):
    """Of answers that have nothing to do with priors or pulls, how many seem to move with them."""
    count = 0
    for seed in range(runs):
        rng = np.random.default_rng(seed)
        effect, other = make(rng)
        [row] = find_sensitivities([asked(effect)], other, other, CHAINS).rows
        assert row.prior_noise > 0
        count += row.is_by_prior
    return count


def test_simulation_alone_is_not_taken_for_sensitivity():
    """Densities of many terms, as a campaign has them: beyond 20 rollings once in 21."""

    def make(rng):
        return rng.normal(0.0, 0.1, 1000), -0.5 * (rng.normal(size=(1000, 80)) ** 2).sum(1)

    assert alarms(20, make) <= 4  # of 20 more come about once in 500


def test_nor_is_it_of_chains_that_move_slowly():
    """Each tells little; draws shuffled one by one would tell of far less noise than there is."""

    def make(rng):
        terms = sum(slow(rng, 1000) ** 2 for _ in range(40))
        return 0.1 * slow(rng, 1000), -0.5 * terms

    assert alarms(20, make) <= 4


def test_many_priors_are_scaled_as_far_as_the_draws_reach():
    """Of 4000 draws with 150 terms a fifth and a quarter leave too few; what is told says so."""
    terms = -0.5 * (np.random.default_rng(3).normal(size=(N, 150)) ** 2).sum(1)
    few = smoothed_weights(0.25 * terms)
    assert few.effective_draws < EFFECTIVE_DRAWS_MIN
    power, other = within_reach(terms)
    assert power == 0.9
    assert all(can_tell(weights) for weights in other)
    assert within_reach(terms[:200])[0] is None
    draws, log_prior, told = normal_model(prior_mean=-1.0, prior_sd=0.2, reading=1.0,
                                          reading_sd=0.2)  # fmt: skip
    found = find_sensitivities([asked(draws)], log_prior + terms, told, CHAINS)
    assert found.rows[0].least < MOVES
    assert "a tenth weaker" in found.weaker_words


def row_of(**changes):
    values = {
        "question": "q", "prior": 0.2, "prior_noise": 0.05, "likelihood": 0.3,
        "likelihood_noise": 0.05, "moved": 0.08, "moved_error": 0.01, "least": 0.05,
        "keeps_finding": True,
    }  # fmt: skip
    return Sensitivity(**(values | changes))


def test_a_move_within_simulation_error_is_none():
    assert row_of().is_owed_to_priors
    assert not row_of(moved_error=0.05).is_owed_to_priors
    assert not row_of(moved=0.03).is_owed_to_priors
    assert row_of(moved=0.03, keeps_finding=False).is_owed_to_priors
    assert not row_of(moved=0.01, keeps_finding=False, moved_error=0.01).is_owed_to_priors


def test_what_cannot_be_told_is_not_cured_by_pulls():
    """Too few draws for a chance: a look, and not the remedy of an answer owed to priors."""
    assert row_of(moved=None).is_untold
    assert not row_of(moved=None).is_owed_to_priors
    draws, log_prior, told = (part[:200] for part in normal_model(
        prior_mean=-1.0, prior_sd=0.2, reading=1.0, reading_sd=0.2))  # fmt: skip
    found = find_sensitivities([asked(draws)], log_prior, told, CHAINS)
    assert found.weaker is None
    assert found.rows[0].is_untold
    assert found.check.status is Status.LOOK
    assert "how far, the draws cannot tell" in found.check.reason
    assert "Pull more" not in found.check.remedy


def test_pulls_below_their_noise_but_beyond_the_priors_are_not_called_less():
    both = {"likelihood": 0.10, "likelihood_noise": 0.12, "prior": 0.06}
    row = row_of(**both, moved=0.0)
    assert not row.is_made_by_priors
    assert row.is_untold
    assert row_of(**(both | {"prior": 0.11})).is_made_by_priors


def test_a_settled_answer_fails_only_where_the_pulls_say_less(monkeypatch):
    """Each distance is given: above its noise for the priors, below it for the pulls."""
    draws, log_prior, told = normal_model(reading_sd=0.5)

    def judged(prior, likelihood):
        # One distance, then that of the rolled draws, of the priors; and the same of the pulls.
        given = iter([0.01] * ROLLS + [prior] + [0.12] * ROLLS + [likelihood])
        monkeypatch.setattr("model.checks.power_scaling.power_sensitivity", lambda *_: next(given))
        return find_sensitivities([asked(draws, Finding.HIGHER)], log_prior, told, CHAINS).check

    assert judged(0.06, 0.04).status is Status.FAILED
    # Less than the priors, but within a large noise: how much the pulls tell is not known.
    assert judged(0.16, 0.09).status is Status.LOOK
    less = judged(0.06, 0.10)
    assert less.status is Status.LOOK
    assert "The draws cannot tell how much the pulls move it." in less.reason


def test_without_a_question_nothing_is_checked():
    _, log_prior, told = normal_model()
    assert find_sensitivities([], log_prior, told, CHAINS).check.status is Status.NOT_CHECKED


def test_what_no_draw_tells_apart_is_not_sensitive():
    weights = scaled_weights(np.random.default_rng(1).normal(size=N))
    assert power_sensitivity(np.zeros(N), weights, CHAINS) == 0.0
