"""The table of what is seen, on results whose calibration is known."""

from functools import partial
from pathlib import Path

import numpy as np
import pytest

from model.base.errors import FitFailed
from model.calibration.engine import Engine
from model.calibration.result import THIS_MODEL, Estimate, QuestionResult
from model.calibration.run import run_campaigns
from model.calibration.scenario import (
    BURIAL_AND_SIGNS,
    NOT_SEEN_TERM,
    WHAT_IS_SEEN,
    read_plan,
    what_is_seen_plan,
    write_plan,
)
from model.calibration.seen_campaign import seen_campaign, seen_plans, seen_pulls, seen_world
from model.calibration.seen_judging import judge_seen, stripped
from model.calibration.seen_result import Chance, SeenResult, SetUpChance, UnseenBite
from model.calibration.seen_table import seen_means, seen_rows
from model.calibration.tables import write_table
from model.questions.ask import answer
from model.records.pull import Ending, ModeSeen
from model.simulate.campaign import live_campaign
from model.simulate.plan import Protocol

PUBLISHED = Path(__file__).parent / "results" / WHAT_IS_SEEN
COUNT = 280
SPREAD = 0.2


def chance_of(mean, sd):
    return Chance(mean=mean, sd=sd, lower90=mean - 1.645 * sd, upper90=mean + 1.645 * sd)


def _question(rng, bias):
    truth = rng.normal()
    middle = truth + bias + rng.normal(0, SPREAD)
    estimate = Estimate(
        value=middle,
        lower50=middle - 0.674 * SPREAD,
        upper50=middle + 0.674 * SPREAD,
        lower90=middle - 1.645 * SPREAD,
        upper90=middle + 1.645 * SPREAD,
        p_higher=0.5,
        p_above_band=0.5,
        p_inside_band=0.0,
        p_below_band=0.5,
        p_below_truth=0.5,
    )
    return QuestionResult(question="load", scale="log ratio", truth=truth, pulls_a=0, pulls_b=0,
                          held_a=0, held_b=0, estimates={THIS_MODEL: estimate})  # fmt: skip


def results(*, flattery=0.0, bias=0.0, bias_of_cameras=0.0):
    """Stand-ins: stated chances are true but for `flattery`, intervals but for `bias`.

    With `bias_of_cameras` those with a camera flatter by so much and those without shame by
    as much: together they look right.
    """
    rng = np.random.default_rng(5)
    made = []
    for scenario in what_is_seen_plan(COUNT).scenarios:
        stated = rng.beta(0.6, 0.6, 12)
        cameras = rng.random(stated.size) < 0.5
        off = flattery + np.where(cameras, bias_of_cameras, -bias_of_cameras)
        bites = tuple(
            UnseenBite(p_upright=p, is_upright=bool(is_upright), had_camera=bool(had_camera))
            for p, is_upright, had_camera in zip(
                stated, rng.random(stated.size) < stated - off, cameras, strict=True
            )
        )
        truth = float(rng.uniform(0.3, 0.7))
        chances = (
            SetUpChance(
                set_up="K1 off",
                truth=truth,
                known=chance_of(truth + rng.normal(0, 0.05), 0.1),
                without=chance_of(truth - 0.2 + rng.normal(0, 0.05), 0.2)
                if scenario.without
                else None,
            ),
        )
        questions = (_question(rng, bias),)
        made.append(
            SeenResult(
                scenario=scenario,
                model_version="none",
                fit_seconds=1.0,
                bites=bites,
                chances=chances,
                questions=questions,
            )
        )
    return made


def test_the_committed_plan_is_the_one_the_code_makes():
    plan = read_plan(PUBLISHED)
    assert plan == what_is_seen_plan()
    kinds = [(scenario.truth, scenario.without) for scenario in plan.scenarios]
    assert kinds.count(("camera lost", NOT_SEEN_TERM)) == 60
    assert kinds.count(("prior", BURIAL_AND_SIGNS)) == 100
    assert kinds.count(("prior", "")) == 400


def test_true_chances_are_within_the_limits_and_flattering_ones_outside():
    honest, flattering = seen_rows(results()), seen_rows(results(flattery=0.1))
    assert len(honest) == 10
    assert all(row.is_within for row in honest)
    of_bites = [row for row in flattering if row.name.startswith("unseen")]
    assert sum(not row.is_within for row in of_bites) >= 3


def test_what_a_camera_missed_is_held_apart_from_what_none_looked_at():
    rows = {row.name: row for row in seen_rows(results(bias_of_cameras=0.1))}
    used, none = (rows[f"unseen, {words}"] for words in (
        "though a camera was used", "for want of a camera",
    ))  # fmt: skip
    assert used.share.upper < used.expected
    assert none.share.lower > none.expected


def test_a_biased_interval_is_outside():
    row = next(row for row in seen_rows(results(bias=0.3)) if row.name == "effect, load")
    assert not row.is_within
    assert row.share.upper < row.expected


def test_only_truths_from_the_priors_count_for_calibration():
    rows = seen_rows(results())
    lost = sum(scenario.truth == "camera lost" for scenario in what_is_seen_plan(COUNT).scenarios)
    assert rows[-1].share.count == COUNT - lost
    assert lost == 30


def test_narrowing_and_the_lost_camera_are_what_was_put_in():
    factor, with_term, without, changed = (row.mean for row in seen_means(results()))
    assert changed.value == pytest.approx(-0.2, abs=0.03)
    assert factor.value == pytest.approx(0.5)
    assert with_term.lower < 0 < with_term.upper
    assert without.value == pytest.approx(-0.2, abs=0.03)
    assert without.upper < 0


def test_a_refused_fit_is_a_miss_and_the_table_says_so(tmp_path):
    def never_fits():
        def fit(*_):
            raise FitFailed("12 divergences")

        return Engine(fit=fit, answer=None)

    plan = what_is_seen_plan(4)
    write_plan(plan, tmp_path)
    assert run_campaigns(plan.scenarios, tmp_path, never_fits) == 4
    text = write_table(tmp_path).read_text(encoding="utf-8")
    assert "4 fits refused" in text
    assert "OUTSIDE the limits: effect, typical of one anchor" in text
    assert "| effect, typical of one anchor | 4 | 90.0 % | 0.0 %" in text
    assert run_campaigns(plan.scenarios, tmp_path, never_fits) == 0


def test_a_scenario_is_the_same_every_time_and_knows_its_modes():
    campaign = seen_campaign()
    seen = {True: [], False: []}
    for scenario in what_is_seen_plan(60).scenarios:
        lived = seen_pulls(scenario, seen_world(scenario, campaign))
        assert lived == seen_pulls(scenario, seen_world(scenario, campaign))
        assert len(lived) == 18
        for one in lived:
            bites = [bite for bite in one.pull.bites if bite.ending is not Ending.NEVER_SET]
            for bite, is_upright in zip(bites, one.upright, strict=True):
                if bite.mode is not None:
                    seen[is_upright].append((bite.mode is ModeSeen.UPRIGHT) == is_upright)
    assert min(len(calls) for calls in seen.values()) > 50
    assert all(np.mean(calls) > 0.9 for calls in seen.values())


def test_a_turn_that_did_not_set_has_no_mode():
    campaign = seen_campaign()
    world = seen_world(what_is_seen_plan().scenarios[0], campaign)
    always = Protocol(turn_chance=1.0)
    lived = live_campaign(world, seen_plans(), always, np.random.default_rng(0))
    turned = [
        one for one in lived if len(one.pull.bites) > 1 and one.pull.ending is Ending.NEVER_SET
    ]
    assert turned
    assert all(len(one.upright) == len(one.pull.bites) - 1 for one in turned)


def test_where_the_camera_is_lost_it_is_lost_in_what_digs_in():
    campaign = seen_campaign()
    lost = {True: [], False: []}
    for scenario in what_is_seen_plan().scenarios:
        if scenario.truth != "camera lost":
            continue
        for one in seen_pulls(scenario, seen_world(scenario, campaign)):
            for bite, is_upright in zip(one.pull.bites, one.upright, strict=False):
                lost[is_upright].append(bite.mode is None)
    assert np.mean(lost[True]) == pytest.approx(0.78, abs=0.04)
    assert np.mean(lost[False]) == pytest.approx(0.22, abs=0.04)


@pytest.mark.parametrize("without", [BURIAL_AND_SIGNS, NOT_SEEN_TERM])
def test_a_stripped_pull_differs_in_nothing_else(without):
    campaign = seen_campaign()
    scenario = what_is_seen_plan().scenarios[0]
    pulls = [one.pull for one in seen_pulls(scenario, seen_world(scenario, campaign))]
    bare = [stripped(pull, without) for pull in pulls]
    assert bare != pulls
    hidden = {"buried", "signs"} if without == BURIAL_AND_SIGNS else {"has_camera"}
    seen = [bite for pull in pulls for bite in pull.bites if bite.mode is not None]
    left_seen = [bite for pull in bare for bite in pull.bites if bite.mode is not None]
    assert [bite.has_camera for bite in seen] == [bite.has_camera for bite in left_seen]
    for pull, other in zip(pulls, bare, strict=True):
        for bite, left in zip(pull.bites, other.bites, strict=True):
            assert bite.model_dump(exclude=hidden) == left.model_dump(exclude=hidden)
    if without == BURIAL_AND_SIGNS:
        assert not any(bite.buried or bite.signs for pull in bare for bite in pull.bites)
    else:
        assert not any(
            bite.has_camera and bite.mode is None for pull in bare for bite in pull.bites
        )


@pytest.mark.parametrize("place", [0, 1, 9])
def test_a_second_fit_gets_the_stripped_pulls_and_only_where_planned(place, made_up_posterior):
    scenario = what_is_seen_plan().scenarios[place]
    given = []

    def fit(campaign, pulls, seed):
        given.append(list(pulls))
        return made_up_posterior(campaign, pulls, n_draws=40, seed=len(given))

    found = judge_seen(scenario, Engine(fit=fit, answer=partial(answer, table=())))
    assert len(given) == (2 if scenario.without else 1)
    assert len(found.chances) == 6
    if scenario.without:
        assert given[1] == [stripped(pull, scenario.without) for pull in given[0]]
        assert given[1] != given[0]
        assert all(one.without != one.known for one in found.chances)
    else:
        assert all(one.without is None for one in found.chances)


@pytest.mark.fit
def test_one_campaign_through_the_whole_way():
    from model.calibration.fitting import fitting_engine
    from model.inference.settings import Settings

    engine = fitting_engine(Settings(tune=300, draws=500, cores=2))
    found = judge_seen(what_is_seen_plan().scenarios[40], engine)
    assert found.refusal == found.refusal_without == ""
    assert len(found.questions) == 6
    assert len(found.chances) == 6
    assert found.bites
    assert all(one.without is not None for one in found.chances)
    sds = np.array([(one.known.sd, one.without.sd) for one in found.chances if one.without])
    assert not np.allclose(sds[:, 0], sds[:, 1], rtol=0.01), "the second fit knew the same"
