"""A day in blocks: within its hours, arms in a drawn order, each pull on fresh ground."""

from collections import Counter

import pytest

from model.planning.candidates import candidates
from model.planning.day_plan import plan_day
from model.planning.outlook import outlook
from model.planning.policies import Rotate
from model.planning.ranking import rank
from model.planning.rehearsal import Settings, rehearse
from model.planning.start import start_of_priors
from model.records.answer import Finding


@pytest.fixture(scope="module")
def hours():
    return 4.0


@pytest.fixture
def planned(begun, hours):
    return plan_day(begun, 60 * hours, seed=11)


def test_it_uses_the_time_there_is_and_no_more(planned, hours, begun):
    assert 0 < planned.minutes <= 60 * hours
    minutes = begun.campaign.minutes
    most = 2 * (minutes.pull + minutes.rig_change + minutes.move)
    assert planned.minutes > 60 * hours - most
    clock = 0.0
    for pull in planned.pulls:
        assert pull.begins_min == pytest.approx(clock)
        clock += pull.minutes


def test_a_block_compares_on_one_seabed_with_as_many_pulls_of_each_arm(planned):
    for block in planned.blocks:
        arms = Counter(pull.candidate for pull in block.pulls)
        assert len(arms) == 2
        assert len(set(arms.values())) == 1
        assert {pull.candidate.seabed for pull in block.pulls} == {block.seabed}


def test_no_two_pulls_lie_in_one_furrow(planned):
    patches = [(pull.candidate.seabed, pull.patch) for pull in planned.pulls]
    assert len(set(patches)) == len(patches)


def test_the_seed_gives_the_order_and_another_another(begun, hours):
    again, other = (plan_day(begun, 60 * hours, seed=seed) for seed in (11, 12))
    first = plan_day(begun, 60 * hours, seed=11)
    assert first.pulls == again.pulls
    orders = {
        tuple(pull.candidate for pull in plan_day(begun, 60 * hours, seed=seed).pulls)
        for seed in range(5)
    }
    assert len(orders) > 1
    assert other.seed == 12


def test_made_anew_it_goes_on_from_the_rig_on_deck_and_the_furrows_made(begun):
    last = begun.candidates[0]
    found = plan_day(begun, 120, seed=11, last=last, patches={last.seabed: 4})
    assert found.blocks[0].seabed == last.seabed
    first = [pull for pull in found.pulls if pull.candidate.seabed == last.seabed]
    assert min(pull.patch for pull in first) == 5


def test_a_quarter_of_an_hour_is_too_short_for_anything(begun):
    assert plan_day(begun, 15, seed=1).blocks == ()


def test_a_settled_question_needs_no_more_pulls(begun):
    kept = begun.keeping(begun.candidates[:2])
    settings = Settings(n_campaign=20, most_pulls=4, pulls_a_day=4, n_draw=2000)
    found = rehearse(kept, Rotate(candidates=[0, 1]), settings)
    settled = outlook(kept, found, Finding.HIGHER)
    assert settled.why_stop == "it is settled"
    still = outlook(kept, found, Finding.NOT_SETTLED)
    assert "within 4 pulls is under 1 %: a finding needs six pulls a side" in still.why_stop
    assert still.what_would


def test_the_ranking_says_why(begun):
    found = rank(begun, tried=set(begun.candidates[:1]))
    assert [one.information_nats_per_hour for one in found.pairs] == sorted(
        (one.information_nats_per_hour for one in found.pairs), reverse=True
    )
    assert all("of the doubt" in one.reason for one in (*found.singles, *found.pairs))
    tried = next(one for one in found.singles if one.first == begun.candidates[0])
    assert not tried.is_untried
    assert "never pulled" not in tried.reason


def test_made_anew_after_each_pull_a_day_has_both_arms_alike(begun):
    """A plan walked pull by pull: each pair is finished, and no arm is always the first."""
    last, patches, pulled = None, {}, []
    for _ in range(8):
        found = plan_day(begun, 120, seed=11, last=last, patches=patches)
        last = found.pulls[0].candidate
        patches = patches | {last.seabed: patches.get(last.seabed, 0) + 1}
        pulled.append(last)
    leaders = [dict(one.levels)["leader"] for one in pulled]
    assert Counter(leaders) == {"wire 2 m": 4, "chain only": 4}
    for first, second in zip(pulled[::2], pulled[1::2], strict=True):
        assert (first.anchor, first.seabed) == (second.anchor, second.seabed)
    assert len(set(leaders[::2])) == 2


def test_what_no_pull_can_settle_is_never_rehearsed_as_settled(small_campaign):
    beyond = small_campaign.questions[2].model_copy(update={"hold_kn": 50.0})
    every = candidates(small_campaign, [beyond])[:2]
    start = start_of_priors(small_campaign, [(beyond, 1.0)], every, has_camera=True, n_draw=800)
    settings = Settings(n_campaign=20, most_pulls=12, pulls_a_day=6, n_draw=3000)
    found = rehearse(start, Rotate(candidates=[0, 1]), settings)
    assert not found.is_settled.any()
    told = outlook(start, found, Finding.NOT_SETTLED)
    assert told.why_stop == "the load is more than any of these pulls could reach"
