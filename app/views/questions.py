"""Questions: what stands where, one card a standing question."""

import streamlit as st

from app import data
from app.pages import VIEWS_FOLDER
from app.parts.finding import probability_words, show_finding, show_sides
from app.parts.pictures import show_looks
from app.style.cards import card, show_not_yet
from app.style.numbers import effect
from app.style.text import as_text
from model.base.likelihood_words import LIKELIHOOD_SOURCE
from model.questions.answer import Answer
from model.records.answer import NotYet
from model.records.question import Question


def _show_answer(question: Question, answer: Answer) -> None:
    summary = answer.summary
    words, picture = st.columns([3, 2], gap="medium")
    with words:
        st.markdown(f"**{probability_words(summary)}**")
        st.markdown(as_text(summary.sentence))
        st.markdown(f"A against B: {effect(summary.effect)}")
        show_sides(answer)
        if summary.flags:
            more = f" (and {len(summary.flags) - 1} more)" if len(summary.flags) > 1 else ""
            st.markdown(f"**Note:** {as_text(summary.flags[0].text)}{more}")
    with picture:
        show_looks(data.looks(question), key=f"looks {question.name}", is_small=True)


def _show_card(question: Question) -> None:
    with card():
        with st.container(horizontal=True, vertical_alignment="center", gap="small"):
            st.markdown(f"## {as_text(question.name)}", width="content", anchors=False)
            place_of_finding = st.empty()
        answer = data.ask(question)
        if isinstance(answer, NotYet):
            show_not_yet(answer)
        else:
            with place_of_finding:
                show_finding(answer.summary.finding)
            _show_answer(question, answer)
        _show_way_to_ask("Look closer", question)


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
    campaign = data.overview().campaign
    if not campaign.questions:
        st.markdown("No standing questions yet: write some in the campaign file, or ask one.")
        _show_way_to_ask("Ask a question")
        return
    for question in campaign.questions:
        _show_card(question)
    st.caption(LIKELIHOOD_SOURCE)


_show()
