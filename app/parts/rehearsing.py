"""A rehearsal on a page: on a button, in words, as a picture with its table."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import pandas as pd
import streamlit as st

from app import data
from app.figures.settling import settling_figure, settling_table
from app.parts.kept import kept_result
from app.parts.pictures import show_figure, show_table_behind
from app.planning_words import (
    POLICY_WORDS,
    ends_words,
    hours_of,
    pulls_to_settle_words,
    rehearsed_head,
    stop_words,
    unknown_words,
    wrong_share_words,
    wrong_words,
)
from app.style.cards import show_not_yet
from app.style.text import as_prose
from model.records.answer import NotYet
from model.service.planning_start import Wish

if TYPE_CHECKING:
    from model.planning.rehearsed import Rehearsed

ABOUT: Final = (
    "Two days of pulls are played through many times, each time with another truth that fits what "
    "is known now: how often is the question settled, after how many pulls, and how often wrongly? "
    "This takes a while. True effects one by one: `kedgewise rehearse`."
)


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What a page keeps of a rehearsal: not the draws behind it."""

    by_policy: "tuple[Rehearsed, ...]"
    stop: str


def show_rehearsing(wish: Wish, hours: float, pulls_a_day: int) -> None:
    """A button; once pressed, what came of it, as long as nothing it rests on has changed."""
    st.markdown("## Chance to settle", anchors=False)
    st.markdown(ABOUT)
    found = kept_result(
        "Rehearse two days",
        (wish, hours),
        lambda: _rehearse(wish, hours, pulls_a_day),
        spinner="Rehearsing: a minute, more on a busy machine",
    )
    if isinstance(found, NotYet):
        show_not_yet(found)
    elif found is not None:
        _show(found)


def _rehearse(wish: Wish, hours: float, pulls_a_day: int) -> Shown | NotYet:
    found = data.rehearse(wish, hours, data.DAYS * pulls_a_day)
    if isinstance(found, NotYet):
        return found
    return Shown(by_policy=found.by_policy, stop=stop_words(found.outlook))


def _show(found: Shown) -> None:
    first = found.by_policy[0]
    st.markdown(f"**{as_prose(rehearsed_head(first))}**")
    if found.stop:
        st.markdown(as_prose(found.stop))
    ends = f"After all pulls: {ends_words(first)}. Wrong: {wrong_words(first)}."
    unknown = unknown_words(first)
    st.markdown(as_prose(f"{ends} {unknown}." if unknown else ends))
    show_figure(settling_figure(found.by_policy), key="settling")
    days = "Upright lines: a day ends." if first.most_pulls > first.pulls_a_day else ""
    st.caption(f"Each line: a way to choose the next pulls. {days}")
    st.table(
        policy_table(found.by_policy),
        hide_index=True,
        border="horizontal",
        alt="Ways to choose the next pulls, side by side",
    )
    st.caption(POLICY_WORDS)
    show_table_behind(settling_table(found.by_policy), "Table: chance to be settled, pull by pull")


def policy_table(by_policy: "tuple[Rehearsed, ...]") -> pd.DataFrame:
    """Ways to choose side by side, narrow enough for a phone."""
    return pd.DataFrame(
        {
            "chosen": [one.policy for one in by_policy],
            "half": [pulls_to_settle_words(one) for one in by_policy],
            "wrong": [wrong_share_words(one) for one in by_policy],
            "hours": [f"{hours_of(one):.1f}" for one in by_policy],
        }
    )
