"""The way of the table of answers, with fits that know no pulls: draws of the priors.

Such draws are a right posterior of no pulls at all, so that every rank must be uniform; a
truth worked out otherwise than the answer shows in its ranks, and no sampler is needed.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache, partial

import numpy as np
import pytest
import xarray as xr

from model.base.errors import FitFailed, InputError
from model.base.names import DRAW, PARAMETER_DIMS, PULL
from model.base.priors import DEFAULT_PRIORS
from model.calibration import answers_judging, demo_again, fitting
from model.calibration.answers_campaign import answers_campaign, answers_plans
from model.calibration.answers_judging import judge_answers, made
from model.calibration.answers_result import AnswersResult
from model.calibration.answers_rows import rank_rows, share_rows
from model.calibration.demo_again import again_pulls, demo_pulls, extended_campaign, world_of_draw
from model.calibration.engine import Engine
from model.calibration.result import read_result_as, result_path, write_result
from model.calibration.scenario import (
    ANSWERS,
    ANSWERS_AGAIN,
    ANSWERS_RETRIED,
    Scenario,
    answers_again_plan,
    answers_plan,
)
from model.calibration.uniform_ranks import not_uniform
from model.calibration.whole_way import as_imported
from model.posterior.posterior import CHAIN, LOG_LIKELIHOOD, FitCheck, Posterior, Provenance
from model.questions.ask import answer
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Measure, Question, SetUp
from model.simulate.prior_world import draw_world
from model.simulate.true_answer import true_effect
from model.simulate.world import World, dim_names

POOL = 3000
OWN = 200
CAMPAIGNS = 40
CHAINS = 4


def drawn(campaign: Campaign, count: int) -> xr.Dataset:
    """Draws of the priors as a fit would have them."""
    rng = np.random.default_rng(20)
    worlds = [draw_world(campaign, DEFAULT_PRIORS, rng) for _ in range(count)]
    names = dim_names(campaign)
    return xr.Dataset(
        {
            name: ((DRAW, *dims), np.stack([world.values[name] for world in worlds]))
            for name, dims in PARAMETER_DIMS.items()
        },
        coords={dim: list(labels) for dim, labels in names.items()},
    )


@pytest.fixture(scope="module")
def pool() -> xr.Dataset:
    return drawn(answers_campaign(), POOL)


def posterior_of(draws: xr.Dataset, campaign: Campaign, pulls: Sequence[Pull]) -> Posterior:
    count, ids = draws.sizes[DRAW], tuple(sorted(pull.id for pull in pulls if not pull.is_void))
    chain = np.repeat(np.arange(CHAINS), count // CHAINS)
    return Posterior(
        draws=draws.assign(
            {LOG_LIKELIHOOD: ((DRAW, PULL), np.zeros((count, len(ids))))}
        ).assign_coords({CHAIN: (DRAW, chain), PULL: list(ids)}),
        campaign=campaign,
        provenance=Provenance(
            id="made up",
            pulls_fingerprint="none",
            pull_ids=ids,
            model_version="none",
            priors=DEFAULT_PRIORS.canonical(),
            settings={},
            seed=1,
            made_at=dt.datetime(2026, 8, 1, tzinfo=dt.UTC),
            duration_s=0.0,
        ),
        fit_check=FitCheck(
            status="passed",
            divergences=0,
            rhat_max=1.0,
            bfmi_min=1.0,
            ess_bulk_min=1000,
            ess_tail_min=1000,
        ),
    )


@pytest.fixture(scope="module")
def ignorant(pool: xr.Dataset) -> Engine:
    """Fits that know the priors alone, other draws of them for every campaign."""

    def fit(campaign: Campaign, pulls: Sequence[Pull], seed: int) -> Posterior:
        own = np.random.default_rng([seed, 7]).choice(POOL, OWN, replace=False)
        return posterior_of(pool.isel({DRAW: own}), campaign, pulls)

    return Engine(fit=fit, answer=partial(answer, table=()))


@pytest.fixture(scope="module")
def judged(ignorant: Engine) -> list[AnswersResult]:
    with pytest.MonkeyPatch.context() as patch:
        quickly(patch)
        return [judge_answers(one, ignorant) for one in answers_plan(CAMPAIGNS).scenarios]


def quickly(patch: pytest.MonkeyPatch) -> None:
    """Without flags, by which nothing here is told, and the best load's truth to 0.005 alone."""
    patch.setattr("model.questions.ask.find_flags", lambda *_: ())
    patch.setattr("model.simulate.true_answer.BEST_PULLS", 20_000)


def test_every_answer_and_parameter_of_right_draws_is_calibrated(
    judged: list[AnswersResult],
) -> None:
    campaign = answers_campaign()
    rows = rank_rows(judged, campaign)
    assert len(rows) == len(campaign.questions) + 96
    assert not_uniform(rows, 0.01) == ()
    assert [row.name for row in share_rows(judged, campaign) if not row.is_within] == []


def test_every_measure_is_asked() -> None:
    assert {question.measure for question in answers_campaign().questions} == set(Measure)


def test_a_truth_worked_out_otherwise_is_called_off(
    ignorant: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another measure's truth for that of upright: it is found, and only there."""

    def of_another_measure(world: World, question: Question) -> float:
        other = {Measure.UPRIGHT: Measure.SETS}.get(question.measure, question.measure)
        return true_effect(world, question.model_copy(update={"measure": other}))

    asked = (Measure.UPRIGHT, Measure.SETS)
    campaign = answers_campaign()
    few = tuple(question for question in campaign.questions if question.measure in asked)
    campaign = campaign.model_copy(update={"questions": few})
    quickly(monkeypatch)
    monkeypatch.setattr(answers_judging, "true_effect", of_another_measure)
    monkeypatch.setattr(answers_judging, "_rivals", lambda *_: {})
    monkeypatch.setattr(answers_judging, "_rivals_truth", lambda *_: 0.0)
    monkeypatch.setattr("model.calibration.answers_campaign.answers_campaign", lambda: campaign)
    results = [judge_answers(one, ignorant) for one in answers_plan(CAMPAIGNS).scenarios]
    off = {row.name for row in not_uniform(rank_rows(results, campaign), 0.01)}
    assert off == {"answer, upright of one anchor", "answer, upright in general"}


def test_a_result_is_short_and_comes_back(judged: list[AnswersResult], tmp_path) -> None:
    for result in judged:
        write_result(tmp_path, result)
        assert result_path(tmp_path, result.scenario).stat().st_size <= 3000
        assert read_result_as(AnswersResult, tmp_path, result.scenario) == result


def test_what_is_imported_is_what_was_pulled(tmp_path) -> None:
    pulls: list[Pull] = []
    for scenario in answers_plan(20).scenarios:
        world, simulated = made(scenario)
        folder = tmp_path / str(scenario.number)
        folder.mkdir()
        assert as_imported(world.campaign, simulated, folder) == (world.campaign, simulated)
        pulls += simulated
    endings = {str(bite.ending) for pull in pulls for bite in pull.bites}
    starts = {str(bite.start) for pull in pulls for bite in pull.bites}
    assert {"held", "released", "stopped", "never_set"} <= endings
    assert {"after_slip", "after_turn"} <= starts
    assert len(answers_plans()) == 12


def test_the_fit_gets_what_the_log_says(ignorant: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    """A writer that loses a column: what is fitted must miss it, too."""
    seen: list[Pull] = []

    def fit(campaign: Campaign, pulls: Sequence[Pull], seed: int) -> Posterior:
        seen.extend(pulls)
        return ignorant.fit(campaign, pulls, seed)

    import model.ingest.log_writer as writer

    assert any(bite.buried for pull in made(first(ANSWERS))[1] for bite in pull.bites)
    monkeypatch.setitem(writer._BITE, "buried_m", lambda _: "")
    judge_answers(first(ANSWERS), Engine(fit=fit, answer=ignorant.answer))
    assert len(seen) == 12
    assert not any(bite.buried for pull in seen for bite in pull.bites)


def first(table: str) -> Scenario:
    plan = {ANSWERS: answers_plan, ANSWERS_AGAIN: answers_again_plan}[table]
    return plan().scenarios[0]


def never(*_: object) -> Posterior:
    raise FitFailed("12 divergences")


def test_a_refused_fit_is_a_result_with_what_the_others_say(ignorant: Engine) -> None:
    result = judge_answers(first(ANSWERS), Engine(fit=never, answer=ignorant.answer))
    assert result.refusal == "12 divergences"
    assert result.answers == {}
    assert set(result.rivals) == {"spreadsheet", "censored_lognormal", "pooled_normal"}


def test_a_log_that_the_importer_does_not_take_is_a_refusal(
    ignorant: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise InputError("line 3: no such ending")

    monkeypatch.setattr(answers_judging, "as_imported", refuse)
    result = judge_answers(first(ANSWERS), ignorant)
    assert result.refusal == "the log was not taken: line 3: no such ending"


Asked = Callable[..., object]


def test_a_finding_is_asked_for_with_the_look_before(ignorant: Engine) -> None:
    """Every answer with 0.95 in a region is asked for twice, and no other one."""
    looks: dict[str, list[int]] = {}

    def ask(question, posterior, pulls, *, looks_seen=looks, looks=()):
        looks_seen.setdefault(question.name, []).append(len(looks))
        return ignorant.answer(question, posterior, pulls, looks=looks)

    result = judge_answers(first(ANSWERS), Engine(fit=ignorant.fit, answer=ask))
    for name, answered in result.answers.items():
        is_claimed = max(answered.shares.values()) >= 0.95
        assert looks[name] == ([0, 1] if is_claimed else [0])


def test_a_draw_is_a_truth() -> None:
    campaign = extended_campaign()
    draws = drawn(campaign, 8)
    posterior = posterior_of(draws, campaign, ())
    world = world_of_draw(posterior, 5)
    for name, dims in PARAMETER_DIMS.items():
        assert np.array_equal(world.values[name], draws[name].isel(draw=5).to_numpy()), dims
    other = world_of_draw(posterior, 6)
    assert world.value("load_base") != other.value("load_base")


def test_around_the_demo_twelve_pulls_are_more_than_its_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    campaign = extended_campaign()
    posterior = posterior_of(drawn(campaign, 8), campaign, ())
    fitted: list[int] = []

    def fit(campaign: Campaign, pulls: Sequence[Pull], seed: int) -> Posterior:
        fitted.append(len(pulls))
        return posterior

    fits_with(fit, monkeypatch)
    worlds = [demo_again.again_world(one) for one in answers_again_plan(3).scenarios]
    assert fitted == [len(demo_pulls())]  # once a process
    pulls = again_pulls(first(ANSWERS_AGAIN), worlds[0])
    assert pulls[: fitted[0]] == demo_pulls()
    more = pulls[fitted[0] :]
    assert len(more) == 12
    assert {pull.outing for pull in more} == {"day 7", "day 8"}
    assert len({world.value("load_base") for world in worlds}) > 1


def fits_with(fit: Callable[..., Posterior], monkeypatch: pytest.MonkeyPatch) -> None:
    """Put another fit in the place of that of the demo's pulls."""
    monkeypatch.setattr(fitting, "fitting_engine", lambda: Engine(fit=fit, answer=answer))
    monkeypatch.setattr(demo_again, "demo_fit", cache(demo_again.demo_fit.__wrapped__))


def test_a_demo_fit_that_is_refused_breaks_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    fits_with(never, monkeypatch)
    with pytest.raises(FitFailed, match="no truths"):
        demo_again.again_world(first(ANSWERS_AGAIN))


@pytest.mark.parametrize("table", [ANSWERS, ANSWERS_AGAIN, ANSWERS_RETRIED])
def test_draws_that_did_not_pass_count_unless_there_are_retries(
    ignorant: Engine, table: str
) -> None:
    def fit(campaign: Campaign, pulls: Sequence[Pull], seed: int) -> Posterior:
        posterior = ignorant.fit(campaign, pulls, seed)
        failed = {"status": "failed", "reasons": ("3 divergences",)}
        return replace(posterior, fit_check=posterior.fit_check.model_copy(update=failed))

    scenario = answers_plan().scenarios[0].model_copy(update={"table": table})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(answers_judging, "made", lambda _: made(first(ANSWERS)))
        result = judge_answers(scenario, Engine(fit=fit, answer=ignorant.answer))
    if table == ANSWERS_RETRIED:
        assert (result.refusal, result.not_passed, result.answers) == ("3 divergences", "", {})
    else:
        assert (result.refusal, result.not_passed) == ("", "3 divergences")
        assert len(result.answers) == 15


def test_other_estimators_are_asked_of_one_anchor_alone() -> None:
    campaign = answers_campaign()
    question = answers_judging.rivals_question(campaign)
    assert question is not None
    assert (question.measure, question.b) == (Measure.TYPICAL, SetUp(anchor="K1"))
    assert answers_judging.rivals_question(extended_campaign()) is None
