import re

import pytest

from model.base.errors import InputError, UnknownName
from model.records.question import Measure
from model.service.questions import compare, find, vary


def test_a_standing_question_by_its_name(small_campaign):
    assert find(small_campaign, " Leader on s6 ") == (small_campaign.questions[0],)


def test_names_that_differ_in_case_only_are_told_apart(small_campaign):
    small, big = small_campaign.questions[:2]
    seabeds = tuple(
        seabed.model_copy(update={"name": name})
        for seabed, name in zip(small_campaign.seabeds, ("sand", "Sand"), strict=True)
    )
    campaign = small_campaign.model_copy(
        update={
            "seabeds": seabeds,
            "questions": (
                small.model_copy(update={"name": "x"}),
                big.model_copy(update={"name": "X"}),
            ),
        }
    )
    assert [find(campaign, name)[0].name for name in ("x", "X")] == ["x", "X"]
    for name in ("sand", "Sand"):
        assert compare(campaign, "anchor=S6", "anchor=P9", seabeds=[name]).seabeds == (name,)
    with pytest.raises(UnknownName):
        compare(campaign, "anchor=S6", "anchor=P9", seabeds=["SAND"])


def test_a_treatment_without_a_changed_level_is_no_question(small_campaign):
    leader = small_campaign.treatments[0].model_copy(update={"levels": ("chain only",)})
    campaign = small_campaign.model_copy(update={"treatments": (leader,), "questions": ()})
    with pytest.raises(InputError, match="no level but its baseline, 'chain only'"):
        find(campaign, "leader")


def test_a_treatment_is_each_changed_level_against_the_baseline(small_campaign):
    leader = small_campaign.treatments[0].model_copy(
        update={"levels": ("chain only", "wire 2 m", "rope 4 m")}
    )
    campaign = small_campaign.model_copy(update={"treatments": (leader,)})

    wire, rope = find(campaign, "leader")
    assert wire.name == "leader: wire 2 m against chain only"
    assert (wire.a.anchor, wire.a.levels) == (None, {"leader": "wire 2 m"})
    assert rope.a.levels == {"leader": "rope 4 m"}
    assert rope.b.levels == {}
    assert rope.seabeds == ()


def test_an_unknown_name_is_answered_with_the_close_ones(small_campaign):
    with pytest.raises(UnknownName) as caught:
        find(small_campaign, "leeder")
    assert "leader" in caught.value.hint


def test_two_set_ups_as_typed(small_campaign):
    question = compare(
        small_campaign,
        "anchor=S6, leader=wire 2 m",
        "anchor=S6",
        seabeds=["Firm Sand"],
        measure="hold",
        hold=3.0,
        band="±0.2",
    )
    assert question.a.levels == {"leader": "wire 2 m"}
    assert question.seabeds == ("firm sand",)
    assert (question.measure, question.hold_kn) == (Measure.HOLD, 3.0)
    assert (question.band.lower, question.band.upper) == (-0.2, 0.2)


def test_the_load_to_hold_is_in_the_campaigns_unit(small_campaign):
    pounds = small_campaign.model_copy(update={"load_unit": "lbf"})
    question = compare(pounds, "anchor=S6", "anchor=P9", measure="hold", hold=1000)
    assert question.hold_kn == pytest.approx(4.4482216152605)  # NIST SP 811


def test_the_next_anchor(small_campaign):
    question = compare(small_campaign, "leader=wire 2 m", "leader=chain only", is_next_anchor=True)
    assert question.over == "next"


@pytest.mark.parametrize(
    ("named", "words"),
    [
        ({"seabeds": ["porridge"]}, "--seabed 'porridge': the campaign has no such"),
        ({"measure": "speed"}, "no measure 'speed'"),
        ({"measure": "hold"}, "needs a load"),
        ({"measure": "best", "hold": 3.0}, "--hold 3 beside the measure best, which takes no"),
        ({"measure": "upright", "band": "1.15"}, "takes a band on a difference of chances"),
        ({"band": "±0.1"}, "takes a band on a ratio of loads"),
        ({"is_next_anchor": True}, "the set-ups name an anchor"),
        ({"a": "anchor=P9"}, "both sides are the same"),
        ({"a": "anchor=P9, leader=chain only"}, "both sides are the same"),
        ({"a": "anchor=P9, scope=5"}, "both sides are the same"),  # the usual scope
        ({"seabeds": ["firm sand", "Firm sand"]}, "--seabed 'firm sand' is given twice"),
        ({"measure": ""}, "no measure ''"),
        ({"a": "leader=wire 2 m"}, "an anchor on both sides"),
        ({"a": "anchor=Q1"}, "Q1"),
    ],
)
def test_what_makes_no_question(small_campaign, named, words):
    arguments = {"a": "anchor=S6", "b": "anchor=P9", **named}
    with pytest.raises(InputError, match=words):
        compare(small_campaign, arguments.pop("a"), arguments.pop("b"), **arguments)


def test_a_load_to_hold_is_asked_for_in_the_campaigns_unit(small_campaign):
    pounds = small_campaign.model_copy(update={"load_unit": "lbf"})
    with pytest.raises(InputError) as caught:
        compare(pounds, "anchor=S6", "anchor=P9", measure="hold")
    assert caught.value.hint == "Add it in lbf, as --hold 585."  # 2.6 kN, a step of the ladder


@pytest.mark.parametrize("hold", [1e308, float("inf"), float("nan"), -3.0, 0.0, 1e-9, 1001.0])
def test_a_load_that_nothing_can_hold(small_campaign, hold):
    with pytest.raises(InputError, match=re.escape(f"--hold {hold:g} is no load")) as caught:
        compare(small_campaign, "anchor=S6", "anchor=P9", hold=hold)
    assert caught.value.hint == "Write 0.001 to 1000 kN."


def test_a_load_to_hold_means_the_measure_hold(small_campaign):
    assert compare(small_campaign, "anchor=S6", "anchor=P9", hold=3.0).measure is Measure.HOLD


def test_known_measures_are_named(small_campaign):
    with pytest.raises(UnknownName) as caught:
        compare(small_campaign, "anchor=S6", "anchor=P9", measure="speed")
    assert caught.value.hint == f"Known: {', '.join(Measure)}."


class TestAStandingQuestionAskedOtherwise:
    def test_it_is_a_question_of_its_own(self, small_campaign):
        leader = small_campaign.questions[0]
        best = vary(small_campaign, leader, measure="best")
        assert (best.a, best.b, best.seabeds) == (leader.a, leader.b, leader.seabeds)
        assert (best.name, best.measure, best.band) == (
            "leader on S6 (best)",
            Measure.BEST,
            leader.band,
        )

    def test_it_is_itself_where_nothing_differs(self, small_campaign):
        leader = small_campaign.questions[0]
        assert vary(small_campaign, leader) is leader
        assert vary(small_campaign, leader, measure="typical", seabeds=()) is leader

    def test_a_chance_has_the_band_of_chances_and_a_load_loses_the_one_to_hold(
        self, small_campaign
    ):
        leader, _, hold, _ = small_campaign.questions
        upright = vary(small_campaign, leader, measure="upright")
        assert (upright.band.kind, upright.band.upper) == ("difference", 0.1)
        typical = vary(small_campaign, hold, measure="typical")
        assert (typical.hold_kn, typical.band.kind) == (None, "ratio")

    def test_another_load_to_hold(self, small_campaign):
        held = vary(small_campaign, small_campaign.questions[2], hold=2.0, band="±0.05")
        assert (held.hold_kn, held.band.upper) == (2.0, 0.05)
        assert held.name == "S6 or P9 at 3 kN (2 kN, ±0.05)"

    def test_a_long_name_keeps_what_was_changed(self, small_campaign):
        long = small_campaign.questions[0].model_copy(update={"name": "x" * 120})
        name = vary(small_campaign, long, measure="best").name
        assert (len(name), name[-8:]) == (120, "x (best)")


def test_a_set_up_typed_at_length_still_has_a_name(small_campaign):
    spaced = "anchor=S6,\t\n leader=" + " " * 200 + "wire 2 m"
    name = compare(small_campaign, spaced, "anchor=P9").name
    assert name == "anchor=S6, leader= wire 2 m against anchor=P9"
