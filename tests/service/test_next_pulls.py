from math import nan

import pytest

from model.base.errors import InputError, KedgewiseError, UnknownName
from model.planning import start as planning_start
from model.planning.outcome_table import TOLD_BY_FIRST_BITES
from model.records.answer import NotYet
from model.records.campaign import Anchor
from model.records.question import Measure, Question, SetUp
from model.service.next_pulls import checkpoints, next_pulls
from model.service.planning_start import Wish
from model.store.store import Store


def ranked(store, wish=None, **more):
    return next_pulls(store, wish or Wish(), has_outlook=False, **more)


def every_candidate(found):
    return [one.first for one in found.ranking.singles]


def asking(store, question):
    campaign = store.campaign()
    store.replace_campaign(
        campaign.model_copy(update={"questions": (*campaign.questions, question)})
    )


def test_best_first_by_what_an_hour_tells_and_never_more_than_the_doubt(planned):
    ranking = ranked(planned).ranking
    for those in (ranking.pairs, ranking.singles):
        told = [one.information_nats_per_hour for one in those]
        assert told == sorted(told, reverse=True)
        assert all(-1e-9 <= one.information_nats <= ranking.doubt_nats for one in those)
        assert all(one.reason for one in those)
    assert len(ranking.singles) == 2 * 2 * 4  # anchors, seabeds, levels
    for one in ranking.pairs:
        assert one.second is not None
        assert (one.first.anchor, one.first.seabed) == (one.second.anchor, one.second.seabed)
        first, second = dict(one.first.levels), dict(one.second.levels)
        assert (first["leader"], second["leader"]) == ("wire 2 m", "chain only")
        assert first["chain"] == second["chain"]


def test_what_it_rests_on(planned):
    begun = ranked(planned).begun
    assert (begun.posterior.pulls, begun.posterior.state, begun.waiting) == (15, "full", "")
    assert begun.start.main.question.name == "leader on S6"
    assert set(begun.standing) == {one.name for one in planned.campaign().questions}


def test_where_it_may_lead(planned):
    said = []
    found = next_pulls(planned, Wish(), hours=2, progress=lambda share, words: said.append(words))
    outlook = found.outlook.rehearsed
    assert found.pulls_a_day == 4
    assert (outlook.n_campaign, outlook.most_pulls, outlook.pulls_a_day) == (10, 8, 4)
    assert sum(outlook.ends.values()) == pytest.approx(1)
    assert said == ["rehearsing 10 campaigns"]
    again = next_pulls(planned, Wish(), hours=2).outlook.rehearsed
    assert again.settled_at.tolist() == outlook.settled_at.tolist()


def test_what_is_not_aboard_is_nowhere(planned):
    wish = Wish(without=("anchor=s6", "chain=6 mm", "seabed=Soft Mud"))
    left = every_candidate(ranked(planned, wish))
    assert {one.anchor for one in left} == {"P9"}
    assert {one.seabed for one in left} == {"firm sand"}
    assert {dict(one.levels)["chain"] for one in left} == {"8 mm"}
    assert len(left) == 2


def test_a_scope_that_can_be_had_comes_on_top(planned):
    found = every_candidate(ranked(planned, Wish(scopes=(3.0,))))
    assert {one.scope for one in found} == {3.0, 5.0}
    assert len(found) == 2 * len(every_candidate(ranked(planned)))


def test_several_questions_share_the_weight(planned):
    wish = Wish(questions=("leader on S6", "leader and upright"), weights=(3.0, 1.0))
    asked = ranked(planned, wish).begun.start.asked
    assert [one.weight for one in asked] == [0.75, 0.25]


def test_the_camera_is_as_so_far_unless_said(planned):
    seen = {wish: ranked(planned, Wish(has_camera=wish)).begun.start.space.has_camera
            for wish in (None, True, False)}  # fmt: skip
    assert seen == {None: True, True: True, False: False}


def test_a_day_that_goes_on_has_its_rig_on_deck(planned):
    new, on = ranked(planned), ranked(planned, Wish(today="Day 2"))
    assert new.begun.last is None
    assert (on.begun.last.anchor, on.begun.last.seabed) == ("S6", "soft mud")
    assert on.begun.patches == {"firm sand": 4, "soft mud": 4}
    minutes = {one.first: one.minutes for one in on.ranking.singles}
    assert minutes[on.begun.last] == 15
    assert {one.minutes for one in new.ranking.singles} == {25}


def test_before_the_first_pull_it_is_the_model_that_is_believed(store, small_rehearsals):
    begun = ranked(store).begun
    assert (begun.posterior, begun.standing, begun.tried) == (None, {}, frozenset())
    assert all(one.is_untried for one in ranked(store).ranking.singles)
    with pytest.raises(UnknownName, match="day 9"):
        ranked(store, Wish(today="day 9"))


def test_pulls_without_a_fit_wait_for_it(filled):
    found = ranked(filled)
    assert isinstance(found, NotYet)
    assert "kedgewise fit" in found.hint


def test_a_question_that_the_fit_does_not_know_waits_for_the_next(planned):
    campaign = planned.campaign()
    anchors = (*campaign.anchors, Anchor(code="W8", kind="scoop", mass_kg=8))
    planned.replace_campaign(campaign.model_copy(update={"anchors": anchors}))
    asking(planned, Question(name="new", a=SetUp(anchor="W8"), b=SetUp(anchor="S6")))
    found = ranked(planned, Wish(questions=("new",)))
    assert isinstance(found, NotYet)
    assert "the anchor W8" in found.reason


@pytest.mark.parametrize(
    ("wish", "named"),
    [
        (Wish(questions=("keel",)), "keel"),
        (Wish(without=("anchor=Q1",)), "Q1"),
        (Wish(without=("leader=rope",)), "rope"),
        (Wish(without=("seabed=moon",)), "moon"),
        (Wish(today="day 9"), "day 9"),
    ],
)
def test_unknown_names_are_named_with_the_known_ones(planned, wish, named):
    with pytest.raises(UnknownName, match=named) as caught:
        ranked(planned, wish)
    assert "Known" in caught.value.hint or "known" in caught.value.hint


BOTH = ("leader on S6", "leader and upright")


@pytest.mark.parametrize(
    ("wish", "what"),
    [
        (Wish(without=("anchor=S6", "anchor=P9")), "nothing is left to pull"),
        (Wish(without=("S6",)), "S6"),
        (Wish(questions=BOTH, weights=(1.0,)), "2 questions and 1 weights"),
        (Wish(questions=BOTH, weights=(1.0, 0.0)), "above 0"),
        (Wish(questions=BOTH, weights=(1.0, nan)), "above 0"),
        (Wish(questions=("leader on S6", "leader on S6")), "asked twice"),
        (Wish(scopes=(0.0,)), "scope of 0"),
        (Wish(scopes=(nan,)), "scope of nan"),
    ],
)
def test_a_wish_that_cannot_be_met_is_refused(planned, wish, what):
    with pytest.raises(InputError, match=what) as caught:
        ranked(planned, wish)
    assert caught.value.hint


@pytest.mark.parametrize("hours", [0, -1, 25, nan])
def test_hours_that_no_day_has_are_refused(planned, hours):
    with pytest.raises(InputError, match="hours to plan"):
        ranked(planned, hours=hours)


def test_a_question_about_one_more_anchor_is_refused(planned):
    general = SetUp(levels={"leader": "wire 2 m"})
    asking(planned, Question(name="one more", a=general, b=SetUp(), over="next"))
    with pytest.raises(InputError, match="one more pull or anchor"):
        ranked(planned, Wish(questions=("one more",)))


@pytest.mark.parametrize("measure", [Measure.RESETS, Measure.TURNS, Measure.BURIED])
def test_a_measure_that_first_bites_do_not_tell_is_refused(planned, measure):
    a = SetUp(anchor="S6", levels={"leader": "wire 2 m"})
    asking(planned, Question(name="other", a=a, b=SetUp(anchor="S6"), measure=measure))
    with pytest.raises(InputError, match=measure.value) as caught:
        next_pulls(planned, Wish(questions=("other",)))
    assert "typical" in caught.value.hint
    assert measure not in TOLD_BY_FIRST_BITES


def test_without_that_refusal_the_fault_would_come_late_and_be_no_ones(planned, monkeypatch):
    monkeypatch.setattr(planning_start, "TOLD_BY_FIRST_BITES", frozenset(Measure))
    a = SetUp(anchor="S6", levels={"leader": "wire 2 m"})
    asking(planned, Question(name="other", a=a, b=SetUp(anchor="S6"), measure=Measure.RESETS))
    with pytest.raises(KedgewiseError) as caught:
        next_pulls(planned, Wish(questions=("other",)), hours=1)
    assert not isinstance(caught.value, InputError)


def test_a_campaign_without_a_ladder_is_refused(tmp_path, small_campaign):
    outings = tuple(one.model_copy(update={"ladder": "unknown"}) for one in small_campaign.outings)
    bare = Store.create(tmp_path / "bare", small_campaign.model_copy(update={"outings": outings}))
    with pytest.raises(InputError, match="ladder") as caught:
        ranked(bare)
    assert "kedgewise new" in caught.value.hint


def test_a_campaign_without_questions_says_what_to_name(tmp_path, small_campaign):
    update = {"questions": (), "main_question": None}
    bare = Store.create(tmp_path / "bare", small_campaign.model_copy(update=update))
    with pytest.raises(InputError, match="no standing question"):
        ranked(bare)
    assert ranked(bare, Wish(questions=("leader",))).ranking.pairs


def test_checkpoints_are_within_what_is_rehearsed():
    assert checkpoints(24, 12) == [6, 12, 24]
    assert checkpoints(2, 12) == [1, 2]
