"""Pulls: every one that is stored, corrected with its history, and new ones taken in."""

from collections.abc import Sequence
from typing import Final

import streamlit as st

from app import data
from app.parts.adding import show_adding
from app.parts.changing import say_once, show_correcting, show_taken_out, show_taking_out
from app.parts.pull_table import show_history, show_pull_table
from app.parts.uploading import show_uploading
from app.style.cards import card, guarded
from app.style.numbers import counted
from model.records.campaign import Campaign
from model.records.pull import Pull

EVERY: Final = ""
"""In the place of a name; None would bring a button that clears what cannot be empty."""


def _choose(label: str, names: Sequence[str]) -> str:
    """One of some names, or every."""
    return st.selectbox(
        label,
        [EVERY, *names],
        format_func=lambda name: name or f"every {label.lower()}",
        key=label,
        width=200,
    )


def _filtered(pulls: Sequence[Pull], campaign: Campaign) -> list[Pull]:
    with st.container(horizontal=True, gap="small", key="fields of the table"):
        outing = _choose("Outing", [one.name for one in campaign.outings])
        anchor = _choose("Anchor", [one.code for one in campaign.anchors])
        seabed = _choose("Seabed", [one.name for one in campaign.seabeds])
    return [
        pull
        for pull in pulls
        if outing in {EVERY, pull.outing}
        and anchor in {EVERY, pull.anchor}
        and seabed in {EVERY, pull.seabed}
    ]


def _show_table(pulls: Sequence[Pull], campaign: Campaign) -> list[Pull]:
    """The table, the newest first; gives the pulls that are chosen to be changed."""
    shown = _filtered(pulls[::-1], campaign)
    show_pull_table(shown, campaign)
    st.caption(f"{counted(len(shown), 'pull')} of {len(pulls)}.")
    label = "To correct, or to see its history" if data.may_change() else "To see its history"
    chosen = st.multiselect(label, [pull.id for pull in shown],
                            key="chosen", placeholder="Choose pulls")  # fmt: skip
    return [pull for pull in shown[::-1] if pull.id in set(chosen)]


def _show_chosen(pulls: Sequence[Pull], campaign: Campaign) -> None:
    with card():
        st.markdown(f"## {counted(len(pulls), 'pull')} chosen", anchors=False)
        history, correcting = st.container(), st.container()
        if len(pulls) == 1:
            with history, guarded():
                show_history(data.history(pulls[0].id), campaign)
        if not data.may_change():
            return
        with correcting, guarded():  # what cannot be corrected can still be taken out
            show_correcting(pulls)
        with st.expander("Take out"):
            show_taking_out(pulls)


def _show() -> None:
    st.title("Pulls", anchor=False)
    say_once()
    campaign, pulls = data.overview().campaign, data.pulls()
    chosen: list[Pull] = []
    with card():
        if pulls:
            chosen = _show_table(pulls, campaign)
        else:
            st.markdown("No pulls yet: upload a log, or add one.")
    # Always there: what comes and goes above a folded part shuts it under a hand.
    place = st.container()
    if chosen:
        with place:
            _show_chosen(chosen, campaign)
    if data.may_change():
        _show_new(campaign, is_empty=not pulls)


def _show_new(campaign: Campaign, *, is_empty: bool) -> None:
    with card():
        st.markdown("## New pulls", anchors=False)
        with st.expander("Upload a log", expanded=is_empty), guarded():
            show_uploading()
        with st.expander("Add one"), guarded():
            show_adding(campaign)
        with st.expander("Taken out"), guarded():
            show_taken_out(campaign)


_show()
