"""One simulated campaign: pulled, fitted, asked, and held against its truth."""

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import log

import numpy as np

from model.calibration.censored_lognormal import censored_lognormal_estimate
from model.calibration.engine import Engine, fit_or_why_not
from model.calibration.result import (
    CENSORED_LOGNORMAL,
    SPREADSHEET,
    THIS_MODEL,
    CampaignResult,
    Estimate,
    QuestionResult,
)
from model.calibration.scenario import COMPARISONS, Scenario
from model.calibration.sides import sides
from model.calibration.simulated import simulate
from model.calibration.spreadsheet import spreadsheet_estimate
from model.questions.alone import FirstBite
from model.questions.answer import Answer
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question
from model.simulate.true_answer import true_effect


@dataclass(frozen=True, kw_only=True)
class _Said:
    """What the engine said of one campaign; answers by question, none if it refused."""

    answers: Mapping[str, Answer] = field(default_factory=dict)
    model_version: str = ""
    refusal: str = ""
    divergences: int = 0


def judge_campaign(
    scenario: Scenario, engine: Engine, *, clock: Callable[[], float] = time.perf_counter
) -> CampaignResult:
    """Run one scenario through the whole way.

    A fit that fails its check is a result too: its answers are missing and
    `refusal` says why.
    """
    campaign, world, pulls = simulate(scenario)
    began = clock()
    said = _ask(campaign, pulls, engine, scenario.seed)
    seconds = clock() - began
    # One anchor's pulls alone are looked at in the comparisons only: a side of the demo's
    # questions mixes seabeds and scopes, which no spreadsheet would put in one mean.
    side_by_side = pulls if scenario.table == COMPARISONS else None
    results = [
        _result(campaign, question, side_by_side,
                _true_value(question, true_effect(world, question)),
                said.answers.get(question.name))
        for question in campaign.questions
    ]  # fmt: skip
    return CampaignResult(
        scenario=scenario,
        model_version=said.model_version,
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
        refusal=said.refusal,
        divergences=said.divergences,
        fit_seconds=round(seconds, 2),
    )


def _ask(campaign: Campaign, pulls: Sequence[Pull], engine: Engine, seed: int) -> _Said:
    posterior, refusal = fit_or_why_not(engine, campaign, pulls, seed)
    if posterior is None:
        return _Said(refusal=refusal)
    return _Said(
        answers={}
        if refusal
        else {
            question.name: engine.answer(question, posterior, pulls)
            for question in campaign.questions
        },
        model_version=posterior.provenance.model_version,
        refusal=refusal,
        divergences=posterior.fit_check.divergences,
    )


def _true_value(question: Question, effect: float) -> float:
    return log(effect) if question.band.kind == "ratio" else effect


def _result(
    campaign: Campaign,
    question: Question,
    pulls: Sequence[Pull] | None,
    truth: float,
    answer: Answer | None,
) -> QuestionResult:
    a, b = ((), ()) if pulls is None else sides(campaign, question, pulls)
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
            **({} if pulls is None else _alone(question, a, b, truth)),
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
