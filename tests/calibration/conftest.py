"""A stand-in for fitting and asking: it knows the truth and is off by a known amount."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import xarray as xr

from model.base.names import PARAMETER_DIMS
from model.calibration.engine import Engine
from model.calibration.fitting import fitting_engine
from model.calibration.scenario import COMPARISONS, Scenario, comparisons_plan
from model.calibration.simulated import simulate
from model.inference.settings import Settings
from model.posterior.posterior import FitCheck, Posterior, Provenance
from model.questions.answer import Answer, Estimate, Side
from model.records.answer import (
    AnswerSummary,
    BandSummary,
    Effect,
    Finding,
    Interval,
    PosteriorSummary,
    PullsSummary,
    QuestionSummary,
    SidePulls,
)
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question
from model.simulate.true_answer import true_effect
from model.simulate.world import World

SPREAD = 0.1
DRAWS = 2000
MADE_AT = dt.datetime(2026, 5, 4, tzinfo=dt.UTC)


def _posterior(campaign: Campaign, seed: int, status: str, divergences: int) -> Posterior:
    return Posterior(
        draws=xr.Dataset(),
        campaign=campaign,
        provenance=Provenance(
            id="made up",
            pulls_fingerprint="none",
            pull_ids=(),
            model_version="none",
            priors={},
            settings={},
            seed=seed,
            made_at=MADE_AT,
            duration_s=0.0,
        ),
        fit_check=FitCheck(
            status="passed" if status == "passed" else "failed",
            reasons=() if status == "passed" else ("3 divergences",),
            divergences=divergences,
            rhat_max=1.0,
            bfmi_min=1.0,
            ess_bulk_min=1000,
            ess_tail_min=1000,
        ),
    )


def _answer(question: Question, draws: np.ndarray) -> Answer:
    is_ratio = question.band.kind == "ratio"
    effect = np.exp(draws) if is_ratio else draws
    interval = Interval(prob=0.9, lower=float(effect.min()), upper=float(effect.max()))
    nothing = Estimate(median=0.0, interval=interval, unit="none")
    side = Side(
        label="made up",
        value=nothing,
        load_upright=nothing,
        load_on_side=nothing,
        p_upright=nothing,
        p_sets=nothing,
    )
    below = float(np.mean(effect < question.band.lower))
    above = float(np.mean(effect > question.band.upper))
    none = SidePulls(count=0, held=0, void=0)
    summary = AnswerSummary(
        question=QuestionSummary(
            name=question.name,
            a=question.a.describe(),
            b=question.b.describe(),
            seabed="sand",
            measure=question.measure,
            band=BandSummary(
                kind=question.band.kind, lower=question.band.lower, upper=question.band.upper
            ),
        ),
        pulls=PullsSummary(a=none, b=none, shared_outings=0),
        p_higher=float(np.mean(draws > 0)),
        p_above_band=above,
        p_inside_band=1 - above - below,
        p_below_band=below,
        effect=Effect(kind=question.band.kind, unit="", median=1.0, interval=interval),
        finding=Finding.NOT_SETTLED,
        sentence="made up",
        posterior=PosteriorSummary(id="made up", state="full", pulls=0, fit_check="passed"),
    )
    return Answer(
        question=question,
        summary=summary,
        effect_draws=effect,
        a=side,
        b=side,
        split=None,
        measures=(),
        multiples=None,
        chances_in_ten=None,
    )


@cache
def _world(scenario: Scenario) -> World:
    """The truth of a scenario, for all its questions and every test that asks of it."""
    return simulate(scenario)[1]


def knowing_engine(
    *,
    bias: float = 0.0,
    status: str = "passed",
    divergences: int = 0,
    scenarios: Sequence[Scenario] = comparisons_plan().scenarios,
) -> Engine:
    """An engine that recomputes the truth from the seed and errs as widely as it says."""
    known = {scenario.seed: scenario for scenario in scenarios}

    def fit(campaign: Campaign, pulls: Sequence[Pull], seed: int) -> Posterior:
        return _posterior(campaign, seed, status, divergences)

    def answer(question: Question, posterior: Posterior, pulls: Sequence[Pull]) -> Answer:
        seed = posterior.provenance.seed
        world = _world(known[seed])
        names = [standing.name for standing in posterior.campaign.questions]
        rng = np.random.default_rng([seed, names.index(question.name)])
        effect = true_effect(world, question)
        truth = np.log(effect) if question.band.kind == "ratio" else effect
        centre = truth + bias + rng.normal(0.0, SPREAD)
        return _answer(question, rng.normal(centre, SPREAD, DRAWS))

    return Engine(fit=fit, answer=answer)


@pytest.fixture
def make_knowing_engine() -> Callable[..., Engine]:
    """Make the stand-in; `bias` in effect, `status` of its fit check."""
    return knowing_engine


TruthAsDraw = Callable[[World, xr.Dataset], dict[str, np.ndarray]]


def truth_as_draw_of(world: World, arrays: xr.Dataset) -> dict[str, np.ndarray]:
    """The truth as one draw, by the coordinates that the arrays use."""
    draws = {}
    for name, dims in PARAMETER_DIMS.items():
        truth = xr.DataArray(world.values[name], coords={d: list(world.names[d]) for d in dims},
                             dims=dims)  # fmt: skip
        wider = {d: arrays[d].to_numpy() for d in dims if d in {"site", "gauge"}}
        # Places that the simulator does not know take no part in any pull here.
        filled = truth.reindex(wider, fill_value=0.02) if wider else truth
        draws[name] = filled.to_numpy()[None].astype(float)
    return draws


@pytest.fixture(scope="session")
def truth_as_draw() -> TruthAsDraw:
    """The truth of a world as the parameters that the likelihood takes."""
    return truth_as_draw_of


ROUGH = Settings(chains=2, tune=200, draws=200, targets=(0.9,), lengths=(1,), cores=2)
"""For fits of wrong data, which sample badly: rough intervals show the fault well enough."""


@pytest.fixture(scope="session")
def rough_engine() -> Engine:
    """Real fits, judged whatever the fit check says: a refusal would hide a fault's size."""
    engine = fitting_engine(ROUGH)

    def fit(campaign: Campaign, pulls: Sequence[Pull], seed: int) -> Posterior:
        posterior = engine.fit(campaign, pulls, seed)
        passed = posterior.fit_check.model_copy(update={"status": "passed"})
        return replace(posterior, fit_check=passed)

    return Engine(fit=fit, answer=engine.answer)


@pytest.fixture
def scenarios() -> tuple[Scenario, ...]:
    """Six campaigns of the published plan, three of each kind."""
    plan = comparisons_plan()
    assert plan.table == COMPARISONS
    return plan.scenarios[:6]
