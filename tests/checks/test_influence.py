"""Pulls that an answer hangs on: a planted one is found, named, and its refit told."""

import dataclasses

import numpy as np
import pytest
from scipy.stats import binomtest, norm

from model.base.constants import SETTLED_PROB
from model.checks.asked import Asked
from model.checks.check import LOOK_RATE, Status
from model.checks.influence import LOST, Refit, find_influences
from model.checks.largest_shift import shift_limit
from model.checks.leave_one_out import leave_each_out
from model.questions.ask import answer
from model.records.answer import Finding
from model.records.pull import Bite, Ending, ModeSeen
from model.records.question import Question, SetUp

LEADER = {"treatment_load": (0.0, 0.3)}
QUESTION = Question(
    name="leader on S6",
    a=SetUp(anchor="S6", levels={"leader": "wire 2 m"}),
    b=SetUp(anchor="S6"),
    seabeds=("firm sand",),
)


@pytest.fixture
def world(make_world):
    asked = make_world(upright_base=2.0, sets_base=4.0, treatment_load=0.12)
    campaign = asked.campaign.model_copy(update={"questions": (QUESTION,), "main_question": None})
    return dataclasses.replace(asked, campaign=campaign)


def absurd(pulls):
    """One pull with the leader that let go at the first step, upright."""
    place = next(i for i, pull in enumerate(pulls) if pull.levels["leader"] == "wire 2 m")
    bite = Bite(number=1, ending=Ending.RELEASED, load_kn=1.0, mode=ModeSeen.UPRIGHT)
    spoilt = pulls[place].model_copy(update={"bites": (bite,)})
    return spoilt.id, (*pulls[:place], spoilt, *pulls[place + 1 :])


def test_a_planted_pull_is_the_one_it_hangs_on(world, make_pulls, learning, checked):
    # Without spoilt bites in the model, which are there to take such a pull up.
    firm = dataclasses.replace(world, values={**world.values, "spoilt_share": np.array(1e-6)})
    name, pulls = absurd(make_pulls(firm, 24, seed=1))
    found = checked(learning(firm, pulls, LEADER), pulls).influences
    first = found.rows[0]
    told = next(row for row in found.rows if row.pull == name)
    assert first.pull == name or name in found.asks_for_refit
    assert found.check.status is not Status.PASSED
    assert name in found.check.reason
    assert told.pull_words == f"pull {name} (S6 on firm sand, let go at 1 kN, upright)"


def test_a_campaign_like_the_model_hangs_on_none(world, make_pulls, learning, checked):
    pulls = make_pulls(world, 24, seed=1)
    found = checked(learning(world, pulls, LEADER), pulls).influences
    assert found.check.status is Status.PASSED
    assert found.check.reason.startswith("No answer hangs on one pull.")
    assert "in place of" in found.check.reason
    assert found.asks_for_refit == ()


def refit_of(name, higher=0.71, trouble=""):
    return Refit(
        pull=name,
        question=QUESTION,
        trouble=trouble,
        higher=higher,
        above=0.4,
        inside=0.5,
        below=0.1,
        mean=0.05,
    )


def test_a_refit_takes_the_place_of_weights_and_says_so(world, make_pulls, learning, checked):
    pulls = make_pulls(world, 24, seed=1)
    posterior = learning(world, pulls, LEADER)
    name = pulls[3].id
    refit = refit_of(name).model_copy(update={"mean": -0.4})
    found = checked(posterior, pulls, [refit]).influences
    [row] = [row for row in found.rows if row.state == "refitted"]
    assert (row.pull, row.p_without) == (name, 0.71)
    assert "would be 71 % in place of" in found.check.reason
    assert "by a fit without it" in found.check.reason
    assert found.refitted == (name,)


def test_a_finding_that_one_pull_makes_is_lost_without_it(world, make_pulls, learning):
    """Settled higher; a fit without one pull says that it is about as likely as not."""
    pulls = make_pulls(world, 24, seed=1)
    posterior = learning(world, pulls, LEADER)
    asked = Asked.of(answer(QUESTION, posterior, pulls, table=()), world.campaign, pulls)
    settled = dataclasses.replace(asked, effect=asked.effect + 1.0, finding=Finding.HIGHER)
    by_id = {pull.id: pull for pull in pulls}
    left_out, campaign = leave_each_out(posterior), world.campaign
    kept = find_influences(campaign, by_id, [settled], left_out, [])
    assert kept.check.status is Status.PASSED
    # Just below what a finding needs is as good as just above: nothing hangs on that.
    just = refit_of(pulls[3].id).model_copy(
        update={"above": 0.93, "inside": 0.06, "below": 0.01, "mean": float(settled.effect.mean())}
    )
    just_below = find_influences(campaign, by_id, [settled], left_out, [just])
    assert any(row.loses_finding for row in just_below.rows)
    assert just_below.check.status is Status.PASSED
    lost = find_influences(campaign, by_id, [settled], left_out, [refit_of(pulls[3].id)])
    assert lost.check.status is Status.FAILED
    assert "would not be settled" in lost.check.reason
    assert pulls[3].id in lost.check.reason


@pytest.mark.parametrize("count", [3, 6, 12])
def test_of_right_models_few_hang_on_one_pull(count):
    """Normal pulls, a flat prior: each answer without each pull worked out exactly."""
    runs, rng = 4000, np.random.default_rng(count)
    drawn = rng.standard_normal((runs, 2, count))
    without = (drawn.sum(axis=2, keepdims=True) - drawn) / (count - 1)
    sign, sd = np.array([1, -1])[:, None], np.sqrt(2 / count)
    shift = ((without - drawn.mean(axis=2, keepdims=True)) * sign / sd).reshape(runs, -1)
    limit = shift_limit(count, count, LOOK_RATE)
    far = np.abs(shift).max(axis=1) >= limit
    assert binomtest(int(far.sum()), runs, LOOK_RATE).pvalue > 0.001
    # A finding that is just settled: gone without some pull, and by a shift that is far.
    wider = np.sqrt(1 / count + 1 / (count - 1)) / sd
    share = norm.cdf((norm.ppf(0.955) + shift) / wider)
    lost = (share < LOST).any(axis=1)
    made = ((share < LOST) & (np.abs(shift) >= limit)).any(axis=1)
    most = {3: (0.05, 0.035), 6: (0.002, 0.002), 12: (0.001, 0.001)}[count]
    assert lost.mean() <= most[0]
    assert made.mean() <= most[1]
    assert (share < SETTLED_PROB).any(axis=1).mean() > 0.9, "so that this could be no rule"


def test_pulls_of_another_anchor_tell_of_a_leader_too(world, make_pulls, learning):
    pulls = make_pulls(world, 24, seed=1)
    posterior = learning(world, pulls, LEADER)
    told = Asked.of(answer(QUESTION, posterior, pulls, table=()), world.campaign, pulls)
    assert told.pulls == (12, 12)
    other = QUESTION.model_copy(update={"b": SetUp(anchor="P9", levels={"leader": "wire 2 m"})})
    told = Asked.of(answer(other, posterior, pulls, table=()), world.campaign, pulls)
    assert told.pulls == (6, 6)


def test_more_pulls_shift_it_less_and_a_side_of_one_is_no_fault():
    limits = [shift_limit(count, count, LOOK_RATE) for count in (2, 3, 6, 12, 24)]
    assert limits == sorted(limits, reverse=True)
    assert shift_limit(1, 6, LOOK_RATE) == shift_limit(2, 6, LOOK_RATE)
    assert shift_limit(6, 6, LOOK_RATE / 7) > shift_limit(6, 6, LOOK_RATE)


def test_without_a_question_nothing_is_checked(world, make_pulls, knowing):
    pulls = make_pulls(world, 8, seed=1)
    by_id, left_out = {pull.id: pull for pull in pulls}, leave_each_out(knowing(world, pulls))
    found = find_influences(world.campaign, by_id, [], left_out, [])
    assert found.check.status is Status.NOT_CHECKED
    assert found.check.reason == "There is no standing question: not checked."


def test_a_pull_that_asks_for_a_refit_is_named_with_what_to_do(
    world, make_pulls, learning, checked
):
    from model.posterior.posterior import LOG_LIKELIHOOD

    pulls = make_pulls(world, 24, seed=1)
    posterior = learning(world, pulls, LEADER)
    effect = posterior.draws["treatment_load"].to_numpy()[:, 0]
    z = (effect - effect.mean()) / effect.std()
    posterior.draws[LOG_LIKELIHOOD][:, 4] = -4 * z**2
    found = checked(posterior, pulls).influences
    name = str(posterior.draws["pull"].to_numpy()[4])
    assert found.asks_for_refit == (name,)
    assert found.check.status is Status.LOOK
    assert f"the draws cannot tell what would be known without it: {name}" in found.check.reason
    assert "kedgewise check --refit" in found.check.remedy
    done = checked(posterior, pulls, [refit_of(name)]).influences
    assert done.asks_for_refit == ()
    [row] = [row for row in done.rows if row.state == "refitted"]
    assert row.p_without == 0.71
    failed = refit_of(name, higher=0.0, trouble="12 divergent draws")
    [row] = [
        row for row in checked(posterior, pulls, [failed]).influences.rows if row.state == "failed"
    ]
    assert row.p_without == row.p_with
