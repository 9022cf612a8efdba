import pytest

from model.base.errors import InputError, UnknownName
from model.records.question import Measure
from model.service.questions import compare, find


def test_a_standing_question_by_its_name(small_campaign):
    assert find(small_campaign, " Leader on s6 ") == (small_campaign.questions[0],)


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
        ({"seabeds": ["porridge"]}, "no seabed 'porridge'"),
        ({"measure": "speed"}, "no measure 'speed'"),
        ({"measure": "hold"}, "needs a load"),
        ({"hold": 3.0}, "only it takes one"),
        ({"a": "anchor=P9"}, "both sides are the same"),
        ({"a": "anchor=P9, leader=chain only"}, "both sides are the same"),
        ({"a": "leader=wire 2 m"}, "an anchor on both sides"),
        ({"a": "anchor=Q1"}, "Q1"),
    ],
)
def test_what_makes_no_question(small_campaign, named, words):
    arguments = {"a": "anchor=S6", "b": "anchor=P9", **named}
    with pytest.raises(InputError, match=words):
        compare(small_campaign, arguments.pop("a"), arguments.pop("b"), **arguments)
