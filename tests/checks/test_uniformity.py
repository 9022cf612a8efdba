"""Where pulls fall in what the others expect: evenly under the truth, and not under a wrong one."""

import dataclasses

import numpy as np
import pytest
from scipy.stats import binomtest

from model.arrays.campaign_arrays import campaign_arrays, used_pulls
from model.base.names import PARAMETER_DIMS
from model.checks.check import LOOK_RATE, Status
from model.checks.endings import recorded_endings
from model.checks.first_bites import first_bites
from model.checks.leave_one_out import leave_each_out
from model.checks.uniformity import check_uniformity, pull_shares, uniform_p
from model.records.pull import Bite, Ending, ModeSeen


def looked_at(posterior, pulls):
    campaign, arrays = posterior.campaign, campaign_arrays(posterior.campaign, pulls)
    parameters = {name: posterior.draws[name].to_numpy() for name in PARAMETER_DIMS}
    endings = recorded_endings(campaign, used_pulls(pulls), arrays)
    by_id = {pull.id: pull for pull in used_pulls(pulls)}
    bites = first_bites(parameters, arrays)
    return campaign, by_id, bites, arrays, endings, leave_each_out(posterior)


def shares_of(posterior, pulls):
    _, by_id, bites, arrays, endings, left_out = looked_at(posterior, pulls)
    return pull_shares(bites, arrays, by_id, endings, left_out)


def test_under_the_truth_places_are_even(make_world, make_pulls, knowing):
    """Many pulls at once: each tenth of the places holds a tenth of them."""
    world = make_world()
    pulls = make_pulls(world, 2000, seed=1)
    _, lower, upper = shares_of(knowing(world, pulls, n_draws=2), pulls)
    assert (lower <= upper + 1e-12).all()
    drawn = lower + (upper - lower) * np.random.default_rng(0).random(lower.size)
    counts = np.histogram(drawn, bins=10, range=(0, 1))[0]
    for count in counts:
        assert binomtest(int(count), drawn.size, 0.1).pvalue > 0.0005


@pytest.mark.parametrize("seed", range(3))
def test_a_right_model_passes(make_world, make_pulls, knowing, seed):
    world = make_world()
    pulls = make_pulls(world, 80, seed=seed)
    found = check_uniformity(*looked_at(knowing(world, pulls), pulls))
    assert found.check.status is Status.PASSED
    assert len(found.rows) == sum(pull.has_set for pull in pulls)


@pytest.mark.parametrize(
    ("shift", "words"),
    [
        ({"load_base": 0.3}, "lower than expected"),
        ({"load_base": -0.3}, "higher than expected"),
        ({"log_scatter": -1.5, "gauge_scatter": -0.019, "pull_load_scale": -0.049}, "too sure"),
        ({"log_scatter": 1.5}, "not sure enough"),
    ],
)
def test_a_wrong_one_is_caught_and_told_in_words(make_world, make_pulls, knowing, shift, words):
    world = make_world(spoilt_share=1e-6)
    pulls = make_pulls(world, 120, seed=1)
    found = check_uniformity(*looked_at(knowing(world, pulls, shift=shift), pulls))
    assert found.check.status is not Status.PASSED
    assert words in found.check.reason
    assert found.check.remedy


def test_modes_exchanged_in_the_log_are_caught(make_world, make_pulls, knowing):
    world = make_world()
    pulls = make_pulls(world, 120, seed=1)
    other = {ModeSeen.UPRIGHT: ModeSeen.ON_SIDE, ModeSeen.ON_SIDE: ModeSeen.UPRIGHT, None: None}
    swapped = tuple(
        pull.model_copy(
            update={
                "bites": tuple(
                    bite.model_copy(update={"mode": other[bite.mode]}) for bite in pull.bites
                )
            }
        )
        for pull in pulls
    )
    found = check_uniformity(*looked_at(knowing(world, swapped), swapped))
    assert found.check.status is not Status.PASSED


def test_the_strangest_pull_is_named(make_world, make_pulls, knowing):
    world = make_world(spoilt_share=1e-6)
    pulls = make_pulls(world, 60, seed=2)
    place = next(i for i, pull in enumerate(pulls) if pull.has_set)
    bite = Bite(number=1, ending=Ending.RELEASED, load_kn=0.5, mode=ModeSeen.UPRIGHT)
    odd = pulls[place].model_copy(update={"bites": (bite,)})
    spoilt = (*pulls[:place], odd, *pulls[place + 1 :])
    found = check_uniformity(*looked_at(knowing(world, spoilt), spoilt))
    assert found.rows[0].pull == odd.id
    assert found.check.status is Status.FAILED
    assert f"the strangest is pull {odd.id}" in found.check.reason


def test_the_level_is_what_is_stated():
    """Even shares within ranges, as of a ladder: 1 in 20 is called uneven, 1 in 14 is refuted."""
    rng, alarms, runs = np.random.default_rng(3), 0, 600
    for _ in range(runs):
        edges = np.array([0, 0.1, 0.25, 0.5, 0.8, 1.0])
        places = np.searchsorted(edges, rng.random(40)) - 1
        alarms += uniform_p(edges[places], edges[places + 1]) < LOOK_RATE
    assert binomtest(int(alarms), runs, LOOK_RATE, alternative="greater").pvalue > 0.01
    assert binomtest(round(0.075 * runs), runs, LOOK_RATE, alternative="greater").pvalue < 0.01
    assert alarms >= 0.01 * runs, "a test that never alarms is none"


def test_few_pulls_tell_nothing(make_world, make_pulls, knowing):
    world = make_world()
    pulls = make_pulls(world, 8, seed=1)
    found = check_uniformity(*looked_at(knowing(world, pulls), pulls))
    assert found.check.status is Status.PASSED
    assert "too few" in found.check.reason
    assert f"Only {len(found.rows)} pulls set" in found.check.reason


def test_one_pull_is_one_pull_and_none_is_not_checked(make_world, make_pulls, knowing):
    world = make_world(sets_base=5.0)
    pulls = make_pulls(world, 8, seed=1)
    told = looked_at(knowing(world, pulls[:1]), pulls[:1])
    assert "Only one pull set" in check_uniformity(*told).check.reason
    never = Bite(number=1, ending=Ending.NEVER_SET)
    unset = tuple(pull.model_copy(update={"bites": (never,)}) for pull in pulls)
    found = check_uniformity(*looked_at(knowing(world, unset), unset))
    assert found.rows == ()
    assert found.check.status is Status.NOT_CHECKED
    assert found.check.reason == "No pull tells of this: not checked."


def test_a_place_that_the_draws_cannot_tell_is_no_pass(make_world, make_pulls, knowing):
    """A right model, but the weights without the strangest pull rest on a few draws."""
    world = make_world()
    pulls = make_pulls(world, 80, seed=0)
    *given, left_out = looked_at(knowing(world, pulls), pulls)
    first = check_uniformity(*given, left_out)
    assert first.check.status is Status.PASSED
    place = left_out.pulls.index(first.rows[0].pull)
    weights = list(left_out.weights)
    weights[place] = dataclasses.replace(weights[place], pareto_k=0.9)
    found = check_uniformity(*given, dataclasses.replace(left_out, weights=tuple(weights)))
    assert found.check.status is Status.LOOK
    assert "Of one place the draws tell little" in found.check.reason
    assert first.rows[0].pull in found.check.reason
    assert found.check.remedy
    # Where another one is, it is counted, and the strangest is as strange as it looks.
    other = left_out.pulls.index(first.rows[-1].pull)
    weights = list(left_out.weights)
    weights[other] = dataclasses.replace(weights[other], pareto_k=0.9)
    found = check_uniformity(*given, dataclasses.replace(left_out, weights=tuple(weights)))
    assert found.check.status is Status.PASSED
    assert "Of one place the draws tell little" in found.check.reason
    assert not found.rows[-1].is_known
