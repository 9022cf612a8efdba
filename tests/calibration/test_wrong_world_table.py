"""The table of wrong worlds on made-up results whose faults are known."""

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pytest
from scipy.stats import norm

from model.calibration.engine import Engine
from model.calibration.judging import judge_campaign
from model.calibration.result import (
    THIS_MODEL,
    CampaignResult,
    Estimate,
    QuestionResult,
    write_result,
)
from model.calibration.results_page import section_text
from model.calibration.scenario import (
    DRIFT_ARM_BY_ARM,
    HALF_NULL,
    HEAVIER_TAILS,
    RIGHT_WORLD,
    THIRD_MODE,
    WORLDS,
    write_plan,
    wrong_worlds_plan,
)
from model.calibration.tables import write_table
from model.calibration.wrong_world_campaign import wrong_world_campaign
from model.calibration.wrong_world_rows import WorldRow, measure_rows, world_rows
from model.calibration.wrong_world_table import sentence, table_text
from model.records.question import Question

QUESTIONS = wrong_world_campaign().questions
SD = 0.1

Change = Mapping[str, float]
"""What a made-up world does to answers: their `sd` over what it should be, a `bias` of the
treatments' typical loads, whether the first treatment is exactly `null`, and whether all fits
are `refused`."""

HONEST: Change = {}


def said(question: Question, seed: int, change: Change) -> QuestionResult:
    rng = np.random.default_rng([seed, QUESTIONS.index(question)])
    truth, error = rng.normal(0.0, 0.15), rng.normal(0.0, SD)
    if change.get("null") and question.name.startswith("first"):
        truth = 0.0
    if question.name.endswith("in general, typical"):
        error += change.get("bias", 0.0)
    value, sd = truth + error, SD * change.get("sd", 1.0)
    quantiles = value + sd * norm.ppf([0.05, 0.25, 0.75, 0.95])
    estimate = Estimate(
        value=value,
        lower90=quantiles[0],
        lower50=quantiles[1],
        upper50=quantiles[2],
        upper90=quantiles[3],
        p_higher=norm.cdf(value / sd),
        p_above_band=0.0,
        p_inside_band=1.0,
        p_below_band=0.0,
        p_below_truth=norm.cdf((truth - value) / sd),
    )
    return QuestionResult(
        question=question.name,
        scale="difference" if question.measure.is_chance else "log ratio",
        truth=truth,
        pulls_a=0,
        pulls_b=0,
        held_a=0,
        held_b=0,
        estimates={THIS_MODEL: estimate},
    )


def made_up(
    changes: Mapping[str, Change] = MappingProxyType({}), campaigns: int = 60
) -> list[CampaignResult]:
    """Results of honest answers, but for the worlds that are named."""
    found = []
    for scenario in wrong_worlds_plan(campaigns).scenarios:
        of_world = changes.get(scenario.world, HONEST)
        questions = _said_of(scenario.seed, tuple(sorted(of_world.items())))
        is_refused = bool(of_world.get("refused"))
        if is_refused:
            nothing = {"estimates": {THIS_MODEL: None}}
            questions = [one.model_copy(update=nothing) for one in questions]
        found.append(
            CampaignResult(
                scenario=scenario,
                model_version="none",
                fit_seconds=1.0,
                refusal="3 divergences" if is_refused else "",
                comparisons=tuple(questions[:3]),
                general=tuple(questions[3:]),
            )
        )
    return found


@cache
def _said_of(seed: int, change: tuple[tuple[str, float], ...]) -> list[QuestionResult]:
    """Kept, since most worlds are honest and the same in every test."""
    return [said(question, seed, dict(change)) for question in QUESTIONS]


def row_of(results: list[CampaignResult], world: str) -> WorldRow:
    return next(row for row in world_rows(results) if row.world == world)


def verdict(results: list[CampaignResult]) -> str:
    return table_text(world_rows(results), measure_rows(results), results, len(results))


def test_honest_answers_are_the_same_in_all_worlds() -> None:
    results = made_up()
    rows = world_rows(results)
    assert [row.world for row in rows] == list(WORLDS)
    right = rows[0]
    assert right.cover_change is None
    assert right.cover90.lower <= 0.9 <= right.cover90.upper
    assert right.cover50.lower <= 0.5 <= right.cover50.upper
    assert right.cover90.count == 540
    for row in rows[1:]:
        assert row.cover_change is not None
        assert (row.cover_change.value, row.cover_change.campaigns) == (0.0, 60)
        assert row.cover90 == right.cover90
        assert "no change is found in how many of the 90 % intervals" in sentence(row)
    text = verdict(results)
    assert "as they should. Fewer are found in no other world." in text
    assert "is the yardstick" in text


def test_answers_that_are_too_sure_in_one_world_are_called_so() -> None:
    results = made_up({HEAVIER_TAILS: {"sd": 0.6}})
    row = row_of(results, HEAVIER_TAILS)
    assert row.cover90.upper < 0.9
    assert row.cover_change is not None
    assert row.cover_change.upper < 0
    assert "an answer is surer than it may be" in sentence(row)
    assert row.wrong_change is not None
    assert row.wrong_change.lower > 0
    assert "are claimed wrongly" in sentence(row)
    text = verdict(results)
    assert f"Fewer in: {HEAVIER_TAILS}." in text
    assert "surer than it may be" not in sentence(row_of(made_up(), HEAVIER_TAILS))


def test_answers_that_are_less_sure_than_they_might_be_are_called_so() -> None:
    row = row_of(made_up({THIRD_MODE: {"sd": 2.0}}), THIRD_MODE)
    assert "an answer is less sure than it might be" in sentence(row)
    assert row.cover90.lower > 0.9


def test_a_shifted_load_is_told_with_its_sign_and_size() -> None:
    results = made_up({DRIFT_ARM_BY_ARM: {"bias": np.log(1.06)}})
    row = row_of(results, DRIFT_ARM_BY_ARM)
    assert row.load_shift is not None
    assert np.exp(row.load_shift.value) == pytest.approx(1.06)
    assert "A treatment's load is told 6.0 (6.0 to 6.0) % too high." in sentence(row)
    lower = row_of(made_up({DRIFT_ARM_BY_ARM: {"bias": np.log(0.94)}}), DRIFT_ARM_BY_ARM)
    assert "A treatment's load is told 6.0 (6.0 to 6.0) % too low." in sentence(lower)
    of_load = {one.measure: one for one in measure_rows(results) if one.world == DRIFT_ARM_BY_ARM}
    assert of_load["typical"].median_error != of_load["typical"].median_error_right
    assert of_load["hold"].median_error == of_load["hold"].median_error_right


def test_claims_where_there_is_no_effect_are_counted_apart() -> None:
    honest = row_of(made_up({HALF_NULL: {"null": 1}}), HALF_NULL)
    assert honest.false_claims is not None
    assert honest.false_claims.count == 180
    assert honest.false_claims.lower <= 0.10 <= honest.false_claims.upper
    rash = row_of(made_up({HALF_NULL: {"null": 1, "sd": 0.4}}), HALF_NULL)
    assert rash.false_claims is not None
    assert rash.false_claims.lower > 0.2
    assert "Where there is no effect, one is claimed in" in sentence(rash)
    assert row_of(made_up(), HALF_NULL).false_claims is None
    assert honest.sign_errors is not None
    assert honest.sign_errors.count == 360


def test_a_refused_fit_is_a_miss_and_no_claim() -> None:
    row = row_of(made_up({THIRD_MODE: {"refused": 1}}), THIRD_MODE)
    honest = row_of(made_up(), THIRD_MODE)
    assert row.refused == 60
    assert row.cover90.value == 0.0
    assert row.cover90_answered is None
    assert row.claims.value == 0.0
    assert row.cover_change is None
    assert row.wrong_change is None
    assert row.load_shift is None
    assert honest.cover_change is not None


def test_refused_fits_are_told_and_do_not_make_answers_too_sure() -> None:
    refused = made_up({THIRD_MODE: {"refused": 1}})
    mixed = [
        other if result.scenario.seed % 3 else result
        for result, other in zip(refused, made_up(), strict=True)
    ]
    said_of_mixed = sentence(row_of(mixed, THIRD_MODE))
    assert "no change is found in how many of the 90 % intervals" in said_of_mixed
    assert "20 of 60 fits are refused." in said_of_mixed
    assert "refused" not in sentence(row_of(made_up(), THIRD_MODE))


def test_a_yardstick_that_is_off_is_said_to_be() -> None:
    assert "which is NOT 90 %" in verdict(made_up({RIGHT_WORLD: {"sd": 0.5}}))


def test_the_table_of_a_run_that_has_just_begun(tmp_path: Path) -> None:
    plan = wrong_worlds_plan(2)
    write_plan(plan, tmp_path)
    assert "No results yet: no verdict." in write_table(tmp_path).read_text("utf-8")
    for result in made_up(campaigns=2)[:9]:
        write_result(tmp_path, result)
    text = write_table(tmp_path).read_text(encoding="utf-8")
    assert "9 of 16 planned campaigns" in text
    assert text.count("too few campaigns so far") == len(WORLDS) - 1
    assert (tmp_path / "table.json").exists()


def test_each_world_goes_the_whole_way(
    tmp_path: Path, make_knowing_engine: Callable[..., Engine]
) -> None:
    """Simulated, asked of by an engine that knows that world's truth, judged, kept, and written."""
    plan = wrong_worlds_plan(1)
    write_plan(plan, tmp_path)
    for scenario in plan.scenarios:
        result = judge_campaign(scenario, make_knowing_engine(scenarios=[scenario]))
        assert len(result.comparisons) == 3
        assert len(result.general) == 6
        off = [
            abs(one.estimates[THIS_MODEL].value - one.truth)
            for one in (*result.comparisons, *result.general)
        ]
        assert max(off) < 0.45, f"the truth of {scenario.world} is not the one it is judged by"
        write_result(tmp_path, result)
    text = write_table(tmp_path).read_text(encoding="utf-8")
    assert "8 of 8 planned campaigns" in text
    section = section_text(plan.table, tmp_path, "abc1234")
    assert section is not None
    assert "campaign k has seed 20330000 + k // 8" in section
    assert text in section
