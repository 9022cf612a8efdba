"""Leaving a pull out by weights, against a fit without it, on a campaign of a dozen pulls."""

import numpy as np
import pytest
from scipy.special import logsumexp

from model.arrays.campaign_arrays import campaign_arrays
from model.base.names import PARAMETER_DIMS
from model.checks.asked import Asked
from model.checks.leave_one_out import leave_each_out
from model.inference.sampler import Sampler
from model.outcomes.likelihood import log_likelihood
from model.questions.ask import answer
from model.questions.monte_carlo import indicator_mcse
from model.questions.weights import pareto_limit

pytestmark = [pytest.mark.calibration, pytest.mark.timeout(900)]

LEFT_OUT = 3
"""Pulls left out: those with the heaviest tails that the draws still say they can do without."""


@pytest.fixture(scope="module")
def sampler():
    return Sampler()


def test_weights_say_what_a_fit_without_the_pull_says(sampler, small_campaign, small_pulls):
    whole = sampler.fit(small_campaign, small_pulls)
    assert whole.fit_check.status == "passed"
    found, limit = leave_each_out(whole), pareto_limit(whole.draws.sizes["draw"])
    order = [place for place in np.argsort(-found.pareto_k) if found.pareto_k[place] < limit]
    assert len(order) >= len(found.pulls) - 4, "of hardly any pull the draws could tell"
    for place in order[:LEFT_OUT]:
        name, weights = found.pulls[place], found.weights[place]
        [one] = [pull for pull in small_pulls if pull.id == name]
        others = tuple(pull for pull in small_pulls if pull.id != name)
        without = sampler.fit(small_campaign, others)
        parameters = {each: without.draws[each].to_numpy() for each in PARAMETER_DIMS}
        told = log_likelihood(parameters, campaign_arrays(small_campaign, [one]))[:, 0]
        exact = float(logsumexp(told) - np.log(told.size))
        assert found.elpd[place] == pytest.approx(exact, abs=0.1)
        for question in small_campaign.questions:
            asked, anew = (
                Asked.of(answer(question, posterior, pulls, table=()), small_campaign, pulls)
                for posterior, pulls in ((whole, small_pulls), (without, others))
            )
            weighed, fitted = asked.shares(weights.shares).higher, anew.shares().higher
            spread = np.sqrt(
                indicator_mcse((anew.effect > 0).astype(float), without) ** 2
                + 0.25 / weights.effective_draws / 0.4
            )
            assert weighed == pytest.approx(fitted, abs=4 * spread), question.name
