"""What own pulls alone say, in words: the difference, what was counted, what was left out."""

import dataclasses
import io

import pytest
from rich.console import Console

from app.answer_text import answer_view
from app.own_pulls import COUNTED, own_pulls_size, own_pulls_source
from model.questions.answer import Alone, Estimate, OwnCount
from model.questions.own_shares import TRIES
from model.records.answer import Interval
from model.records.question import Measure, Question

POINTS = Estimate(median=-0.42, interval=Interval(prob=0.9, lower=-0.7, upper=-0.1), unit="chance")


@pytest.fixture
def by_measure(small_campaign, made_up_answer):
    """An answer by a measure, with what own pulls say of it."""

    def make(measure, a, b, effect=POINTS):
        data = small_campaign.questions[0].model_dump()
        question = Question.model_validate(data | {"measure": measure, "band": None})
        alone = Alone(effect=effect, p_higher=0.02, a=a, b=b)
        return dataclasses.replace(made_up_answer(question), alone=alone)

    return make


def test_a_share_says_what_is_counted_what_is_left_out_and_its_prior(by_measure):
    answer = by_measure(
        Measure.UPRIGHT, OwnCount(so=1, count=9, left_out=6), OwnCount(so=4, count=4, left_out=0)
    )
    assert own_pulls_size(answer).replace("\u00a0", " ") == (
        "−42 points (−70 to −10 points), A higher 2 %"
    )
    assert own_pulls_source(answer) == (
        "by the pulls of these two set-ups alone (seen upright: A 1 of 9, 6 not seen, B 4 of 4; "
        "each chance alike before them, Beta(1, 1))"
    )


def test_lengths_are_counted_and_have_no_share(by_measure, made_up_answer, small_campaign):
    ratio = made_up_answer(small_campaign.questions[0]).alone.effect
    answer = by_measure(
        Measure.BURIED, OwnCount(count=9, left_out=6), OwnCount(count=8, left_out=0), ratio
    )
    assert own_pulls_source(answer) == (
        "by the pulls of these two set-ups alone, without modes (lengths: A 9, 6 without one, B 8)"
    )


def test_every_measure_that_own_pulls_tell_of_has_its_words():
    assert set(COUNTED) == {*TRIES, Measure.BURIED}


def test_the_terminal_says_it_or_why_not(by_measure, small_campaign, render):
    answer = by_measure(
        Measure.SETS, OwnCount(so=3, count=4, left_out=0), OwnCount(so=5, count=5, left_out=0)
    )
    shown = render(answer_view(answer, small_campaign))
    assert "set-ups alone (set: A 3 of 4, B 5 of 5; each chance alike" in shown
    without = dataclasses.replace(answer, alone=None, not_alone="no pull of B tells of it")
    assert "none: no pull of B tells of it" in render(answer_view(without, small_campaign))
    silent = dataclasses.replace(answer, alone=None, not_alone="")
    assert "Alone" not in render(answer_view(silent, small_campaign))


@pytest.fixture
def render():
    """A view as a terminal of 80 columns prints it, on one line."""

    def make(view):
        console = Console(width=80, file=io.StringIO())
        console.print(view)
        return " ".join(console.file.getvalue().split())

    return make
