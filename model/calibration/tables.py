"""What each table is made of: how a campaign is judged, what is kept, how it is written."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from model.calibration.answers_judging import judge_answers
from model.calibration.answers_result import AnswersResult
from model.calibration.answers_table import write_answers_table
from model.calibration.comparison_table import write_comparison_table
from model.calibration.engine import Engine
from model.calibration.hollow_sound_table import write_hollow_sound_table
from model.calibration.judging import judge_campaign
from model.calibration.lost_camera_table import write_lost_camera_table
from model.calibration.quick_judging import judge_quick
from model.calibration.quick_result import QuickResult
from model.calibration.quick_table import write_quick_table
from model.calibration.rank_judging import judge_ranks
from model.calibration.rank_result import RankResult
from model.calibration.rank_table import write_rank_table
from model.calibration.result import CampaignResult, Result
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
    Scenario,
)
from model.calibration.seen_judging import judge_seen
from model.calibration.seen_result import SeenResult
from model.calibration.seen_table import write_seen_table


@dataclass(frozen=True, kw_only=True)
class Table:
    """One table.

    Parameters
    ----------
    kind : type of Result
        What is kept of each of its campaigns.
    judge : callable
        Runs one of its scenarios on an engine.
    write : callable
        Writes it from the results in a folder, and returns where it stands.
    engine : str
        Which of :mod:`model.calibration.fitting` fits its campaigns; by name, since a table alone
        needs no sampler.
    """

    kind: type[Result]
    judge: Callable[[Scenario, Engine], Result]
    write: Callable[[Path], Path]
    engine: str = "fitting_engine"


TABLES: Final = {
    COMPARISONS: Table(kind=CampaignResult, judge=judge_campaign, write=write_comparison_table),
    HOLLOW_SOUND: Table(kind=CampaignResult, judge=judge_campaign, write=write_hollow_sound_table),
    WHAT_IS_SEEN: Table(kind=SeenResult, judge=judge_seen, write=write_seen_table),
    RANKS: Table(
        kind=RankResult, judge=judge_ranks, write=write_rank_table, engine="one_attempt_engine"
    ),
    QUICK_ANSWERS: Table(kind=QuickResult, judge=judge_quick, write=write_quick_table),
    LOST_CAMERA: Table(kind=SeenResult, judge=judge_seen, write=write_lost_camera_table),
    ANSWERS: Table(
        kind=AnswersResult,
        judge=judge_answers,
        write=write_answers_table,
        engine="two_chain_engine",
    ),
    ANSWERS_RETRIED: Table(kind=AnswersResult, judge=judge_answers, write=write_answers_table),
    ANSWERS_AGAIN: Table(
        kind=AnswersResult,
        judge=judge_answers,
        write=write_answers_table,
        engine="two_chain_engine",
    ),
}
