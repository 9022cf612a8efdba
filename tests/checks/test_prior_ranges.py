"""The priors against what is possible, and against what was recorded."""

import dataclasses

import numpy as np
import pytest

from model.arrays.campaign_arrays import campaign_arrays, used_pulls
from model.base.priors import DEFAULT_PRIORS, Normal
from model.checks.check import Status
from model.checks.endings import recorded_endings
from model.checks.prior_ranges import compare_with_priors
from model.records.pull import Bite, Ending


def compared(campaign, pulls, priors=DEFAULT_PRIORS):
    arrays = campaign_arrays(campaign, pulls)
    endings = recorded_endings(campaign, used_pulls(pulls), arrays)
    return compare_with_priors(campaign, priors, arrays, endings)


def test_the_priors_of_the_house_expect_what_is_possible(make_world, make_pulls, small_campaign):
    pulls = make_pulls(make_world(), 24, seed=1)
    found = compared(small_campaign, pulls)
    assert found.check.status is Status.PASSED
    by_anchor = {one.anchor: one for one in found.ranges}
    assert set(by_anchor) == {"S6", "P9"}
    for one in by_anchor.values():
        # The power law carried down to small boats gives 7 to 40 weights: the middle holds it.
        assert one.weights_lower < 7
        assert 7 < one.weights < 40 < one.weights_upper < 500


def test_priors_far_too_wide_expect_what_is_not(make_world, make_pulls, small_campaign):
    pulls = make_pulls(make_world(), 24, seed=1)
    wide = dataclasses.replace(
        DEFAULT_PRIORS, load_base=Normal(mean=DEFAULT_PRIORS.load_base.mean, sd=4.0)
    )
    found = compared(small_campaign, pulls, wide)
    assert found.check.status is Status.FAILED
    assert "beyond what is possible" in found.check.reason
    # A mass is divided out of this range again: it is not what to look at.
    assert "mass" not in found.check.remedy


def test_pulls_that_tell_of_no_ending_leave_it_unchecked(make_world, make_pulls, small_campaign):
    """Stopped by the crew: the range is told, and that nothing was compared."""
    stopped = Bite(number=1, ending=Ending.STOPPED, load_kn=1.0)
    pulls = tuple(
        pull.model_copy(update={"bites": (stopped,), "reason": "tide"})
        for pull in make_pulls(make_world(), 8, seed=1)
    )
    found = compared(small_campaign, pulls)
    assert found.check.status is Status.NOT_CHECKED
    assert "What was recorded no pull tells: not checked." in found.check.reason
    assert found.ranges
    assert compared(small_campaign, ()).check.status is Status.NOT_CHECKED


def test_anchors_whose_mass_is_a_hundredth_of_what_it_was_are_caught(
    make_world, make_pulls, small_campaign
):
    """Masses written in another unit: the pulls are the same, the weights are not."""
    pulls = make_pulls(make_world(), 24, seed=1)
    light = small_campaign.model_copy(
        update={
            "anchors": tuple(
                anchor.model_copy(update={"mass_kg": anchor.mass_kg / 100})
                for anchor in small_campaign.anchors
            )
        }
    )
    found = compared(light, pulls)
    assert found.check.status in {Status.LOOK, Status.FAILED}
    assert "surprises them" in found.check.reason
    assert "unit" in found.check.remedy
    assert "masses" in found.check.remedy


@pytest.mark.parametrize("seed", [1, 2])
def test_the_table_has_what_was_recorded(make_world, make_pulls, small_campaign, seed):
    pulls = make_pulls(make_world(), 24, seed=seed)
    rows = compared(small_campaign, pulls).rows
    held = sum(pull.bites[0].ending == "held" for pull in pulls)
    assert sum(row.recorded for row in rows if row.ending == "held") == held
    assert all(0 <= row.lower <= row.upper <= row.pulls for row in rows)
    assert np.isclose(
        sum(row.expected for row in rows if row.anchor == "S6" and "seen" not in row.ending), 12
    )
