"""Trust: can this fit, and these answers, be trusted; what the pulls cannot say."""

from typing import Final

import streamlit as st

from app import data
from app.checks_words import CALIBRATION, STATUS_WORDS, by_question, unknown_words
from app.parts.trust import (
    heading_of,
    show_fit,
    show_influences,
    show_places,
    show_priors,
    show_sensitivity,
    show_shares,
    show_status,
)
from app.style.cards import card, show_not_yet
from app.style.text import as_hint, as_prose, as_text
from model.records.answer import NotYet
from model.service.checks import Checked

CANNOT_SAY: Final = (
    "No fault of the program or of the log: these pulls do not tell it, so that what is said of it "
    "comes from other pulls, from the priors, or from beyond what the boat can pull."
)
NOTHING_UNSAID: Final = "Nothing of the standing questions that these pulls could not tell at all."


def _show_verdict(found: Checked) -> None:
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.markdown("## Can this be trusted?", anchors=False, width="content")
        show_status(found.verdict.status)
    st.markdown(f"**{as_prose(found.verdict.reason)}**")
    st.markdown(
        "\n".join(
            f"- {STATUS_WORDS[check.status]}: {as_prose(heading_of(check))}"
            for check in found.checks
        )
    )
    if found.unknown:
        st.markdown(as_hint(unknown_words(found.unknown)))
    st.caption(CALIBRATION)


def _show_blind_spots(found: Checked) -> None:
    st.markdown("## What the pulls cannot say", anchors=False)
    spots = by_question(found.found.blind_spots)
    if not spots:
        st.markdown(NOTHING_UNSAID)
        return
    st.markdown(CANNOT_SAY)
    for question, texts in spots.items():
        st.markdown(f"**{as_text(question)}**\n" + "\n".join(f"- {as_prose(one)}" for one in texts))


def _show_found(found: Checked) -> None:
    with card():
        show_fit(found.fit, found.fit_check)
    with card():
        show_shares(found.found.shares)
    with card():
        show_influences(found.found.influences, found)
    with card():
        show_places(found.found.uniformity)
    with card():
        show_sensitivity(found)
    with card():
        show_priors(found.found.priors)
    with card():
        _show_blind_spots(found)


def _find() -> Checked | None:
    """What was found; None where the page has said why there is nothing."""
    with card():
        with st.spinner("Checking: some seconds after each fit"):
            found = data.checks()
        if isinstance(found, NotYet):
            show_not_yet(found)
            return None
        _show_verdict(found)
        return found
    return None


def _show() -> None:
    st.title("Trust", anchor=False)
    found = _find()
    if found is not None:
        _show_found(found)


_show()
