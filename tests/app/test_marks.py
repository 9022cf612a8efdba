import pytest

from app.marks import side_marks
from model.records.pull import Bite, Ending, ModeSeen, Reading, Start
from model.records.question import Question, SetUp


@pytest.fixture
def found(small_campaign, small_pulls):
    return side_marks(small_campaign.questions[0], small_pulls, small_campaign)


def test_each_side_has_its_own_pulls(found):
    assert {mark.pull for mark in found.marks if mark.side == "A"} == {
        "day 1/2",
        "day 1/4",
        "day 2/1",
        "day 2/3",
    }
    assert {mark.pull for mark in found.marks if mark.side == "B"} == {
        "day 1/1",
        "day 1/3",
        "day 1/5",
        "day 2/2",
        "day 2/4",
    }


def test_a_step_is_a_range_from_the_step_below(found):
    mark = next(mark for mark in found.marks if mark.pull == "day 1/1")
    assert (mark.lower_kn, mark.upper_kn, mark.is_cut_off) == (2.0, 2.6, False)
    assert mark.mode == "on its side"


def test_a_pull_that_held_is_cut_off(found):
    mark = next(mark for mark in found.marks if mark.pull == "day 1/4")
    assert (mark.lower_kn, mark.upper_kn, mark.is_cut_off) == (4.6, None, True)


def test_a_slip_gives_a_mark_a_bite(found):
    first, second = (mark for mark in found.marks if mark.pull == "day 2/1")
    assert (first.bite, first.upper_kn, second.bite, second.upper_kn) == (1, 2.0, 2, None)


def test_after_a_turn_the_thrust_is_off_again(small_campaign, small_pulls):
    """What the bite before the turn held says nothing of the one after it."""
    turned = (
        Bite(number=1, ending=Ending.STOPPED, load_kn=3.9),
        Bite(number=2, start=Start.AFTER_TURN, ending=Ending.RELEASED, load_kn=1.5),
    )
    pull = small_pulls[0].model_copy(update={"bites": turned, "reason": "turned to veer"})
    first, second = side_marks(small_campaign.questions[0], [pull], small_campaign).marks
    assert (first.lower_kn, first.upper_kn) == (3.9, None)
    assert (second.lower_kn, second.upper_kn) == (1.0, 1.5)


def test_void_pulls_are_listed_and_not_drawn(small_campaign, small_pulls):
    question = Question(name="q", a=SetUp(anchor="S6"), b=SetUp(anchor="P9"))
    found = side_marks(question, small_pulls, small_campaign)
    assert [(side, pull.code, pull.reason) for side, pull in found.void] == [
        ("B", "8", "fouled on old line")
    ]
    assert "day 1/8" not in {mark.pull for mark in found.marks}


def test_what_spoilt_a_void_pull_may_stand_in_its_notes(small_campaign, small_pulls):
    question = Question(name="q", a=SetUp(anchor="S6"), b=SetUp(anchor="P9"))
    noted = [
        pull.model_copy(update={"reason": "", "notes": "gear failed"}) if pull.is_void else pull
        for pull in small_pulls
    ]
    [(_, pull)] = side_marks(question, noted, small_campaign).void
    assert pull.reason == "gear failed"


def test_never_set_stands_at_zero(small_campaign, small_pulls):
    question = Question(name="q", a=SetUp(anchor="S6"), b=SetUp(anchor="P9"))
    marks = side_marks(question, small_pulls, small_campaign).marks
    mark = next(mark for mark in marks if mark.pull == "day 1/6")
    assert (mark.lower_kn, mark.upper_kn, mark.ending) == (0.0, 0.0, Ending.NEVER_SET)


def test_a_peak_reading_is_as_wide_as_its_resolution(small_campaign, small_pulls):
    bite = Bite(
        number=1,
        ending=Ending.RELEASED,
        reading=Reading.PEAK,
        load_kn=3.0,
        resolution_kn=0.2,
        mode=ModeSeen.UPRIGHT,
    )
    pull = small_pulls[0].model_copy(update={"bites": (bite,)})
    (mark,) = side_marks(small_campaign.questions[0], [pull], small_campaign).marks
    assert (mark.lower_kn, mark.upper_kn) == pytest.approx((2.9, 3.1))


@pytest.mark.parametrize(
    ("change", "count"),
    [
        ({}, 1),
        ({"seabed": "soft mud"}, 0),
        ({"anchor": "P9"}, 0),
        ({"levels": {}}, 1),
        ({"scope": 7.0}, 1),
        ({"scope": None}, 1),
    ],
)
def test_the_pulls_drawn_are_those_that_the_answer_counts(
    change, count, small_campaign, small_pulls
):
    question = small_campaign.questions[0]
    pull = small_pulls[0].model_copy(update=change)
    assert len(side_marks(question, [pull], small_campaign).marks) == count


def test_a_pull_at_another_scope_is_told_apart(small_campaign, small_pulls):
    pulls = [small_pulls[0], small_pulls[2].model_copy(update={"scope": 8.0})]
    marks = side_marks(small_campaign.questions[0], pulls, small_campaign).marks
    assert [mark.has_scope for mark in marks] == [True, False]


def test_in_general_takes_every_anchor(small_campaign, small_pulls):
    question = small_campaign.questions[1]
    found = side_marks(question, small_pulls, small_campaign)
    assert {mark.anchor for mark in found.marks if mark.side == "A"} == {"S6", "P9"}
