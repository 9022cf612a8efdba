"""Questions: what stands where, one card a standing question."""

import streamlit as st

from app import data
from app.pages import VIEWS_FOLDER
from app.parts.asked import question_markdown
from app.parts.finding import badges, flags_list, probability_words, show_sides
from app.parts.pictures import PICTURE_WORDS, looks_words, show_small_effect
from app.style.cards import card, guarded, show_not_yet
from app.style.numbers import SPACE, effect
from app.style.text import as_prose, as_text
from model.base.likelihood_words import LIKELIHOOD_SOURCE
from model.questions.answer import Answer
from model.records.answer import NotYet
from model.records.campaign import Campaign
from model.records.question import Question


def _show_answer(question: Question, answer: Answer) -> None:
    summary = answer.summary
    words, picture = st.columns([3, 2], gap="medium")
    with words:
        show_sides(answer)
        st.markdown(f"{badges(summary)}{SPACE} **{probability_words(summary)}**")
        st.markdown(as_prose(summary.sentence))
        st.markdown(f"A against B: {effect(summary.effect)}")
        with guarded():
            st.caption(looks_words(data.moved(question).looks))
    with picture:
        with guarded():
            show_small_effect(answer, key=f"effect {question.name}")
        if summary.flags:
            st.markdown(f"**Before leaning on it**\n{flags_list(summary)}")


def _show_card(question: Question) -> None:
    with card():
        st.markdown(f"## {as_text(question.name)}", anchors=False)
        with st.spinner("Working it out from the stored draws"):
            answer = data.ask(question)
        if isinstance(answer, NotYet):
            show_not_yet(answer)
        else:
            _show_answer(question, answer)
        _show_way_to_ask("Look closer", question)


def _show_waiting(campaign: Campaign) -> None:
    """Before the first fit no question has an answer, and all for one reason: said once."""
    with card():
        answer = data.ask(campaign.questions[0])
        if isinstance(answer, NotYet):
            show_not_yet(answer)
    st.markdown("What waits for it:")
    for question in campaign.questions:
        with card():
            st.markdown(question_markdown(question, campaign), anchors=False)


def _show_way_to_ask(label: str, question: Question | None = None) -> None:
    parameters = {} if question is None else {"question": question.name}
    st.page_link(
        VIEWS_FOLDER / "ask.py",
        label=label,
        icon=":material/arrow_forward:",
        query_params=parameters,
    )


def _show() -> None:
    st.title("Questions", anchor=False)
    overview = data.overview()
    questions = overview.campaign.questions
    if not questions:
        st.markdown("No standing questions yet: write some in the campaign file, or ask one.")
        _show_way_to_ask("Ask a question")
        return
    if overview.posterior is None:
        _show_waiting(overview.campaign)
        return
    for question in questions:
        _show_card(question)
    st.caption(f"{PICTURE_WORDS} {LIKELIHOOD_SOURCE}")


_show()
