"""Log a pull: what a paired device is on deck for, as one plain form."""

from typing import Final

import streamlit as st

from app import data
from app.parts.adding import show_adding
from app.parts.changing import say_once
from app.parts.pull_table import course_words
from app.style.cards import card
from app.style.text import as_prose, as_text
from model.records.campaign import Campaign

CAUTION: Final = "Handle no phone while a line is under tension: log the pull when the load is off."
LATEST: Final = 5
"""Pulls that are shown again below the form: enough to see whether one is in already."""


def _show_latest(campaign: Campaign) -> None:
    pulls = data.pulls()[: -LATEST - 1 : -1]
    st.markdown("## Latest", anchors=False)
    if not pulls:
        st.markdown("No pulls yet.")
    lines = [
        f"- **{as_text(pull.id)}** {as_text(pull.anchor)}: {as_prose(course_words(pull, campaign))}"
        for pull in pulls
    ]
    st.markdown("\n".join(lines))


def _show() -> None:
    st.title("Log a pull", anchor=False)
    say_once()
    st.warning(CAUTION, icon=":material/warning:")
    campaign = data.overview().campaign
    with card():
        show_adding(campaign)
    with card():
        _show_latest(campaign)


_show()
