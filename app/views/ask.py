"""Ask: one question as a sentence, its answer in words first, then the pictures."""

from typing import Final
from urllib.parse import urlencode

import streamlit as st

from app import data
from app.chances import chances_words
from app.links import asks_something, parameters_of, question_from
from app.marks import side_marks
from app.parts.asked import question_markdown, question_name
from app.parts.choosers import choose_question
from app.parts.finding import (
    badges,
    probability_words,
    show_alone,
    show_effect_words,
    show_flags,
    show_sides,
    show_together,
)
from app.parts.pictures import show_effect, show_looks, show_pulls
from app.parts.tab import name_tab
from app.parts.tables import show_measures, show_multiples, show_sides_table, show_split
from app.style.cards import card, guarded, show_not_yet
from app.style.text import as_prose, as_text
from app.style.words import seabed_words
from model.base.likelihood_words import LIKELIHOOD_SOURCE
from model.questions.answer import Answer
from model.records.answer import NotYet
from model.records.campaign import Campaign
from model.records.question import Measure, Question, SetUp

CHOOSING: Final = "choosers unfolded"
"""Key under which a visit remembers that it began with a choice to make."""
INSTEAD: Final = (
    "Another question is shown in its place. Choose what was meant below, or open the link once "
    "it is put right."
)
"""Said below what is wrong with a link."""

NOTHING_TO_COMPARE: Final = NotYet(
    question="first",
    reason="the campaign has one anchor and no treatment, so there is nothing to compare",
    hint="Add another anchor or a treatment to the campaign file and run `kedgewise new` on it.",
)


def _first_question(campaign: Campaign) -> Question | None:
    """The campaign's main question, else its first, else its first two set-ups that differ.

    None where there is nothing to compare: one anchor, and nothing ever changed on it.
    """
    named = [question for question in campaign.questions if question.name == campaign.main_question]
    standing = [*named, *campaign.questions]
    if standing:
        return standing[0]
    changed = {
        treatment.name: level
        for treatment in campaign.treatments[:1]
        for level in treatment.changed_levels[:1]
    }
    codes = [anchor.code for anchor in campaign.anchors]
    if not changed and len(codes) < 2:
        return None
    b = SetUp(anchor=codes[0]) if changed or len(codes) < 2 else SetUp(anchor=codes[1])
    return Question(name="first", a=SetUp(anchor=codes[0], levels=changed, scope=None), b=b)


def _start(first: Question, campaign: Campaign) -> tuple[Question, bool]:
    """The question to begin with, and whether a person asked for it or would do well to choose."""
    parameters = {key: st.query_params.get_all(key) for key in st.query_params}
    if not asks_something(parameters):
        return first, bool(campaign.questions)
    with guarded():
        return question_from(parameters, campaign), True
    st.markdown(INSTEAD)
    return first, False


def _show_link(question: Question, campaign: Campaign) -> None:
    parameters = parameters_of(question, campaign)
    st.query_params.from_dict(parameters)
    st.caption("The link that holds this question; it stands in the browser's address line too.")
    address = (st.context.url or "/ask").rstrip("/")
    st.code(f"{address}?{urlencode(parameters, doseq=True)}", language=None, wrap_lines=True)


def _choose(first: Question, campaign: Campaign) -> Question:
    """The question in words, and folded behind them its choosers.

    Unfolded they would fill the first screen of a phone, with the answer out of sight.
    """
    start, is_asked = _start(first, campaign)
    # Kept: unfolded for the first choice and folded at the second, it would snap shut on a hand.
    is_open = st.session_state.setdefault(CHOOSING, not is_asked)
    place = st.empty()
    with st.expander("Change the question", expanded=is_open, icon=":material/tune:"):
        question = choose_question(start, campaign)
        _show_link(question, campaign)
    place.markdown(question_markdown(question, campaign), anchors=False)
    name_tab(question_name(question, campaign))
    return question


def _show_words(question: Question, answer: Answer) -> None:
    st.markdown(badges(answer.summary))
    st.markdown(f"## {probability_words(answer.summary)}", anchors=False)
    st.markdown(as_prose(answer.summary.sentence))
    if chances := chances_words(answer):
        st.markdown(f"{as_prose(chances)}.")
    show_effect_words(answer.summary)
    show_sides(answer)
    show_alone(answer)
    show_together(answer)
    st.caption(
        f"On {as_text(seabed_words(question))}; what is not named is at its baseline. "
        f"{LIKELIHOOD_SOURCE}"
    )


def _show_answer(question: Question, answer: Answer, campaign: Campaign) -> None:
    with card():
        words, picture = st.columns([1, 1], gap="medium")
        with words:
            _show_words(question, answer)
        with picture:
            with guarded():
                show_effect(answer)
            st.markdown("## Before leaning on it", anchors=False)
            show_flags(answer.summary)
    with card():
        show_pulls(side_marks(question, data.pulls(), campaign), campaign)
    with card():
        st.markdown("## How it moved", anchors=False)
        show_looks(data.moved(question), key="looks")
    with card():
        show_measures(answer, campaign)
    _show_behind(answer, campaign)
    if answer.multiples is not None and question.measure is not Measure.NEXT:
        with card():
            show_multiples(answer.multiples)


def _show_behind(answer: Answer, campaign: Campaign) -> None:
    """The two setting modes of both sides, and beside them what the difference is made of."""
    if answer.split is None:
        with card():
            show_sides_table(answer, campaign)
        return
    sides, split = st.columns([3, 2])
    with sides, card(is_tall=True):
        show_sides_table(answer, campaign)
    with split, card(is_tall=True):
        show_split(answer.split)


def _ask(campaign: Campaign) -> tuple[Question, Answer] | None:
    """The chosen question with its answer; None where the page has said why there is none."""
    first = _first_question(campaign)
    with card():
        if first is None:
            show_not_yet(NOTHING_TO_COMPARE)
            return None
        question = _choose(first, campaign)
        with st.spinner("Working it out from the stored draws"):
            answer = data.ask(question)
        if isinstance(answer, Answer):
            return question, answer
        show_not_yet(answer)
    return None


def _show() -> None:
    st.title("Ask", anchor=False)
    campaign = data.overview().campaign
    found = _ask(campaign)
    if found is not None:
        _show_answer(*found, campaign)


_show()
