"""A few planned campaigns through the whole way with real fits: log file, import, fit, ask.

Six campaigns hold twelve treatments; the comparisons of one treatment share
its effect, so twelve is what they count for. Fewer than seven of twelve
right has a chance under 1e-3 where intervals are right nine times in ten.
"""

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

pytestmark = pytest.mark.calibration

FROM_PRIORS = (0, 2, 4)
QUARTER_EFFECT = (17, 21, 25)  # off the priors: one treatment null, one of a quarter
TREATMENTS = 2 * (len(FROM_PRIORS) + len(QUARTER_EFFECT))
LEAST_COVERED = float(binom.ppf(1e-3, TREATMENTS, 0.9)) / TREATMENTS


def covered(results):
    """Each comparison's hit, refused fits being misses."""
    estimates = [
        (one.truth, one.estimates[THIS_MODEL]) for result in results for one in result.comparisons
    ]
    return [
        estimate is not None and estimate.lower90 <= truth <= estimate.upper90
        for truth, estimate in estimates
    ]


def test_logs_come_back_as_they_were_pulled(tmp_path: Path):
    campaign, _, pulls = simulate(comparisons_plan().scenarios[0])
    write_log(pulls, campaign, tmp_path / "pulls.csv")
    assert read_log(tmp_path / "pulls.csv", campaign).pulls == tuple(pulls)


def test_intervals_cover_about_as_often_as_they_say():
    engine = fitting_engine(Settings(cores=2))
    scenarios = [comparisons_plan().scenarios[k] for k in (*FROM_PRIORS, *QUARTER_EFFECT)]
    hits = covered([judge_campaign(scenario, engine) for scenario in scenarios])
    assert len(hits) == 8 * len(scenarios)
    assert sum(hits) / len(hits) >= LEAST_COVERED


def test_rough_intervals_of_right_arms_pass(rough_engine):
    """So that it is the swap that the next test catches, and not the rough draws."""
    hits = covered(
        [judge_campaign(comparisons_plan().scenarios[k], rough_engine) for k in QUARTER_EFFECT]
    )
    assert sum(hits) / len(hits) >= LEAST_COVERED


def test_swapped_arms_are_caught(rough_engine, monkeypatch):
    swapped = {"baseline": 0}

    def swap(scenario):
        campaign, world, pulls = simulate(scenario)
        arms = {}
        for pull in pulls:
            arms.setdefault((pull.outing, pull.anchor), {}).setdefault(str(pull.levels), []).append(
                pull
            )
        found = []
        for by_level in arms.values():
            names = sorted(by_level, key=len)
            for name, other in zip(names, names[1:] + names[:1], strict=True):
                levels = by_level[other][0].levels
                found += [pull.model_copy(update={"levels": levels}) for pull in by_level[name]]
                swapped["baseline"] += 1
        return campaign, world, tuple(found)

    monkeypatch.setattr("model.calibration.judging.simulate", swap)
    hits = covered(
        [judge_campaign(comparisons_plan().scenarios[k], rough_engine) for k in QUARTER_EFFECT]
    )
    assert swapped["baseline"] > 0
    assert len(hits) == 8 * len(QUARTER_EFFECT)
    assert sum(hits) / len(hits) < LEAST_COVERED
