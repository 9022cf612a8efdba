"""What each table is made of: how a campaign is judged, what is kept, how it is written."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from model.calibration import (
    answers_table,
    comparison_table,
    hollow_sound_table,
    lost_camera_table,
    quick_table,
    rank_table,
    seen_table,
    wrong_world_table,
)
from model.calibration.answers_judging import judge_answers
from model.calibration.answers_result import AnswersResult
from model.calibration.engine import Engine
from model.calibration.files import Rows, write_rows
from model.calibration.judging import judge_campaign
from model.calibration.quick_judging import judge_quick
from model.calibration.quick_result import QuickResult
from model.calibration.rank_judging import judge_ranks
from model.calibration.rank_result import RankResult
from model.calibration.result import CampaignResult, Result, read_results_as
from model.calibration.scenario import (
    ANSWERS,
    ANSWERS_AGAIN,
    ANSWERS_RETRIED,
    COMPARISONS,
    HOLLOW_SOUND,
    LOST_CAMERA,
    QUICK_ANSWERS,
    RANKS,
    WHAT_IS_SEEN,
    WRONG_WORLDS,
    Scenario,
    TablePlan,
    read_plan,
)
from model.calibration.seen_judging import judge_seen
from model.calibration.seen_result import SeenResult


@dataclass(frozen=True, kw_only=True)
class Table:
    """One table.

    Parameters
    ----------
    kind : type of Result
        What is kept of each of its campaigns.
    judge : callable
        Runs one of its scenarios on an engine.
    told : callable
        What is written of its results and its plan.
    engine : str
        Which of :mod:`model.calibration.fitting` fits its campaigns; by name, since a table alone
        needs no sampler.
    """

    kind: type[Result]
    judge: Callable[[Scenario, Engine], Result]
    told: Callable[[Sequence[Any], TablePlan], tuple[Rows, str]]
    engine: str = "fitting_engine"


TABLES: Final = {
    COMPARISONS: Table(
        kind=CampaignResult, judge=judge_campaign, told=comparison_table.rows_and_text
    ),
    HOLLOW_SOUND: Table(
        kind=CampaignResult, judge=judge_campaign, told=hollow_sound_table.rows_and_text
    ),
    WHAT_IS_SEEN: Table(kind=SeenResult, judge=judge_seen, told=seen_table.rows_and_text),
    RANKS: Table(
        kind=RankResult,
        judge=judge_ranks,
        told=rank_table.rows_and_text,
        engine="one_attempt_engine",
    ),
    QUICK_ANSWERS: Table(kind=QuickResult, judge=judge_quick, told=quick_table.rows_and_text),
    LOST_CAMERA: Table(kind=SeenResult, judge=judge_seen, told=lost_camera_table.rows_and_text),
    ANSWERS: Table(
        kind=AnswersResult,
        judge=judge_answers,
        told=answers_table.rows_and_text,
        engine="two_chain_engine",
    ),
    ANSWERS_RETRIED: Table(
        kind=AnswersResult, judge=judge_answers, told=answers_table.rows_and_text
    ),
    ANSWERS_AGAIN: Table(
        kind=AnswersResult,
        judge=judge_answers,
        told=answers_table.rows_and_text,
        engine="two_chain_engine",
    ),
    WRONG_WORLDS: Table(
        kind=CampaignResult,
        judge=judge_campaign,
        told=wrong_world_table.rows_and_text,
        engine="counting_engine",
    ),
}


def write_table(folder: Path) -> Path:
    """Write ``table.md`` and ``table.json`` from the results that are there.

    Returns
    -------
    Path
        Of ``table.md``.

    Raises
    ------
    InputError
        If there is no plan, or the results come from more than one version of the model.
    """
    plan = read_plan(folder)
    table = TABLES[plan.table]
    return write_rows(folder, *table.told(read_results_as(table.kind, folder), plan))
