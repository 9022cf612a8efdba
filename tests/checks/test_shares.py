"""Predicted against recorded shares, as a tester reads them."""

import pytest

from model.arrays.campaign_arrays import campaign_arrays, used_pulls
from model.base.names import PARAMETER_DIMS
from model.checks.check import Status
from model.checks.endings import recorded_endings
from model.checks.first_bites import first_bites
from model.checks.shares import compare_shares
from model.records.pull import Bite, Ending


def compared(posterior, pulls):
    arrays = campaign_arrays(posterior.campaign, pulls)
    endings = recorded_endings(posterior.campaign, used_pulls(pulls), arrays)
    parameters = {name: posterior.draws[name].to_numpy() for name in PARAMETER_DIMS}
    return compare_shares(posterior.campaign, first_bites(parameters, arrays), endings)


def test_the_table_counts_every_pull_once(make_world, make_pulls, knowing):
    world = make_world()
    pulls = make_pulls(world, 40, seed=1)
    found = compared(knowing(world, pulls), pulls)
    assert found.check.status is Status.PASSED
    for anchor in ("S6", "P9"):
        rows = [row for row in found.rows if row.anchor == anchor and "seen" not in row.ending]
        assert sum(row.recorded for row in rows) == 20
        assert sum(row.expected for row in rows) == pytest.approx(20, abs=1e-6)
    assert not any(row.stands_out for row in found.rows)
    assert found.left_out == 0


def test_held_pulls_taken_for_releases_at_the_top_are_caught(make_world, make_pulls, knowing):
    """The classic slip of the pen: what held all the boat had is written down as let go."""
    world = make_world(load_base=2.1, upright_base=2.0)
    pulls = make_pulls(world, 60, seed=1)
    top_kn = world.campaign.ladders[0].top_kn
    released = Bite(number=1, ending=Ending.RELEASED_THEN_STOPPED, load_kn=top_kn)
    wrong = tuple(
        pull.model_copy(update={"bites": (released,), "reason": "end of the day"})
        if pull.bites[0].ending is Ending.HELD
        else pull
        for pull in pulls
    )
    assert compared(knowing(world, pulls), pulls).check.status is Status.PASSED
    found = compared(knowing(world, wrong), wrong)
    assert found.check.status is Status.FAILED
    assert "let go at 4.6 kN" in found.check.reason
    assert "predicted" in found.check.reason
    assert "S6" in found.check.remedy


def test_pulls_that_tell_of_no_ending_leave_it_unchecked(make_world, make_pulls, knowing):
    world = make_world()
    stopped = Bite(number=1, ending=Ending.STOPPED, load_kn=1.0)
    pulls = tuple(
        pull.model_copy(update={"bites": (stopped,), "reason": "tide"})
        for pull in make_pulls(world, 8, seed=1)
    )
    found = compared(knowing(world, pulls), pulls)
    assert found.check.status is Status.NOT_CHECKED
    assert found.check.reason == "No pull tells of this: not checked."
    assert found.left_out == 8


def test_a_ladder_mis_stated_is_caught(make_world, make_pulls, knowing):
    """Each step written a third too low."""
    world = make_world()
    pulls = make_pulls(world, 60, seed=1)
    found = compared(knowing(world, pulls, shift={"load_base": -0.3}), pulls)
    assert found.check.status is Status.FAILED
    assert any(row.stands_out for row in found.rows)
