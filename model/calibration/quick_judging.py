"""One campaign of the table of quick answers: weighed in, and held against the full fit."""

import time
from collections.abc import Callable, Sequence

from model.base.errors import FitFailed
from model.calibration.comparison_campaign import (
    comparison_campaign,
    scenario_pulls,
    scenario_world,
)
from model.calibration.engine import Engine
from model.calibration.quick_result import QuickResult, TwoAnswers
from model.calibration.sand_campaign import OUTINGS
from model.calibration.scenario import Scenario
from model.posterior.posterior import Posterior
from model.questions.additions import additions
from model.questions.answer import Answer
from model.questions.monte_carlo import indicator_mcse
from model.questions.quick import Withheld, weigh_in, why_not
from model.questions.weights import Weights
from model.records.campaign import Campaign
from model.records.pull import Pull

FULL_SEED_SHIFT = 500_000
"""Apart from the first fit's seed: the two fits' luck must not be the same."""


def judge_quick(
    scenario: Scenario, engine: Engine, *, clock: Callable[[], float] = time.perf_counter
) -> QuickResult:
    """Run one scenario; a fit that fails its check is a result too."""
    campaign, pulls = quick_campaign(scenario)
    known = pulls[: len(pulls) - scenario.new_pulls]
    began = clock()
    try:
        first = _passed(engine.fit(_known_then(scenario, campaign), known, scenario.seed))
        full = _passed(engine.fit(campaign, pulls, scenario.seed + FULL_SEED_SHIFT))
    except FitFailed as failure:
        return QuickResult(
            scenario=scenario, refusal=failure.message, fit_seconds=round(clock() - began, 2)
        )
    said = _said(scenario, engine, first, full, pulls)
    return said.model_copy(update={"fit_seconds": round(clock() - began, 2)})


def quick_campaign(scenario: Scenario) -> tuple[Campaign, tuple[Pull, ...]]:
    """The campaign and its pulls, the new ones last; the same ones every time."""
    campaign = comparison_campaign()
    pulls = scenario_pulls(scenario, scenario_world(scenario, campaign))
    if not scenario.is_new_day:
        return campaign, pulls
    before = sum(pull.outing != OUTINGS[-1] for pull in pulls)
    return campaign, pulls[: before + scenario.new_pulls]


def _known_then(scenario: Scenario, campaign: Campaign) -> Campaign:
    """The campaign at the first fit: it does not name a day that is still to come."""
    days = campaign.outings[:-1] if scenario.is_new_day else campaign.outings
    return campaign.model_copy(update={"outings": days})


def _passed(posterior: Posterior) -> Posterior:
    if posterior.fit_check.status == "failed":
        raise FitFailed("; ".join(posterior.fit_check.reasons) or "the fit check failed")
    return posterior


def _said(
    scenario: Scenario,
    engine: Engine,
    first: Posterior,
    full: Posterior,
    pulls: Sequence[Pull],
) -> QuickResult:
    known = [pull for pull in pulls if pull.id in set(first.provenance.pull_ids)]
    more = additions(first.campaign, known, full.campaign, pulls)
    if more is None or len(more.pulls) != scenario.new_pulls:
        raise FitFailed(f"campaign {scenario.number} did not come out as it was planned")
    reasons: list[str] = []

    def watched(weights: Weights) -> str:
        """Note what the rule says, and go on: what was withheld is of interest, too."""
        reasons.append(why_not(weights))
        return ""

    quick = weigh_in(first, more, rule=watched)
    if isinstance(quick, Withheld) or quick.weighed is None:
        raise FitFailed(f"campaign {scenario.number} was not weighed")
    return QuickResult(
        scenario=scenario,
        model_version=full.provenance.model_version,
        fit_seconds=0.0,
        withheld=reasons[0],
        pareto_k=quick.weighed.pareto_k,
        effective_draws=quick.weighed.effective_draws,
        answers=tuple(
            _compared(
                engine.answer(question, quick, pulls),
                engine.answer(question, full, pulls),
                quick,
                full,
            )
            for question in full.campaign.questions
        ),
    )


def _compared(by_quick: Answer, by_full: Answer, quick: Posterior, full: Posterior) -> TwoAnswers:
    none = 1.0 if by_full.question.band.kind == "ratio" else 0.0
    quick_mcse, full_mcse = (
        indicator_mcse((answer.effect_draws > none).astype(float), posterior)
        for answer, posterior in ((by_quick, quick), (by_full, full))
    )
    return TwoAnswers(
        question=by_full.question.name,
        quick=by_quick.summary.p_higher,
        full=by_full.summary.p_higher,
        quick_mcse=quick_mcse,
        full_mcse=full_mcse,
    )
