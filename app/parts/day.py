"""A day's plan on a page: on a button, as a table, with a page to print."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import pandas as pd
import streamlit as st

from app import data
from app.day_page import day_page
from app.day_words import (
    COINS_WORDS,
    NO_CHANGE,
    PATCH_WORDS,
    DayRow,
    day_head,
    day_rows,
    seed_words,
    stagger_words,
)
from app.parts.kept import kept_result
from app.planning_words import ends_words, wrong_words
from app.style.cards import show_not_yet
from app.style.text import as_hint, as_prose, as_text
from model.records.answer import NotYet
from model.service.planning_start import Wish

ABOUT: Final = (
    "Pulls in pairs, side by side on one bottom, for the hours there are. Plan again after a pull, "
    "with the outing that goes on and the hours that are left."
)
FILE_NAME: Final = "day.html"


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What a page keeps of a plan: not the draws behind it."""

    head: str
    rows: tuple[DayRow, ...]
    stagger: str
    ends: str
    seed: str
    page: str


def show_day(wish: Wish, hours: float) -> None:
    """A button; once pressed, the plan, as long as nothing it rests on has changed."""
    st.markdown("## The day in order", anchors=False)
    st.markdown(ABOUT)
    found = kept_result(
        "Plan the day", (wish, hours), lambda: _plan(wish, hours), spinner="Planning the day"
    )
    if isinstance(found, NotYet):
        show_not_yet(found)
    elif found is not None:
        _show(found)


def _plan(wish: Wish, hours: float) -> Shown | NotYet:
    day = data.plan_day(wish, hours)
    if isinstance(day, NotYet):
        return day
    found = day.rehearsed
    return Shown(
        head=day_head(day, hours),
        rows=tuple(day_rows(day)),
        stagger=stagger_words(day.plan, day.begun.start.campaign),
        ends="" if found is None else f"{ends_words(found)}. Wrong: {wrong_words(found)}.",
        seed=seed_words(day.plan),
        page=day_page(day, hours),
    )


def _show(found: Shown) -> None:
    st.markdown(f"**{as_prose(found.head)}**")
    if not found.rows:
        return
    st.table(day_table(found.rows), hide_index=True, border="horizontal", alt="The day in order")
    st.download_button(
        "Download the page to print",
        found.page,
        file_name=FILE_NAME,
        mime="text/html",
        icon=":material/print:",
    )
    st.markdown(as_prose(f"It may end: {found.ends}"))
    if found.stagger:
        st.markdown(as_prose(found.stagger))
    st.caption(f"Bold: to change before the pull. {COINS_WORDS} {PATCH_WORDS}")
    st.caption(as_hint(found.seed))


def day_table(rows: Sequence[DayRow]) -> pd.DataFrame:
    """One row a pull, narrow enough for a phone; a cell of such a table is Markdown."""
    return pd.DataFrame(
        {
            "at": [row.begins for row in rows],
            "pull": [as_text(f"{row.setup}, on {row.seabed}") for row in rows],
            "change": [_change(row) for row in rows],
            "patch": [row.patch for row in rows],
        }
    )


def _change(row: DayRow) -> str:
    return f"**{as_text(row.change_words)}**" if row.changed else NO_CHANGE
