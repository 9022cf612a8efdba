"""Ten planned campaigns of the table of answers over the whole way, with real fits.

What can be told from ten: that fits pass, that intervals of all answers are not far too
narrow, and that what twelve pulls tell well (how much is held, how deep the rode goes) is
where the fit says. Limits have a chance of a false alarm of one in a thousand each.
"""

from dataclasses import replace
from functools import partial

import pytest
from scipy.stats import binom

from model.base.constants import INTERVAL_PROB
from model.calibration import answers_judging
from model.calibration.answers_campaign import answers_campaign, answers_world
from model.calibration.answers_judging import judge_answers, made
from model.calibration.answers_result import AnswersResult
from model.calibration.answers_rows import share_rows
from model.calibration.engine import Engine
from model.calibration.fitting import fitting_engine
from model.calibration.limits import clustered_share
from model.calibration.parameter_draws import parameter_labels
from model.calibration.scenario import answers_retried_plan
from model.calibration.thinned_rank import RANKS
from model.simulate.world import dim_names

pytestmark = [pytest.mark.calibration, pytest.mark.timeout(3600)]  # ten fits, some of them again

SCENARIOS = answers_retried_plan().scenarios[:10]  # refused as a user's fits are
ERROR = 1e-3
TOLD_WELL = ("load_base", "buried_base")
"""Fixed before the first run: two numbers whose prior is wide, and of which every pull tells."""
LEAST_HELD = int(binom.ppf(ERROR, len(TOLD_WELL) * len(SCENARIOS), INTERVAL_PROB))


@pytest.fixture(scope="module")
def kept_fits() -> Engine:
    """The default engine, which fits every campaign once however often it is judged."""
    engine, kept = fitting_engine(), {}

    def fit(campaign, pulls, seed):
        if seed not in kept:
            kept[seed] = engine.fit(campaign, pulls, seed)
        return kept[seed]

    return Engine(fit=fit, answer=engine.answer)


@pytest.fixture(scope="module")
def judged(kept_fits: Engine) -> list[AnswersResult]:
    return [judge_answers(one, kept_fits) for one in SCENARIOS]


def refused(results) -> int:
    return sum(bool(result.refusal) for result in results)


def is_cover_possible(results) -> bool:
    """Whether 90 % is within the limits of the share of all answers' intervals."""
    hits, numbers = [], []
    for result in results:
        for question in answers_campaign().questions:
            answered = result.answers.get(question.name)
            hits.append(answered is not None and answered.in_90)
            numbers.append(result.scenario.number)
    share = clustered_share(hits, numbers, level=1 - ERROR)
    return share is not None and share.lower <= INTERVAL_PROB <= share.upper


def held(results) -> int:
    """How often the middle nine tenths of the draws held what is told well."""
    places = [parameter_labels(dim_names(answers_campaign())).index(name) for name in TOLD_WELL]
    outer = RANKS * (1 - INTERVAL_PROB) / 2
    ranks = [one.parameters[place] for one in results if one.parameters for place in places]
    return sum(outer <= rank < RANKS - outer for rank in ranks)


def test_fits_pass_and_answers_hold_their_truths(judged):
    assert refused(judged) <= 1
    assert is_cover_possible(judged)
    assert held(judged) >= LEAST_HELD
    assert len(share_rows(judged, answers_campaign())) > 20


def test_truths_of_other_campaigns_are_found(judged, kept_fits, monkeypatch):
    """The same fits, each against the truth of the campaign after it."""
    following = {one.seed: SCENARIOS[(place + 1) % 10] for place, one in enumerate(SCENARIOS)}

    def other_truth(scenario):
        return answers_world(following[scenario.seed]), made(scenario)[1]

    monkeypatch.setattr(answers_judging, "made", other_truth)
    assert held([judge_answers(one, kept_fits) for one in SCENARIOS]) < LEAST_HELD


def test_answers_that_are_far_too_sure_are_found(judged, kept_fits):
    """The same fits, the draws of each answer drawn together to a tenth of their width."""

    def sure(question, posterior, pulls, *, looks=()):
        found = kept_fits.answer(question, posterior, pulls, looks=looks)
        middle = found.summary.effect.median
        return replace(found, effect_draws=middle + 0.1 * (found.effect_draws - middle))

    engine = Engine(fit=kept_fits.fit, answer=sure)
    assert not is_cover_possible([judge_answers(one, engine) for one in SCENARIOS])


def test_fits_that_are_refused_are_counted(judged, kept_fits):
    def refusing(campaign, pulls, seed, *, every):
        posterior = kept_fits.fit(campaign, pulls, seed)
        if seed % every:
            return posterior
        check = posterior.fit_check.model_copy(update={"status": "failed"})
        return replace(posterior, fit_check=check)

    def judged_with(every):
        engine = Engine(fit=partial(refusing, every=every), answer=kept_fits.answer)
        return [judge_answers(one, engine) for one in SCENARIOS]

    assert refused(judged_with(2)) >= 5
    # Ten campaigns that are each a hit or a miss as a whole leave wide limits: half is within.
    assert not is_cover_possible(judged_with(1))
