"""The table of ranks, on draws whose calibration is known."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from model.base.errors import FitFailed
from model.base.names import PARAMETER_DIMS
from model.calibration.engine import Engine
from model.calibration.rank_judging import judge_ranks, parameter_ranks
from model.calibration.rank_result import RankResult
from model.calibration.rank_table import cover_rows, rank_rows
from model.calibration.run import run_campaigns
from model.calibration.scenario import (
    RANKS,
    ranks_plan,
    read_plan,
    what_is_seen_plan,
    write_plan,
)
from model.calibration.seen_campaign import seen_campaign, seen_pulls, seen_world
from model.calibration.tables import TABLES, write_table

PUBLISHED = Path(__file__).parent / "results" / RANKS
COUNT = 500


def results(*, narrowing=1.0, shift=0.0, broken=0):
    """Stand-ins whose draws are as wide as their error, or `narrowing` times that, and shifted."""
    rng = np.random.default_rng(11)
    made = []
    for scenario in ranks_plan(COUNT).scenarios:
        errors = rng.normal(size=(3, 1))
        draws = shift + narrowing * rng.normal(size=(3, 400))
        load, mass, slope = (draws < errors).mean(axis=1)
        made.append(
            RankResult(
                scenario=scenario,
                model_version="none",
                fit_seconds=1.0,
                refusal="gave up" if scenario.number < broken else "",
                effects={} if scenario.number < broken else {"load": load},
                parameters={"mass": mass, "slope": slope},
            )
        )
    return made


def test_the_committed_plan_is_the_one_the_code_makes():
    plan = read_plan(PUBLISHED)
    assert plan == ranks_plan()
    seeds = {scenario.seed for scenario in plan.scenarios}
    assert len(seeds) == 500
    assert not seeds & {scenario.seed for scenario in what_is_seen_plan().scenarios}


def test_right_draws_are_within_the_limits():
    found = results()
    assert all(row.is_within for row in cover_rows(found))
    rows = rank_rows(found)
    assert [row.campaigns for row in rows] == [COUNT] * 3
    assert min(row.p_value for row in rows) > 0.01


@pytest.mark.parametrize("wrong", [{"narrowing": 0.8}, {"narrowing": 1.3}, {"shift": 0.25}])
def test_draws_too_narrow_too_wide_or_shifted_are_called_off(wrong):
    found = results(**wrong)
    worst = rank_rows(found)[0]
    is_uniform = worst.p_value > 0.005 / 3
    assert not is_uniform or not all(row.is_within for row in cover_rows(found))


def test_a_fit_that_broke_off_is_a_miss():
    rows = cover_rows(results(broken=60))
    assert all(row.share.count == COUNT for row in rows)
    assert not rows[-1].is_within
    assert rows[-1].share.upper < 0.9


def test_draws_of_the_priors_alone_rank_uniformly_and_wider_ones_do_not(made_up_posterior):
    """Draws that know no pull are calibrated too, so that the ranking is tried on every name."""
    campaign = seen_campaign()
    scenarios = ranks_plan(200).scenarios
    lived = seen_pulls(scenarios[0], seen_world(scenarios[0], campaign))
    posterior = made_up_posterior(campaign, [one.pull for one in lived], n_draws=400)
    wider = posterior.draws.copy(deep=True)
    wider["treatment_load"] = 3 * wider["treatment_load"]
    ranks, of_wider = {}, []
    for scenario in scenarios:
        world = seen_world(scenario, campaign)
        for name, rank in parameter_ranks(world, posterior):
            ranks.setdefault(name, []).append(rank)
        of_wider.append(dict(parameter_ranks(world, replace(posterior, draws=wider))))
    assert {name.partition("[")[0] for name in ranks} <= set(PARAMETER_DIMS)
    assert {"treatment_anchor_load[change=on, K2]", "anchor_seabed_load[K1, sand]"} <= set(ranks)
    tails = {name: np.mean(np.abs(np.array(found) - 0.5) > 0.45) for name, found in ranks.items()}
    assert np.mean(list(tails.values())) == pytest.approx(0.1, abs=0.02)
    assert np.mean([abs(one["treatment_load[change=on]"] - 0.5) > 0.45 for one in of_wider]) < 0.03


def test_one_campaign_is_ranked_whether_or_not_its_draws_passed(tmp_path, made_up_posterior):
    plan = ranks_plan(1)

    def fit(campaign, pulls, seed):
        made = made_up_posterior(campaign, pulls, n_draws=40, seed=seed)
        return replace(made, fit_check=made.fit_check.model_copy(update={"status": "failed"}))

    found = judge_ranks(plan.scenarios[0], Engine(fit=fit, answer=None))
    assert len(found.effects) == 6
    assert len(found.parameters) > 90
    assert all(0 <= rank <= 1 for rank in found.parameters.values())

    def never_fits():
        def fail(*_):
            raise FitFailed("no finite draws")

        return Engine(fit=fail, answer=None)

    write_plan(plan, tmp_path)
    run_campaigns(plan.scenarios, tmp_path, never_fits)
    assert "1 fits broke off" in write_table(tmp_path).read_text(encoding="utf-8")


def test_only_this_table_tries_once():
    assert sorted({table.engine for table in TABLES.values()}) == [
        "counting_engine",
        "fitting_engine",
        "one_attempt_engine",
        "two_chain_engine",
    ]


@pytest.mark.fit
def test_a_real_fit_is_tried_once_and_ranked():
    from model.calibration.fitting import one_attempt_engine

    found = judge_ranks(ranks_plan().scenarios[0], one_attempt_engine())
    assert found.refusal == ""
    assert len(found.effects) == 6
    assert len(found.parameters) > 90
