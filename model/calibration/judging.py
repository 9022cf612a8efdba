"""One simulated campaign: pulled, fitted, asked, and held against its truth."""

import time
from collections.abc import Callable, Sequence
from math import log

import numpy as np

from model.base.errors import FitFailed
from model.calibration.censored_lognormal import censored_lognormal_estimate
from model.calibration.comparison_campaign import (
    comparison_campaign,
    scenario_pulls,
    scenario_world,
)
from model.calibration.engine import Engine
from model.calibration.result import (
    CENSORED_LOGNORMAL,
    SPREADSHEET,
    THIS_MODEL,
    CampaignResult,
    Estimate,
    QuestionResult,
)
from model.calibration.scenario import Scenario
from model.calibration.sides import FirstBite, sides
from model.calibration.spreadsheet import spreadsheet_estimate
from model.posterior.posterior import Posterior
from model.questions.answer import Answer
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question
from model.simulate.true_answer import true_effect

Answers = dict[str, Answer]


def judge_campaign(
    scenario: Scenario, engine: Engine, *, clock: Callable[[], float] = time.perf_counter
) -> CampaignResult:
    """Run one scenario through the whole way.

    A fit that fails its check is a result too: its answers are missing and
    `refusal` says why.
    """
    campaign = comparison_campaign()
    world = scenario_world(scenario, campaign)
    pulls = scenario_pulls(scenario, world)
    began = clock()
    answers, version, refusal = _answers(campaign, pulls, engine, scenario.seed)
    seconds = clock() - began
    results = [
        _result(campaign, question, pulls, _true_value(question, true_effect(world, question)),
                answers.get(question.name))
        for question in campaign.questions
    ]  # fmt: skip
    return CampaignResult(
        scenario=scenario,
        model_version=version,
        comparisons=tuple(
            result
            for question, result in zip(campaign.questions, results, strict=True)
            if question.a.anchor is not None
        ),
        general=tuple(
            result
            for question, result in zip(campaign.questions, results, strict=True)
            if question.a.anchor is None
        ),
        refusal=refusal,
        fit_seconds=round(seconds, 2),
    )


def _answers(
    campaign: Campaign, pulls: Sequence[Pull], engine: Engine, seed: int
) -> tuple[Answers, str, str]:
    """Answers by question (none if refused), the model's version, and the reason of a refusal."""
    try:
        posterior = engine.fit(campaign, pulls, seed)
    except FitFailed as failure:
        return {}, "", failure.message
    version = posterior.provenance.model_version
    if posterior.fit_check.status == "failed":
        return {}, version, _reasons(posterior)
    answers = {
        question.name: engine.answer(question, posterior, pulls) for question in campaign.questions
    }
    return answers, version, ""


def _reasons(posterior: Posterior) -> str:
    return "; ".join(posterior.fit_check.reasons) or "the fit check failed"


def _true_value(question: Question, effect: float) -> float:
    return log(effect) if question.band.kind == "ratio" else effect


def _result(
    campaign: Campaign,
    question: Question,
    pulls: Sequence[Pull],
    truth: float,
    answer: Answer | None,
) -> QuestionResult:
    a, b = sides(campaign, question, pulls)
    return QuestionResult(
        question=question.name,
        scale="log ratio" if question.band.kind == "ratio" else "difference",
        truth=truth,
        pulls_a=len(a),
        pulls_b=len(b),
        held_a=sum(first.is_held for first in a),
        held_b=sum(first.is_held for first in b),
        finding="" if answer is None else answer.summary.finding.value,
        estimates={
            **_alone(question, a, b, truth),
            THIS_MODEL: None if answer is None else model_estimate(answer, truth),
        },
    )


def _alone(
    question: Question, a: Sequence[FirstBite], b: Sequence[FirstBite], truth: float
) -> dict[str, Estimate | None]:
    """The estimators that look at one anchor; not asked in general."""
    if question.a.anchor is None:
        return {}
    log_band = (log(question.band.lower), log(question.band.upper))
    return {
        SPREADSHEET: spreadsheet_estimate(a, b, log_band=log_band, truth=truth),
        CENSORED_LOGNORMAL: censored_lognormal_estimate(a, b, log_band=log_band, truth=truth),
    }


def model_estimate(answer: Answer, truth: float) -> Estimate:
    """Sum up an answer's own draws, on the log scale for ratios.

    Parameters
    ----------
    truth : float
        True log ratio or difference.
    """
    is_ratio = answer.question.band.kind == "ratio"
    draws = np.log(answer.effect_draws) if is_ratio else answer.effect_draws
    lower90, lower50, median, upper50, upper90 = np.quantile(draws, [0.05, 0.25, 0.5, 0.75, 0.95])
    summary = answer.summary
    return Estimate(
        value=float(median),
        lower50=float(lower50),
        upper50=float(upper50),
        lower90=float(lower90),
        upper90=float(upper90),
        p_higher=summary.p_higher,
        p_above_band=summary.p_above_band,
        p_inside_band=summary.p_inside_band,
        p_below_band=summary.p_below_band,
        p_below_truth=float(np.mean(draws < truth)),
    )
