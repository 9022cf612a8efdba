"""Rehearsals written down as real campaigns, and the table of both beside each other."""

import json

import numpy as np
import pytest

from model.calibration.refits import as_pulls, short_hold
from model.calibration.refits_table import Paired, excess, table_text
from model.calibration.rehearsal_scenarios import ALTERNATED, REFITTED, policy_of, start_of
from model.calibration.simulated import demo_campaign
from model.planning.rehearsal import Settings, rehearse
from model.records.pull import Ending


@pytest.fixture(scope="module")
def rehearsed():
    start = start_of(REFITTED[1], short_hold(demo_campaign()))
    settings = Settings(n_campaign=20, most_pulls=4, pulls_a_day=2, n_draw=2000, seed=3)
    return start, rehearse(start, policy_of(ALTERNATED, start), settings)


def test_pulls_are_written_down_as_the_rehearsal_saw_them(rehearsed):
    start, found = rehearsed
    steps = start.space.ladder.loads_kn
    endings = set()
    for number in np.flatnonzero((found.pulled >= 0).all(axis=1)):
        campaign, pulls = as_pulls(start, found, int(number), 4)
        assert [pull.outing for pull in pulls] == ["day 1", "day 1", "day 2", "day 2"]
        for pull, outcome, candidate in zip(
            pulls, found.seen[number], found.pulled[number], strict=True
        ):
            bite = pull.bites[0]
            endings.add(bite.ending)
            assert pull.anchor == start.candidates[candidate].anchor
            if outcome == 0:
                assert bite.ending is Ending.NEVER_SET
                continue
            end = (int(outcome) - 1) // start.space.n_seen
            is_held = end == len(steps)
            assert bite.ending is (Ending.HELD if is_held else Ending.RELEASED_THEN_STOPPED)
            assert bite.load_kn == steps[min(end, len(steps) - 1)]
        ladder = campaign.ladder_of("day 1")
        assert ladder.final_hold_s == ladder.steps[-1].dwell_s
    assert {Ending.HELD, Ending.RELEASED_THEN_STOPPED} <= endings


def test_days_keep_the_gauge_that_the_rehearsal_reads_by(rehearsed):
    start, found = rehearsed
    campaign, _ = as_pulls(start, found, 0, 2)
    assert campaign.outings[0].gauge == start.campaign.outings[-1].gauge


def kept(folder, rehearsed, fitted, region):
    for number, three in enumerate(zip(rehearsed, fitted, region, strict=True)):
        result = dict(zip(("rehearsed", "finding", "region"), three, strict=True))
        result["shares"] = [0.02, 0.01, 0.97]
        (folder / f"made-up-{number:03}.json").write_text(json.dumps(result), "utf-8")
    (folder / "made-up-900.json").write_text(json.dumps({"refused": "broke off"}), "utf-8")


def test_bias_is_what_the_rehearsal_says_more_than_the_fit(tmp_path):
    kept(tmp_path, [2] * 6 + [-1] * 4, [2] * 3 + [-1] * 7, [2] * 10)
    text = table_text(tmp_path, ["made-up"])
    assert "| made-up | 11 | 1 | 6 (60.0 %) | 3 (30.0 %) | +30.0 (-12.5 to +30.0) |" in text
    assert "| 0.970 | 0 |" in text


def test_findings_that_are_wrong_count_on_both_sides():
    both = Paired(
        region=np.array([0, 0, 1, 2]),
        rehearsed=np.array([0, 2, 1, -1]),
        fitted=np.array([0, 0, 1, -1]),
        chance=np.array([0.97, 0.0, 0.96, np.nan]),
    )
    wrong = [(one != -1) & (one != both.region) for one in (both.rehearsed, both.fitted)]
    assert excess(*wrong)[0] == 0.25
    assert excess(wrong[1], wrong[1])[0] == 0.0
