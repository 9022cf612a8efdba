"""The question that a page answers, in words."""

from app.links import ASKED_HERE
from app.parts.choosers import OVER_WORDS
from app.style.numbers import SPACE, load
from app.style.text import as_text
from app.style.words import MEASURE_WORDS, seabed_words
from model.questions.sentence import label
from model.records.campaign import Campaign
from model.records.question import Measure, Question


def measure_words(question: Question, campaign: Campaign) -> str:
    """What is compared; a load to hold is named."""
    if question.measure is Measure.HOLD and question.hold_kn is not None:
        return f"chance to hold {load(question.hold_kn, campaign)}"
    return MEASURE_WORDS[question.measure]


def question_markdown(question: Question, campaign: Campaign) -> str:
    """The question as one sentence, under its name where it has one; Markdown."""
    a, b = (
        as_text(label(campaign, own, other))
        for own, other in ((question.a, question.b), (question.b, question.a))
    )
    over = "" if question.a.anchor else f", {OVER_WORDS[question.over]}"
    sentence = (
        f"Compare the **{as_text(measure_words(question, campaign))}** of "
        f":blue[**A**]{SPACE}{a} with that of :orange[**B**]{SPACE}{b}, "
        f"on {as_text(seabed_words(question))}{over}."
    )
    if question.name == ASKED_HERE:
        return sentence
    return f"## {as_text(question.name)}\n{sentence}"


def question_name(question: Question, campaign: Campaign) -> str:
    """A name for the browser's tab: the question's own, else its two sides; plain text."""
    if question.name != ASKED_HERE:
        return question.name
    a, b = label(campaign, question.a, question.b), label(campaign, question.b, question.a)
    return f"{a} against {b}"
