"""Chances in ten: about what the question is about, and the way the sentence points."""

import dataclasses

import pytest

from app.chances import chances_words, likelier
from model.questions import settling
from model.questions.effect import BandShares
from model.questions.sentence import compose
from model.questions.settling import Verdict
from model.records.answer import Finding
from model.records.question import Measure, Question, SetUp

LEADER = {"leader": "wire 2 m"}
IN_GENERAL = Question(name="in general", a=SetUp(levels=LEADER), b=SetUp())
NEXT_ANCHOR = IN_GENERAL.model_copy(update={"over": "next"})
ON_S6 = Question(name="on S6", a=SetUp(anchor="S6", levels=LEADER), b=SetUp(anchor="S6"))
NEXT_PULL = ON_S6.model_copy(update={"measure": Measure.NEXT})
NEXT_PULL_OF_NEXT = NEXT_ANCHOR.model_copy(update={"measure": Measure.NEXT})


@pytest.fixture
def asked(made_up_answer):
    def ask(question, p_higher, chances_in_ten):
        answer = made_up_answer(question)
        summary = answer.summary.model_copy(update={"p_higher": p_higher})
        return dataclasses.replace(answer, summary=summary, chances_in_ten=chances_in_ten)

    return ask


@pytest.mark.parametrize(
    ("question", "p_higher", "chances_in_ten", "words"),
    [
        (NEXT_ANCHOR, 0.61, 6, "On the next anchor like these: 6 chances in 10 that A is higher"),
        (NEXT_ANCHOR, 0.39, 4, "On the next anchor like these: 6 chances in 10 that A is lower"),
        (NEXT_PULL, 0.72, 7,
         "7 chances in 10 that the next pull of A comes above the next pull of B"),
        (NEXT_PULL, 0.28, 3,
         "7 chances in 10 that the next pull of A comes below the next pull of B"),
        (NEXT_PULL_OF_NEXT, 0.55, 6, ("On the next anchor like these: 6 chances in 10 that the "
         "next pull of A comes above the next pull of B")),
        (IN_GENERAL, 0.97, 8, "On the next anchor like these: 8 chances in 10 that A is higher"),
        (IN_GENERAL, 0.03, 2, "On the next anchor like these: 8 chances in 10 that A is lower"),
        (IN_GENERAL, 0.3, 9, "On the next anchor like these: 1 chance in 10 that A is lower"),
        (ON_S6, 0.97, None, ""),
    ],
)  # fmt: skip
def test_chances_are_told_of_what_is_asked(question, p_higher, chances_in_ten, words, asked):
    assert chances_words(asked(question, p_higher, chances_in_ten)) == words


@pytest.mark.parametrize("question", [NEXT_ANCHOR, NEXT_PULL, NEXT_PULL_OF_NEXT])
@pytest.mark.parametrize("p_higher", [0.0, 0.02, 0.149, 0.4, 0.45, 0.5, 0.55, 0.651, 0.94, 0.97])
def test_the_sentence_and_the_chances_say_the_same(question, p_higher, asked, small_campaign):
    answer = asked(question, p_higher, min(max(round(10 * p_higher), 1), 9))
    shares = BandShares(higher=p_higher, above=0.0, inside=1.0, below=0.0)
    verdict = Verdict(finding=Finding.NOT_SETTLED, reason="x")
    sentence = compose(small_campaign, question, answer.summary.effect, shares, verdict)
    words = chances_words(answer)
    chances = words.removeprefix("On the next anchor like these: ").split(" that ")[0]
    assert f"({chances})" in sentence
    assert ("gives a higher" in sentence) == any(up in words for up in ("is higher", "above"))


def test_without_the_sentences_own_number_the_two_would_differ(asked, monkeypatch):
    answer = asked(NEXT_PULL, 0.97, 9)
    assert chances_words(answer).startswith("more than 9 chances in 10")
    monkeypatch.setattr(settling, "is_about_one_more", lambda question: False)
    assert chances_words(answer).startswith("9 chances in 10")


@pytest.mark.parametrize(
    ("p_higher", "way", "chance"),
    [(0.88, "higher", 0.88), (0.5, "higher", 0.5), (0.49, "lower", 0.51), (0.004, "lower", 0.996)],
)
def test_the_likelier_way_is_told(p_higher, way, chance):
    assert likelier(p_higher) == (way, pytest.approx(chance))
