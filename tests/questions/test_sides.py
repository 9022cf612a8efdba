import pytest

from model.questions.sides import (
    is_at_scope,
    question_seabeds,
    setup_rows,
    side_pulls,
    summarise_pulls,
)
from model.records.answer import SidePulls
from model.records.question import Question, SetUp

WIRE = {"leader": "wire 2 m"}
ON_S6 = Question(
    name="on S6", a=SetUp(anchor="S6", levels=WIRE), b=SetUp(anchor="S6"), seabeds=("firm sand",)
)
GENERAL = Question(name="general", a=SetUp(levels=WIRE), b=SetUp())


def _sides(campaign, question, pulls):
    return [side_pulls(campaign, question, setup, pulls) for setup in (question.a, question.b)]


def test_pulls_of_a_side_have_its_anchor_levels_and_seabed(small_campaign, small_pulls):
    a, b = _sides(small_campaign, ON_S6, small_pulls)
    assert [(pull.outing, pull.code) for pull in a.used] == [
        ("day 1", "2"), ("day 1", "4"), ("day 2", "1"), ("day 2", "3"),
    ]  # fmt: skip
    counts = summarise_pulls(a, b)
    assert counts.a == SidePulls(count=4, held=2, void=0)
    assert counts.b == SidePulls(count=5, held=1, void=0)
    assert counts.shared_outings == 2


def test_in_general_every_anchor_counts_and_void_pulls_are_counted_apart(
    small_campaign, small_pulls
):
    a, b = _sides(small_campaign, GENERAL, small_pulls)
    counts = summarise_pulls(a, b)
    assert (counts.a.count, counts.b.count) == (7, 8)
    assert (counts.a.void, counts.b.void) == (0, 1)
    assert counts.a.count + counts.b.count + counts.b.void == len(small_pulls)


def test_a_baseline_named_is_a_baseline_left_out(small_campaign, small_pulls):
    named = SetUp(anchor="S6", levels={"leader": "chain only", "chain": "8 mm"})
    assert side_pulls(small_campaign, ON_S6, named, small_pulls) == side_pulls(
        small_campaign, ON_S6, SetUp(anchor="S6"), small_pulls
    )
    bare = [pull.model_copy(update={"levels": {}}) for pull in small_pulls]
    assert len(side_pulls(small_campaign, ON_S6, ON_S6.b, bare).used) == 9


@pytest.mark.parametrize(
    ("wanted", "pulled", "expected"),
    [(None, 5.0, True), (None, None, True), (None, 5.4, True), (None, 7.0, False),
     (7.0, 7.0, True), (7.0, None, False)],
)  # fmt: skip
def test_scope_near_enough(wanted, pulled, expected, small_campaign, small_pulls):
    pull = small_pulls[0].model_copy(update={"scope": pulled})
    assert is_at_scope(small_campaign, SetUp(anchor="S6", scope=wanted), pull) is expected


def test_a_question_without_seabeds_is_about_all_of_them(small_campaign):
    assert question_seabeds(small_campaign, GENERAL) == ("firm sand", "soft mud")
    assert question_seabeds(small_campaign, ON_S6) == ("firm sand",)


def test_rows_are_every_anchor_on_every_seabed_alike_on_both_sides(small_campaign):
    rows = setup_rows(small_campaign, GENERAL, GENERAL.a)
    assert [(row.anchor_index, row.seabed_index) for row in rows] == [
        (0, 0), (0, 1), (1, 0), (1, 1),
    ]  # fmt: skip
    assert {row.level for row in rows} == {(1.0, 0.0)}
    other = setup_rows(small_campaign, GENERAL, GENERAL.b)
    assert [row.anchor_index for row in other] == [row.anchor_index for row in rows]


def test_the_next_anchor_has_a_row_beyond_the_last(small_campaign):
    question = GENERAL.model_copy(update={"over": "next"})
    assert {row.anchor_index for row in setup_rows(small_campaign, question, question.a)} == {2}


def test_a_scope_is_an_angle_from_the_usual_one(small_campaign):
    [row] = setup_rows(small_campaign, ON_S6, SetUp(anchor="S6", scope=10.0))
    assert row.inverse_scope_shift == pytest.approx(1 / 10 - 1 / 5)
    [usual] = setup_rows(small_campaign, ON_S6, SetUp(anchor="S6"))
    assert usual.inverse_scope_shift == 0.0
