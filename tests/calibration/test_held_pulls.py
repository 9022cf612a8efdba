"""Campaigns whose pulls mostly held, through the whole way: log file, import, fit, ask.

Where the strong anchors outhold the boat, anchors differ by more than the ladder
shows. Taken as a release at the top, a held pull says that they are alike: the
same few campaigns must tell this fault from an honest fit.

The campaigns are picked by their pulls alone, and their truths are from the priors:
then a 90 % interval is right nine times in ten among them too.
"""

from itertools import combinations
from pathlib import Path

import pytest
from scipy.stats import binom

from model.calibration.fitting import fitting_engine
from model.calibration.judging import judge_campaign
from model.calibration.result import THIS_MODEL
from model.calibration.scenario import comparisons_plan
from model.calibration.simulated import simulate
from model.inference.settings import Settings
from model.ingest.log_file import read_log
from model.ingest.log_writer import write_log
from model.records.pull import Ending
from model.records.question import Measure, Question, SetUp

pytestmark = pytest.mark.calibration

CAMPAIGNS = (22, 48, 110, 144, 150)
"""The first five planned campaigns from the priors with half their pulls or more held."""

FEWEST_RIGHT = int(binom.ppf(1e-3, len(CAMPAIGNS), 0.9))
"""Fewer campaigns' worth of right intervals has a chance below 1e-3 in an honest fit.

Counted as if a campaign's comparisons were right or wrong all together, which
spreads the count the most.
"""

SETTINGS = Settings(tune=300, draws=400, cores=2)


def count_held(pulls):
    return sum(pull.bites[0].ending is Ending.HELD for pull in pulls)


def anchors_against_anchors(campaign):
    questions = tuple(
        Question(
            name=f"{a.code} against {b.code}",
            a=SetUp(anchor=a.code),
            b=SetUp(anchor=b.code),
            measure=Measure.TYPICAL,
        )
        for a, b in combinations(campaign.anchors, 2)
    )
    return campaign.model_copy(update={"questions": questions})


def through_a_log(folder: Path, spoil):
    """Simulate as planned, but the pulls come from a log file; `spoil` rewrites them first."""

    def from_log(scenario):
        campaign, world, pulls = simulate(scenario)
        path = folder / f"{scenario.number}.csv"
        write_log([spoil(pull) for pull in pulls], campaign, path)
        return anchors_against_anchors(campaign), world, read_log(path, campaign).pulls

    return from_log


def held_as_released(pull):
    """The planted fault: what held to the end is written down as let go at the last step."""
    first, *later = pull.bites
    if first.ending is not Ending.HELD:
        return pull
    released = first.model_copy(update={"ending": Ending.RELEASED, "held_s": None})
    return pull.model_copy(update={"bites": (released, *later)})


def campaigns_right(monkeypatch, engine, from_log):
    """Right 90 % intervals in campaigns' worth; a refused fit is wrong throughout."""
    monkeypatch.setattr("model.calibration.judging.simulate", from_log)
    plan = comparisons_plan().scenarios
    total = 0.0
    for number in CAMPAIGNS:
        found = judge_campaign(plan[number], engine).comparisons
        assert len(found) == 6
        estimates = [(one.truth, one.estimates[THIS_MODEL]) for one in found]
        right = [one is not None and one.lower90 <= t <= one.upper90 for t, one in estimates]
        total += sum(right) / len(right)
    return total


def test_the_campaigns_are_the_first_that_mostly_held():
    plan = comparisons_plan().scenarios
    mostly = [
        scenario.number
        for scenario in plan[: CAMPAIGNS[-1] + 1]
        if scenario.truth == "prior" and count_held(simulate(scenario)[2]) >= 18
    ]
    assert tuple(mostly) == CAMPAIGNS
    assert FEWEST_RIGHT == 2


def test_intervals_hold_what_the_ladder_could_not_show(monkeypatch, tmp_path):
    from_log = through_a_log(tmp_path, lambda pull: pull)
    assert campaigns_right(monkeypatch, fitting_engine(SETTINGS), from_log) >= FEWEST_RIGHT


def test_held_taken_as_released_is_caught(monkeypatch, tmp_path, rough_engine):
    from_log = through_a_log(tmp_path, held_as_released)
    assert campaigns_right(monkeypatch, rough_engine, from_log) < FEWEST_RIGHT
