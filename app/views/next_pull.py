"""Next pull: what to pull and why, whether it can settle the question, a day in order."""

from typing import Final

import streamlit as st

from app import data
from app.parts.day import show_day
from app.parts.ranking import show_ranking
from app.parts.rehearsing import show_rehearsing
from app.style.cards import card, show_not_yet
from model.records.answer import NotYet
from model.records.campaign import Campaign
from model.service.next_pulls import DAY_HOURS, HOURS, NextPulls
from model.service.planning_start import Wish

NEW_DAY: Final = "a new day"
SEEN: Final[dict[str, bool | None]] = {"as so far": None, "yes": True, "no": False}
ON_THE_MACHINE: Final = (
    "Rehearsals and day plans are worked out on the machine that has the store, not from here."
)


def _choose_questions(campaign: Campaign) -> tuple[str, ...]:
    """Names of standing questions, and of treatments in general."""
    standing = [question.name for question in campaign.questions]
    treatments = [one.name for one in campaign.treatments if one.changed_levels]
    names = list(dict.fromkeys([*standing, *treatments]))
    main = campaign.main_question or (standing[0] if standing else None)
    return tuple(
        st.multiselect(
            "Questions",
            names,
            [main] if main else [],
            key="planned questions",
            placeholder="the main question",
            help="Several count alike. A treatment's name asks about it in general.",
        )
    )


def _choose_without(campaign: Campaign) -> tuple[str, ...]:
    anchors = [f"anchor={anchor.code}" for anchor in campaign.anchors]
    levels = [f"{one.name}={level}" for one in campaign.treatments for level in one.levels]
    seabeds = [f"seabed={seabed.name}" for seabed in campaign.seabeds]
    return tuple(
        st.multiselect(
            "Not aboard, or out of reach",
            [*anchors, *levels, *seabeds],
            key="not aboard",
            placeholder="nothing",
        )
    )


def _choose(campaign: Campaign) -> tuple[Wish, float]:
    """What is planned for, what is not aboard, and how long there is."""
    questions = _choose_questions(campaign)
    without = _choose_without(campaign)
    low, high = HOURS
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        hours = st.number_input(
            "Hours", low, high, DAY_HOURS, 0.5, format="%g", key="hours", width=140
        )
        seen = st.selectbox("How it sets will be seen", list(SEEN), key="camera", width=180)
        outings = [outing.name for outing in campaign.outings]
        today = st.selectbox("Outing", [NEW_DAY, *reversed(outings)], key="today", width=180)
    wish = Wish(
        questions=questions,
        without=without,
        has_camera=SEEN[seen],
        today=None if today == NEW_DAY else today,
    )
    return wish, hours


def _find(campaign: Campaign) -> tuple[Wish, float, NextPulls] | None:
    """What was chosen, and the ranking; None where the page has said why there is none."""
    with card():
        wish, hours = _choose(campaign)
    with card():
        with st.spinner("Ranking what could be pulled"):
            found = data.next_pulls(wish, hours)
        if not isinstance(found, NotYet):
            show_ranking(found)
            return wish, hours, found
        show_not_yet(found)
    return None


def _show() -> None:
    st.title("Next pull", anchor=False)
    found = _find(data.overview().campaign)
    if found is None:
        return
    if not data.may_change():
        st.caption(ON_THE_MACHINE)
        return
    wish, hours, ranked = found
    with card():
        show_rehearsing(wish, hours, ranked.pulls_a_day)
    with card():
        show_day(wish, hours)


_show()
