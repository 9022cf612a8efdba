"""What can be put together, what is not aboard, and which pairs compare."""

import pytest

from model.base.errors import InputError
from model.planning.candidates import RuledOut, candidates, contrasts, side_of
from model.planning.costs import minutes_between
from model.planning.ladders import staggered
from model.planning.start import start_of_priors
from model.records.question import Question, SetUp

WIRE = {"leader": "wire 2 m"}


def test_everything_that_can_be_put_together(small_campaign, wire):
    found = candidates(small_campaign, [wire], scopes=[3.0])
    # 2 anchors, 2 seabeds, 2 x 2 levels, the usual scope and another
    assert len(found) == len(set(found)) == 2 * 2 * 4 * 2


def test_what_is_not_aboard_is_left_out(small_campaign, wire):
    without = RuledOut(
        anchors=frozenset({"P9"}),
        levels=frozenset({("chain", "6 mm")}),
        seabeds=frozenset({"soft mud"}),
    )
    found = candidates(small_campaign, [wire], ruled_out=without)
    assert [one.setup.describe() for one in found] == [
        "anchor=S6, leader=chain only, chain=8 mm, scope=5",
        "anchor=S6, leader=wire 2 m, chain=8 mm, scope=5",
    ]


def test_with_everything_ruled_out_it_says_so(small_campaign, wire):
    nothing = candidates(
        small_campaign, [wire], ruled_out=RuledOut(anchors=frozenset({"S6", "P9"}))
    )
    with pytest.raises(InputError, match="nothing is left to pull"):
        start_of_priors(small_campaign, [(wire, 1.0)], nothing, has_camera=True, n_draw=50)


def test_pairs_differ_in_what_is_asked_and_in_nothing_else(small_campaign, wire):
    among = candidates(small_campaign, [wire])
    pairs = contrasts(small_campaign, wire, among)
    assert len(pairs) == 8  # by anchor, seabed and chain
    for first, second in pairs:
        a, b = among[first], among[second]
        assert dict(a.levels)["leader"] == "wire 2 m"
        assert dict(b.levels)["leader"] == "chain only"
        assert (a.anchor, a.seabed, a.scope) == (b.anchor, b.seabed, b.scope)
        assert dict(a.levels)["chain"] == dict(b.levels)["chain"]


def test_a_question_between_anchors_compares_anchors(small_campaign):
    question = Question(name="one", a=SetUp(anchor="S6"), b=SetUp(anchor="P9"))
    among = candidates(small_campaign, [question])
    pairs = contrasts(small_campaign, question, among)
    assert pairs
    assert all(among[a].anchor == "S6" and among[b].anchor == "P9" for a, b in pairs)
    assert all(among[a].levels == among[b].levels for a, b in pairs)


def test_a_question_between_scopes_compares_scopes(small_campaign):
    question = Question(
        name="one", a=SetUp(anchor="S6", scope=7.0), b=SetUp(anchor="S6", scope=3.0)
    )
    among = candidates(small_campaign, [question])
    pairs = contrasts(small_campaign, question, among)
    assert pairs
    assert all((among[a].scope, among[b].scope) == (7.0, 3.0) for a, b in pairs)


def test_whose_own_pull_it_is(small_campaign):
    question = small_campaign.questions[0]  # the leader on S6, on firm sand
    sides = {
        side_of(small_campaign, question, one): one
        for one in candidates(small_campaign, [question])
        if side_of(small_campaign, question, one)
    }
    assert set(sides) == {"a", "b"}
    assert all(one.anchor == "S6" and one.seabed == "firm sand" for one in sides.values())


def test_a_change_of_rig_and_a_move_cost_time(small_campaign, wire):
    minutes = small_campaign.minutes
    every = candidates(small_campaign, [wire])
    first = every[0]
    same_rig = next(one for one in every if one.rig == first.rig and one.seabed != first.seabed)
    other = next(one for one in every if one.rig != first.rig and one.seabed == first.seabed)
    assert minutes_between(minutes, first, first) == minutes.pull
    assert minutes_between(minutes, first, same_rig) == minutes.pull + minutes.move
    assert minutes_between(minutes, first, other) == minutes.pull + minutes.rig_change
    assert minutes_between(minutes, None, first) == minutes.pull + minutes.rig_change


def test_a_staggered_ladder_stands_half_way_between_and_ends_at_the_same_top(small_campaign):
    ladder = small_campaign.ladders[0]
    between = staggered(ladder).loads_kn
    assert between[-1] == ladder.top_kn
    assert list(between) == sorted(between)
    for low, high, half in zip(ladder.loads_kn, ladder.loads_kn[1:], between[1:], strict=False):
        assert half == pytest.approx((low + high) / 2, abs=1e-3)


@pytest.mark.parametrize("changes", [{"over": "next"}, {"measure": "next"}])
def test_what_no_pull_can_settle_is_not_planned_for(small_campaign, wire, changes):
    question = Question.model_validate(wire.model_dump() | {"band": None} | changes)
    every = candidates(small_campaign, [question])
    with pytest.raises(InputError, match="a chance, which no pull settles"):
        start_of_priors(small_campaign, [(question, 1.0)], every, has_camera=True, n_draw=50)
