"""One campaign of the table of answers: the whole way, and every answer against its truth.

Simulation-based calibration (Talts et al. 2018) of what a user gets: pulls are written to
a log, the log is imported into a store, what the store holds is fitted, and each question is
asked. Draws of one attempt count whether or not they pass their check; with every retry a
fit that is refused gives no answer, which the table counts against the model.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from math import log
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.errors import KedgewiseError
from model.calibration.answers_campaign import answers_pulls, answers_world
from model.calibration.answers_result import AnswersResult, JudgedAnswer, Region, Said
from model.calibration.censored_lognormal import censored_lognormal_estimate
from model.calibration.demo_again import again_pulls, again_world
from model.calibration.engine import Engine, as_passed, fit_or_why_not
from model.calibration.parameter_draws import parameter_draws
from model.calibration.pooled_normal import pooled_normal_estimate
from model.calibration.result import CENSORED_LOGNORMAL, POOLED_NORMAL, SPREADSHEET, Estimate
from model.calibration.scenario import ANSWERS_AGAIN, ANSWERS_RETRIED, Scenario
from model.calibration.sides import sides
from model.calibration.spreadsheet import spreadsheet_estimate
from model.calibration.thinned_rank import RANKS, least_ess, thinned_rank
from model.calibration.whole_way import as_imported
from model.posterior.posterior import CHAIN, Posterior
from model.questions.answer import Answer
from model.questions.effect import interval
from model.questions.settling import look_finding
from model.records.answer import Finding
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Measure, Question
from model.simulate.true_answer import next_effect, true_effect
from model.simulate.world import World

Array = NDArray[np.float64]

REGIONS: Final[dict[Finding, Region | None]] = {
    Finding.LOWER: -1,
    Finding.NO_PRACTICAL_DIFFERENCE: 0,
    Finding.HIGHER: 1,
    Finding.NOT_SETTLED: None,
}


def judge_answers(
    scenario: Scenario, engine: Engine, *, clock: Callable[[], float] = time.perf_counter
) -> AnswersResult:
    """Run one scenario; a log or a fit that is refused is a result too."""
    world, simulated = made(scenario)
    rng = np.random.default_rng([scenario.seed, 2])
    truths = {question.name: _truth(world, question, rng) for question in world.campaign.questions}
    try:
        with TemporaryDirectory(ignore_cleanup_errors=True) as folder:
            campaign, pulls = as_imported(world.campaign, simulated, Path(folder))
    except KedgewiseError as error:
        refusal = f"the log was not taken: {error.message}"
        return AnswersResult(scenario=scenario, refusal=refusal, fit_seconds=0.0)
    began = clock()
    posterior, refusal = fit_or_why_not(engine, campaign, pulls, scenario.seed)
    not_passed = ""
    if posterior is not None and scenario.table != ANSWERS_RETRIED:
        refusal, not_passed = "", refusal
        posterior = replace(posterior, fit_check=as_passed(posterior.fit_check))
    result = AnswersResult(
        scenario=scenario,
        model_version="" if posterior is None else posterior.provenance.model_version,
        refusal=refusal,
        not_passed=not_passed,
        divergences=0 if posterior is None else posterior.fit_check.divergences,
        fit_seconds=round(clock() - began, 2),
        rivals=_rivals(campaign, pulls, truths),
        rivals_truth=_rivals_truth(campaign, truths),
    )
    if posterior is None or refusal:
        return result
    return result.model_copy(update=_judged(world, truths, posterior, pulls, engine, rng))


def made(scenario: Scenario) -> tuple[World, tuple[Pull, ...]]:
    """The truth of a scenario and its pulls, before anyone writes them down."""
    if scenario.table == ANSWERS_AGAIN:
        world = again_world(scenario)
        return world, again_pulls(scenario, world)
    world = answers_world(scenario)
    return world, answers_pulls(scenario, world)


def _truth(world: World, question: Question, rng: np.random.Generator) -> float:
    """The true effect as answers give it: a ratio or a difference."""
    if question.measure is Measure.NEXT:
        return next_effect(world, question, rng)
    return true_effect(world, question)


def _judged(
    world: World,
    truths: dict[str, float],
    posterior: Posterior,
    pulls: Sequence[Pull],
    engine: Engine,
    rng: np.random.Generator,
) -> dict[str, object]:
    answers, effects = {}, []
    for question in posterior.campaign.questions:
        answer = engine.answer(question, posterior, pulls)
        settled = _settled(question, answer, posterior, pulls, engine)
        answers[question.name] = _judged_answer(answer, truths[question.name], settled, rng)
        effects.append(answer.effect_draws)
    drawn = [(truth, draws) for _, truth, draws in parameter_draws(world, posterior)]
    free = [draws for _, draws in drawn if draws is not None]
    chains = len(np.unique(posterior.draws[CHAIN].to_numpy()))
    return {
        "answers": answers,
        "parameters": tuple(
            None if draws is None else thinned_rank(truth, draws, rng) for truth, draws in drawn
        ),
        "least_ess_answers": least_ess(np.column_stack(effects), chains),
        "least_ess_parameters": least_ess(np.column_stack(free), chains),
    }


def _settled(
    question: Question, look: Answer, posterior: Posterior, pulls: Sequence[Pull], engine: Engine
) -> Region | None:
    """What the rule finds at this look, the one before having said the same."""
    if look_finding(look.summary) is Finding.NOT_SETTLED:
        return None
    again = engine.answer(question, posterior, pulls, looks=(look.summary,))
    return REGIONS[again.summary.finding]


def _judged_answer(
    answer: Answer, truth: float, settled: Region | None, rng: np.random.Generator
) -> JudgedAnswer:
    draws, summary = answer.effect_draws, answer.summary
    return JudgedAnswer(
        truth=round(log(truth) if summary.effect.kind == "ratio" else truth, 5),
        rank=thinned_rank(truth, draws, rng),
        p_higher=round(summary.p_higher, 4),
        p_below=round(summary.p_below_band, 4),
        p_above=round(summary.p_above_band, 4),
        in_50=_is_in(truth, draws, 0.5),
        in_90=_is_in(truth, draws, 0.9),
        settled=settled,
    )


def _is_in(truth: float, draws: Array, prob: float) -> bool:
    ends = interval(draws, prob)
    return ends.lower <= truth <= ends.upper


def rivals_question(campaign: Campaign) -> Question | None:
    """The question that the other estimators can answer: one anchor's typical load, changed."""
    return next(
        (
            question
            for question in campaign.questions
            if question.measure is Measure.TYPICAL
            and question.a.anchor is not None
            and len(campaign.treatments) == len(campaign.seabeds) == 1
        ),
        None,
    )


def _rivals(
    campaign: Campaign, pulls: Sequence[Pull], truths: dict[str, float]
) -> dict[str, Said | None]:
    question = rivals_question(campaign)
    if question is None:
        return {}
    truth = log(truths[question.name])
    band = (log(question.band.lower), log(question.band.upper))
    a, b = sides(campaign, question, pulls)
    estimates = {
        SPREADSHEET: spreadsheet_estimate(a, b, log_band=band, truth=truth),
        CENSORED_LOGNORMAL: censored_lognormal_estimate(a, b, log_band=band, truth=truth),
        POOLED_NORMAL: pooled_normal_estimate(
            campaign, question, pulls, log_band=band, truth=truth
        ),
    }
    return {
        name: None if estimate is None else _said(estimate, truth)
        for name, estimate in estimates.items()
    }


def _rivals_truth(campaign: Campaign, truths: dict[str, float]) -> float:
    question = rivals_question(campaign)
    return 0.0 if question is None else round(log(truths[question.name]), 5)


def _said(estimate: Estimate, truth: float) -> Said:
    return Said(
        rank=min(int(RANKS * estimate.p_below_truth), RANKS - 1),
        p_below=round(estimate.p_below_band, 4),
        p_above=round(estimate.p_above_band, 4),
        in_50=estimate.lower50 <= truth <= estimate.upper50,
        in_90=estimate.lower90 <= truth <= estimate.upper90,
    )
