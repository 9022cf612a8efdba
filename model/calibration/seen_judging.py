"""One campaign of the table of what is seen: pulled, fitted, and held against its truth."""

import time
from collections.abc import Callable, Sequence
from itertools import product
from math import log

import numpy as np

from model.arrays.campaign_arrays import level_vector, log_mass_ratios
from model.calibration.engine import Engine, fit_or_why_not
from model.calibration.judging import model_estimate
from model.calibration.lost_camera_campaign import (
    lost_camera_campaign,
    lost_camera_pulls,
    lost_camera_world,
)
from model.calibration.result import THIS_MODEL, QuestionResult
from model.calibration.sand_campaign import OUTINGS, SEABED
from model.calibration.scenario import BURIAL_AND_SIGNS, LOST_CAMERA, NOT_SEEN_TERM, Scenario
from model.calibration.seen_campaign import seen_campaign, seen_pulls, seen_world
from model.calibration.seen_result import Chance, SeenResult, SetUpChance, UnseenBite
from model.outcomes.prediction import SetUpRow, predict, sigmoid
from model.posterior.posterior import Posterior
from model.questions.bite_modes import bite_modes
from model.questions.effect import parameters_of
from model.records.campaign import Campaign
from model.records.pull import Bite, Pull
from model.records.question import Question
from model.simulate.nature import chance_upright
from model.simulate.plan import Plan
from model.simulate.pull import LivedPull
from model.simulate.true_answer import true_effect
from model.simulate.world import World


def simulated(scenario: Scenario) -> tuple[Campaign, World, tuple[LivedPull, ...]]:
    """The campaign of a scenario, its truth, and its pulls; the same ones every time."""
    if scenario.table == LOST_CAMERA:
        campaign = lost_camera_campaign()
        world = lost_camera_world(scenario, campaign)
        return campaign, world, lost_camera_pulls(scenario, world)
    campaign = seen_campaign()
    world = seen_world(scenario, campaign)
    return campaign, world, seen_pulls(scenario, world)


def judge_seen(
    scenario: Scenario, engine: Engine, *, clock: Callable[[], float] = time.perf_counter
) -> SeenResult:
    """Run one scenario; a fit that fails its check is a result too."""
    campaign, world, lived = simulated(scenario)
    pulls = tuple(one.pull for one in lived)
    began = clock()
    posterior, refusal = fit_or_why_not(engine, campaign, pulls, scenario.seed)
    other, refusal_without = (
        fit_or_why_not(
            engine, campaign, [stripped(pull, scenario.without) for pull in pulls], scenario.seed
        )
        if scenario.without and not refusal
        else (None, "")
    )
    seconds = clock() - began
    is_answered = posterior is not None and not refusal
    return SeenResult(
        scenario=scenario,
        model_version="" if posterior is None else posterior.provenance.model_version,
        refusal=refusal,
        refusal_without=refusal_without,
        divergences=0 if posterior is None else posterior.fit_check.divergences,
        fit_seconds=round(seconds, 2),
        questions=tuple(
            _question(question, world, posterior if is_answered else None, engine, pulls)
            for question in campaign.questions
        ),
        bites=_unseen(posterior, lived) if posterior is not None and is_answered else (),
        chances=_chances(world, posterior, None if refusal_without else other)
        if posterior is not None and is_answered
        else (),
    )


def stripped(pull: Pull, of_what: str) -> Pull:
    """A pull without some of what was seen, as if it had not been written down."""
    return pull.model_copy(update={"bites": tuple(_bare(bite, of_what) for bite in pull.bites)})


def _bare(bite: Bite, of_what: str) -> Bite:
    if of_what == BURIAL_AND_SIGNS:
        return bite.model_copy(update={"buried": None, "signs": {}})
    if of_what == NOT_SEEN_TERM and bite.has_camera and bite.mode is None:
        return bite.model_copy(update={"has_camera": None})
    return bite


def _question(
    question: Question,
    world: World,
    posterior: Posterior | None,
    engine: Engine,
    pulls: Sequence[Pull],
) -> QuestionResult:
    truth = true_value(question, world)
    answer = None if posterior is None else engine.answer(question, posterior, pulls)
    return QuestionResult(
        question=question.name,
        scale="log ratio" if question.band.kind == "ratio" else "difference",
        truth=truth,
        pulls_a=0,
        pulls_b=0,
        held_a=0,
        held_b=0,
        finding="" if answer is None else answer.summary.finding.value,
        estimates={THIS_MODEL: None if answer is None else model_estimate(answer, truth)},
    )


def true_value(question: Question, world: World) -> float:
    """The true log ratio or difference of a question."""
    effect = true_effect(world, question)
    return log(effect) if question.band.kind == "ratio" else effect


def _unseen(posterior: Posterior, lived: Sequence[LivedPull]) -> tuple[UnseenBite, ...]:
    truths = {one.pull.id: one.upright for one in lived}
    return tuple(
        UnseenBite(
            p_upright=min(max(bite.p_upright, 0.0), 1.0),
            is_upright=truths[bite.pull][bite.bite - 1],
            had_camera=bite.has_camera,
        )
        for bite in bite_modes(posterior, [one.pull for one in lived])
        if bite.seen is None
    )


def _chances(
    world: World, posterior: Posterior, other: Posterior | None
) -> tuple[SetUpChance, ...]:
    plans = _set_ups(world.campaign)
    known = _upright(posterior, plans)
    without = [None] * len(plans) if other is None else _upright(other, plans)
    return tuple(
        SetUpChance(
            set_up=" ".join((plan.anchor, *plan.levels.values())),
            truth=chance_upright(world, plan),
            known=known[place],
            without=without[place],
        )
        for place, plan in enumerate(plans)
    )


def _set_ups(campaign: Campaign) -> list[Plan]:
    """Every anchor at every level of its campaign's treatments."""
    treatments = [treatment.name for treatment in campaign.treatments]
    return [
        Plan(
            outing=OUTINGS[0],
            anchor=anchor.code,
            seabed=SEABED,
            code="truth",
            levels=dict(zip(treatments, levels, strict=True)),
        )
        for anchor in campaign.anchors
        for levels in product(*(treatment.levels for treatment in campaign.treatments))
    ]


def _upright(posterior: Posterior, plans: Sequence[Plan]) -> list[Chance]:
    """Chance of upright of every set-up, on fresh ground and an average day."""
    campaign = posterior.campaign
    codes = [anchor.code for anchor in campaign.anchors]
    rows = [
        SetUpRow(
            anchor_index=codes.index(plan.anchor),
            seabed_index=0,
            level=tuple(level_vector(campaign, dict(plan.levels))),
            inverse_scope_shift=0.0,
        )
        for plan in plans
    ]
    rng = np.random.default_rng(0)
    found = predict(parameters_of(posterior), rows, log_mass_ratios(campaign), rng)
    draws = sigmoid(found.logit_upright)
    lower, upper = np.quantile(draws, [0.05, 0.95], axis=0)
    return [
        Chance(
            mean=float(draws[:, place].mean()),
            sd=float(draws[:, place].std()),
            lower90=float(lower[place]),
            upper90=float(upper[place]),
        )
        for place in range(len(plans))
    ]
