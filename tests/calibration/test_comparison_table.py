"""Coverage and limits, on estimators whose coverage is known."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binomtest

from model.base.errors import InputError
from model.calibration.comparison_campaign import (
    comparison_campaign,
    scenario_pulls,
    scenario_world,
)
from model.calibration.comparison_table import Row, comparison_rows
from model.calibration.engine import Engine
from model.calibration.judging import judge_campaign
from model.calibration.limits import clustered_share
from model.calibration.result import (
    CENSORED_LOGNORMAL,
    SPREADSHEET,
    THIS_MODEL,
    CampaignResult,
    QuestionResult,
    write_result,
)
from model.calibration.run import run_campaigns
from model.calibration.scenario import comparisons_plan, write_plan
from model.calibration.sides import sides
from model.calibration.spreadsheet import spreadsheet_estimate
from model.calibration.tables import write_table
from model.simulate.true_answer import true_effect

MakeEngine = Callable[..., Engine]


def _results(engine: Engine, count: int = 24) -> list[CampaignResult]:
    return [judge_campaign(scenario, engine) for scenario in comparisons_plan().scenarios[:count]]


def _row(results: list[CampaignResult], estimator: str, group: str = "all") -> Row:
    rows = comparison_rows(results)
    return next(row for row in rows if (row.group, row.estimator) == (group, estimator))


def test_an_honest_estimator_covers_and_a_biased_one_does_not(
    make_knowing_engine: MakeEngine,
) -> None:
    honest = _row(_results(make_knowing_engine()), THIS_MODEL)
    biased = _row(_results(make_knowing_engine(bias=0.25)), THIS_MODEL)
    assert honest.count == honest.answered == 24 * 8
    assert honest.coverage90 is not None
    assert biased.coverage90 is not None
    assert honest.coverage90.lower <= 0.90 <= honest.coverage90.upper
    assert biased.coverage90.upper < 0.80
    assert honest.coverage50 is not None
    assert honest.coverage50.lower <= 0.50 <= honest.coverage50.upper
    assert honest.width90 == pytest.approx(2 * 1.645 * 0.1, rel=0.05)
    assert honest.rmse == pytest.approx(0.1, rel=0.15)
    assert biased.wrong_claims is not None
    assert honest.wrong_claims is not None
    assert biased.wrong_claims.value > honest.wrong_claims.value


def test_a_refused_fit_is_a_miss(make_knowing_engine: MakeEngine) -> None:
    results = _results(make_knowing_engine(status="failed"), count=2)
    assert [result.refusal for result in results] == ["3 divergences"] * 2
    row = _row(results, THIS_MODEL)
    assert (row.answered, row.count) == (0, 16)
    assert row.coverage90 is not None
    assert row.coverage90.value == 0.0
    assert row.coverage90_answered is None
    assert row.width90 is None


def test_questions_in_general_are_kept_beside(make_knowing_engine: MakeEngine) -> None:
    (result,) = _results(make_knowing_engine(), count=1)
    assert [general.scale for general in result.general] == ["log ratio"] * 2 + ["difference"] * 2
    assert all(set(general.estimates) == {THIS_MODEL} for general in result.general)


def test_a_spreadsheet_cannot_cover_where_everything_holds() -> None:
    # With every pull held both means are the top step: it says 0 ± 0, whatever the truth.
    campaign = comparison_campaign()
    scenario = comparisons_plan().scenarios[1]
    world = scenario_world(scenario, campaign)
    strong = type(world)(
        campaign=campaign,
        values={**world.values, "load_base": np.array(4.0), "spoilt_share": np.array(0.0)},
    )
    pulls = scenario_pulls(scenario, strong)
    working = [q for q in campaign.questions[:8] if true_effect(strong, q) != pytest.approx(1.0)]
    assert len(working) == 4
    for question in working:
        truth = float(np.log(true_effect(strong, question)))
        a, b = sides(campaign, question, pulls)
        assert all(first.is_held for first in (*a, *b))
        found = spreadsheet_estimate(a, b, log_band=(-0.14, 0.14), truth=truth)
        assert found is not None
        assert not found.lower90 <= truth <= found.upper90


def test_a_spreadsheet_misses_where_a_ladder_cuts_one_arm(
    make_knowing_engine: MakeEngine,
) -> None:
    results = _results(make_knowing_engine(), count=60)
    cut = "a side of held pulls only"
    spreadsheet = _row(results, SPREADSHEET, cut).coverage90
    censored = _row(results, CENSORED_LOGNORMAL, cut).coverage90
    assert spreadsheet is not None
    assert censored is not None
    assert spreadsheet.upper < 0.80
    assert censored.lower > spreadsheet.value


def test_limits_are_exact_for_cases_that_stand_alone() -> None:
    hits = [True] * 27 + [False] * 3
    share = clustered_share(hits, list(range(30)))
    exact = binomtest(27, 30).proportion_ci(0.95, method="exact")
    assert share is not None
    assert share.effective == pytest.approx(30)
    assert (share.lower, share.upper) == pytest.approx((exact.low, exact.high), rel=1e-9)


def test_limits_widen_where_cases_come_in_clusters() -> None:
    # Eight copies of each of 30 campaigns tell no more than 30 cases (and a bit less, for
    # the variance between few clusters is itself uncertain).
    hits = ([True] * 27 + [False] * 3) * 8
    share = clustered_share(hits, list(range(30)) * 8)
    assert share is not None
    assert share.count == 240
    assert 25 < share.effective < 31
    assert clustered_share([True] * 240, list(range(30)) * 8) == clustered_share(
        [True] * 240, list(range(30)) * 8
    )
    every = clustered_share([True] * 240, list(range(30)) * 8)
    assert every is not None
    assert (every.upper, every.effective) == (1.0, 30.0)
    assert clustered_share([], []) is None


def test_the_table_is_written_from_the_files_alone(
    tmp_path: Path, make_knowing_engine: MakeEngine
) -> None:
    write_plan(comparisons_plan(4), tmp_path)
    run_campaigns(comparisons_plan(4).scenarios[:2], tmp_path, make_knowing_engine)
    text = write_table(tmp_path).read_text(encoding="utf-8")
    assert "2 of 4 planned campaigns" in text
    assert text.count("this model |") >= 2
    assert (tmp_path / "table.json").exists()


def test_comparisons_without_an_answer_are_counted(make_knowing_engine: MakeEngine) -> None:
    (result,) = _results(make_knowing_engine(), count=1)
    first = result.comparisons[0]
    silent = QuestionResult(**{**dict(first), "estimates": {**first.estimates, SPREADSHEET: None}})
    changed = result.model_copy(update={"comparisons": (silent, *result.comparisons[1:])})
    row = _row([changed], SPREADSHEET)
    assert row.count - row.answered == 1 + sum(
        comparison.estimates[SPREADSHEET] is None for comparison in result.comparisons[1:]
    )


def test_results_of_two_model_versions_make_no_table(
    tmp_path: Path, make_knowing_engine: MakeEngine
) -> None:
    write_plan(comparisons_plan(4), tmp_path)
    first, second = _results(make_knowing_engine(), count=2)
    write_result(tmp_path, first)
    write_result(tmp_path, second.model_copy(update={"model_version": "another"}))
    with pytest.raises(InputError, match="side by side"):
        write_table(tmp_path)
