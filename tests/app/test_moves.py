"""What moved, in words: figures that differ, the others counted, a reason to wait once."""

import pytest

from app.moves import MOST_NAMED, moved_words
from model.records.answer import NotYet
from model.service.evidence import waiting
from model.service.moved import Moved


@pytest.fixture
def moved(made_up_answer, small_campaign):
    """A factory: a question of some name, from one chance to another."""

    def make(name, before, after, *, state="quick", why=""):
        question = small_campaign.questions[0].model_copy(update={"name": name})
        summary = made_up_answer(question).summary

        def at(chance, state):
            posterior = summary.posterior.model_copy(update={"state": state})
            return summary.model_copy(update={"p_higher": chance, "posterior": posterior})

        earlier = None if before is None else at(before, "full")
        return Moved(question=question, before=earlier, after=waiting(at(after, state), why))

    return make


def test_only_figures_that_are_shown_otherwise_have_a_line(moved):
    moves = [moved("a", 0.31, 0.312), moved("b", 0.60, 0.64), moved("c", 0.998, 0.9991)]
    assert moved_words(moves) == ["b: 0.60 → 0.64, quick", "2 others as before"]
    assert moved_words(moves[1:]) == ["b: 0.60 → 0.64, quick", "1 other as before"]
    assert moved_words(moves[1:2]) == ["b: 0.60 → 0.64, quick"]


def test_where_none_moved_that_is_all(moved):
    moves = [moved("a", 0.31, 0.312), moved("b", 0.60, 0.601)]
    assert moved_words(moves) == ["all 2 as before"]
    assert moved_words(moves[:1]) == ["as before"]
    assert moved_words([]) == []


def test_a_first_answer_came_from_nowhere(moved):
    assert moved_words([moved("a", None, 0.31, state="full")]) == ["a: 0.31"]


@pytest.mark.parametrize("count", [1, MOST_NAMED, MOST_NAMED + 1])
def test_a_reason_to_wait_is_said_once(count, moved):
    waits = [moved(f"q{number}", 0.5, 0.5, state="full", why="too far") for number in range(count)]
    names = {1: "q0 waits", MOST_NAMED: "q0, q1, q2 wait"}.get(count, f"{count} questions wait")
    found = moved_words([*waits, moved("b", 0.60, 0.64)])
    assert found == ["b: 0.60 → 0.64, quick", f"{names} for the full fit: too far"]


def test_what_has_no_answer_waits_too(moved, small_campaign):
    question = small_campaign.questions[0]
    after = NotYet(question=question.name, reason="nothing was fitted", hint="")
    found = moved_words([Moved(question=question, before=None, after=after)])
    assert found == [f"{question.name} waits for the full fit: nothing was fitted"]
