"""The table of the lost camera, on results whose errors are known, and its scenario."""

from functools import partial
from pathlib import Path

import numpy as np
import pytest

from model.calibration.engine import Engine
from model.calibration.lost_camera_campaign import (
    OUT_OF_REACH,
    lost_camera_campaign,
    lost_camera_pulls,
    lost_camera_world,
)
from model.calibration.lost_camera_table import (
    lost_camera_rows,
    table_text,
)
from model.calibration.run import run_campaigns
from model.calibration.scenario import LOST_CAMERA, lost_camera_plan, read_plan, write_plan
from model.calibration.seen_judging import judge_seen, stripped
from model.calibration.seen_result import Chance, SeenResult, SetUpChance
from model.calibration.tables import write_table
from model.questions.ask import answer
from model.records.pull import Ending
from model.simulate.nature import chance_upright
from model.simulate.plan import Plan

PUBLISHED = Path(__file__).parent / "results" / LOST_CAMERA
SD = 0.12


def chance_of(mean):
    return Chance(mean=mean, sd=SD, lower90=mean - 1.645 * SD, upper90=mean + 1.645 * SD)


def results(*, with_term=0.0, without=-0.2):
    """Stand-ins whose stated chances are off by so much, and by their noise."""
    rng = np.random.default_rng(7)
    made = []
    for scenario in lost_camera_plan().scenarios:
        chances = []
        for anchor in ("K1", "K2", "K3"):
            truth, noise = float(rng.uniform(0.3, 0.9)), float(rng.normal(0, SD))
            chances.append(
                SetUpChance(
                    set_up=anchor,
                    truth=truth,
                    known=chance_of(truth + with_term + noise),
                    without=chance_of(truth + without + noise),
                )
            )
        made.append(
            SeenResult(
                scenario=scenario,
                model_version="none",
                fit_seconds=1.0,
                questions=(),
                chances=tuple(chances),
            )
        )
    return made


def text_of(made):
    return table_text(lost_camera_rows(made), made, len(made))


def test_the_committed_plan_is_the_one_the_code_makes():
    assert read_plan(PUBLISHED) == lost_camera_plan()


def test_errors_are_those_put_in_and_cover_follows():
    rows = {(row.anchor, row.has_term): row for row in lost_camera_rows(results())}
    assert len(rows) == 6
    assert rows["K3", True].error.lower < 0 < rows["K3", True].error.upper
    assert rows["K3", False].error.value - rows["K3", True].error.value == pytest.approx(-0.2)
    assert rows["K3", False].error.upper < 0
    assert rows["K3", True].cover.value > 0.8
    assert rows["K3", False].cover.value < 0.6


@pytest.mark.parametrize(
    ("with_term", "without", "said"),
    [
        (0.0, -0.2, "with the term no bias is found; without it it is biased."),
        (-0.1, -0.2, "with the term it is BIASED; without it it is biased."),
        (0.0, 0.0, "without it no bias is found either: the term is NOT SHOWN to be needed."),
    ],
)
def test_the_verdict_says_what_was_found(with_term, without, said):
    assert said in text_of(results(with_term=with_term, without=without))


def test_without_results_there_is_no_verdict(tmp_path):
    write_plan(lost_camera_plan(2), tmp_path)
    assert "No results yet" in write_table(tmp_path).read_text(encoding="utf-8")


def test_a_refused_fit_is_left_out_and_told():
    made = results()
    made[0] = made[0].model_copy(update={"refusal": "12 divergences", "chances": ()})
    made[1] = made[1].model_copy(update={"refusal_without": "3 divergences"})
    assert {row.error.campaigns for row in lost_camera_rows(made)} == {len(made) - 2}
    assert "1 fits refused and 1 second fits" in text_of(made)


def test_where_loads_tell_and_where_only_the_camera_could():
    campaign = lost_camera_campaign()
    endings, lost, loads = [], {True: [], False: []}, {True: [], False: []}
    for scenario in lost_camera_plan(12).scenarios:
        world = lost_camera_world(scenario, campaign)
        lived = lost_camera_pulls(scenario, world)
        assert lived == lost_camera_pulls(scenario, world)
        assert len(lived) == 96
        for one in lived:
            if one.pull.anchor == OUT_OF_REACH:
                endings.extend(bite.ending for bite in one.pull.bites)
            for bite, is_upright in zip(one.pull.bites, one.upright, strict=False):
                lost[is_upright].append(bite.mode is None)
                if one.pull.anchor == "K1" and bite.ending is Ending.RELEASED:
                    loads[is_upright].append(bite.load_kn)
    set_ones = [ending for ending in endings if ending is not Ending.NEVER_SET]
    assert (
        np.mean([ending is Ending.HELD for ending in set_ones]) > 0.95
    )  # a spoilt pull now and then
    assert np.mean(lost[True]) == pytest.approx(0.73, abs=0.04)
    assert np.mean(lost[False]) == pytest.approx(0.27, abs=0.04)
    assert np.quantile(loads[False], 0.9) < np.quantile(loads[True], 0.1)


def test_each_anchor_is_held_against_its_own_truth(made_up_posterior):
    scenario = lost_camera_plan(1).scenarios[0]
    given = []

    def fit(campaign, pulls, seed):
        given.append(list(pulls))
        return made_up_posterior(campaign, pulls, n_draws=40, seed=len(given))

    found = judge_seen(scenario, Engine(fit=fit, answer=partial(answer, table=())))
    campaign = lost_camera_campaign()
    world = lost_camera_world(scenario, campaign)
    truths = {
        anchor.code: chance_upright(
            world, Plan(outing="day 1", anchor=anchor.code, seabed="sand", code="any")
        )
        for anchor in campaign.anchors
    }
    assert {one.set_up: one.truth for one in found.chances} == pytest.approx(truths)
    assert given[1] == [stripped(pull, scenario.without) for pull in given[0]] != given[0]


def test_a_run_of_failed_fits_is_a_table_without_verdict(tmp_path):
    def never_fits():
        from model.base.errors import FitFailed

        def fit(*_):
            raise FitFailed("12 divergences")

        return Engine(fit=fit, answer=None)

    plan = lost_camera_plan(2)
    write_plan(plan, tmp_path)
    assert run_campaigns(plan.scenarios, tmp_path, never_fits) == 2
    text = write_table(tmp_path).read_text(encoding="utf-8")
    assert "2 fits refused" in text
    assert "No results yet" in text
