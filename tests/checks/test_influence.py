"""Pulls that an answer hangs on: a planted one is found, named, and its refit told."""

import dataclasses

import numpy as np
import pytest

from model.checks.check import Status
from model.checks.influence import Refit
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
    assert told.pull_words == f"pull {name} (S6, let go at 1 kN, upright)"


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
    from model.checks.asked import Asked
    from model.checks.influence import find_influences
    from model.checks.leave_one_out import leave_each_out

    pulls = make_pulls(world, 24, seed=1)
    posterior = learning(world, pulls, LEADER)
    asked = Asked.of(answer(QUESTION, posterior, pulls, table=()))
    settled = dataclasses.replace(asked, effect=asked.effect + 1.0, finding=Finding.HIGHER)
    by_id = {pull.id: pull for pull in pulls}
    left_out, campaign = leave_each_out(posterior), world.campaign
    kept = find_influences(campaign, by_id, [settled], left_out, [])
    assert kept.check.status is Status.PASSED
    lost = find_influences(campaign, by_id, [settled], left_out, [refit_of(pulls[3].id)])
    assert lost.check.status is Status.FAILED
    assert "would not be settled" in lost.check.reason
    assert pulls[3].id in lost.check.reason


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
