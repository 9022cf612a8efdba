"""All checks together: their order, what they keep, and what they refuse."""

import numpy as np
import pytest

from model.base.errors import FitFailed
from model.checks.all_checks import Checks, run_checks
from model.checks.blind_spots import BLIND, find_blind_spots
from model.checks.check import Status
from model.checks.pull_names import pull_name
from model.questions.ask import answer
from model.questions.sensitivity import doubled_prior_weights

NAMES = ("shares", "influence", "uniformity", "sensitivity", "doubled_prior", "priors")


@pytest.fixture
def found(make_world, make_pulls, knowing, checked):
    world = make_world()
    pulls = make_pulls(world, 16, seed=1)
    return checked(knowing(world, pulls), pulls)


def test_every_check_says_what_it_came_to_and_why(found):
    assert tuple(check.name for check in found.checks) == NAMES
    for check in found.checks:
        assert check.status in Status
        assert check.reason.endswith(".")
        is_fine = check.status in {Status.PASSED, Status.NOT_CHECKED}
        assert (check.remedy == "") is is_fine


def test_what_was_found_can_be_kept(found):
    assert Checks.model_validate_json(found.model_dump_json()) == found


def test_draws_that_failed_are_not_judged_further(made_up_posterior, small_campaign, small_pulls):
    posterior = made_up_posterior(small_campaign, small_pulls, status="failed")
    with pytest.raises(FitFailed):
        run_checks(posterior, small_pulls, [])


def test_made_up_draws_of_the_priors_go_through(
    made_up_posterior, small_campaign, small_pulls, checked
):
    """Never set, slips, two seabeds, void pulls; a likelihood that has nothing to do with them."""
    found = checked(made_up_posterior(small_campaign, small_pulls), small_pulls)
    assert len(found.doubled.rows) == len(small_campaign.questions)
    assert {row.anchor for row in found.shares.rows} == {"S6", "P9"}


def test_what_the_pulls_cannot_say_comes_from_the_answers(
    made_up_posterior, small_campaign, small_pulls
):
    posterior = made_up_posterior(small_campaign, small_pulls)
    answers = [answer(one, posterior, small_pulls, table=()) for one in small_campaign.questions]
    spots = find_blind_spots(answers)
    codes = {(a.question.name, f.text) for a in answers for f in a.summary.flags if f.code in BLIND}
    assert {(spot.question, spot.text) for spot in spots} == codes
    assert codes


def test_a_wider_prior_that_takes_a_chance_along_is_told(
    make_world, make_pulls, knowing, checked, small_campaign
):
    """Likeliest no practical difference, but not by far: a wider prior makes more of the rest."""
    world = make_world(upright_base=2.0)
    pulls = make_pulls(world, 16, seed=1)
    posterior = knowing(world, pulls, n_draws=2000)
    tight = checked(posterior, pulls).doubled
    assert tight.check.status is Status.PASSED
    effect = np.random.default_rng(1).normal(0.0, 0.09, posterior.draws["treatment_load"].shape)
    posterior.draws["treatment_load"][:] = effect
    weights, k = doubled_prior_weights(posterior, small_campaign.questions[0])
    assert k < 0.7
    found = checked(posterior, pulls).doubled
    assert found.check.status is Status.LOOK
    assert "with a prior twice as wide no practical difference is" in found.check.reason
    assert len(found.rows) == len(small_campaign.questions), "every standing answer is judged"
    assert all(row.fall is not None for row in found.rows)
    assert weights.sum() == pytest.approx(1.0)


def test_without_pulls_or_questions_nothing_passes(make_world, make_pulls, knowing):
    world = make_world()
    posterior = knowing(world, make_pulls(world, 4, seed=1))
    found = run_checks(posterior, make_pulls(world, 4, seed=1), [])
    by_name = {check.name: check.status for check in found.checks}
    for name in ("influence", "sensitivity", "doubled_prior"):
        assert by_name[name] is Status.NOT_CHECKED


def test_too_few_draws_tell_of_no_wider_prior(make_world, make_pulls, knowing, checked):
    world = make_world()
    pulls = make_pulls(world, 8, seed=1)
    found = checked(knowing(world, pulls, n_draws=200), pulls).doubled
    assert {row.p_likeliest_doubled for row in found.rows} == {None}
    assert found.check.status is Status.LOOK


def test_pulls_are_named_so_that_a_tester_knows_them(small_campaign, small_pulls):
    names = [pull_name(small_campaign, pull) for pull in small_pulls]
    assert names[0] == "pull day 1/1 (S6 on firm sand, let go at 2.6 kN, on its side)"
    assert names[5] == "pull day 1/6 (P9 on firm sand, never set)"
    assert "let go at 2 kN, on its side; then held 4.6 kN, upright" in names[8]
