"""What to pull next on a page: the best in words, the ranking, and why each stands where it is."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import pandas as pd
import streamlit as st

from app.parts.pictures import show_table_behind
from app.planning_words import (
    MARK_WORDS,
    NEVER_PULLED,
    TABLE_WORDS,
    asked_words,
    basis_words,
    camera_words,
    ladder_words,
    next_words,
    pulls_words,
    share_words,
    why_words,
)
from app.style.numbers import SPACE, percent
from app.style.text import as_prose, as_text
from model.records.campaign import Campaign
from model.service.next_pulls import NextPulls
from model.service.planning_start import Begun

if TYPE_CHECKING:
    from model.planning.ranking import Ranked

MOST: Final = 5
"""Rows of the short table."""
MOST_BEHIND: Final = 40
"""Rows of the table behind it."""


def show_ranking(found: NextPulls) -> None:
    """The best in words, then the best pairs in a table, then everything behind them."""
    campaign, ranking = found.begun.start.campaign, found.ranking
    best = (ranking.pairs or ranking.singles)[0]
    st.markdown(f"## {as_prose(next_words(campaign, best))}", anchors=False)
    st.markdown(as_prose(why_words(best)))
    show_basis(found.begun)
    heading = "two on one day" if ranking.pairs else "one pull"
    shown = (ranking.pairs or ranking.singles)[:MOST]
    st.table(
        short_table(heading, shown, campaign),
        hide_index=True,
        border="horizontal",
        alt="The best next pulls, with what each tells and costs",
    )
    marked = f" {MARK_WORDS}" if any(one.is_untried for one in shown) else ""
    st.caption(as_prose(f"{TABLE_WORDS}{marked}"))
    with st.expander("Why each stands where it is"):
        st.markdown("\n".join(_reason_line(one, campaign) for one in shown))
    if ranking.pairs:
        show_table_behind(long_table(ranking.pairs[:MOST_BEHIND], campaign), "Table: more pairs")
    show_table_behind(long_table(ranking.singles[:MOST_BEHIND], campaign), "Table: single pulls")


def show_basis(begun: Begun) -> None:
    """For what, on what ladder, and from which draws it was worked out."""
    ladder = ladder_words(begun.start.space.ladder, begun.start.campaign)
    waiting = f" Waiting: {begun.waiting}." if begun.waiting else ""
    st.caption(
        as_prose(
            f"For {asked_words(begun)}. Assumed: ladder {ladder}; {camera_words(begun)}. "
            f"Worked out from: {basis_words(begun)}.{waiting}"
        )
    )


def _named(one: "Ranked", campaign: Campaign) -> str:
    mark = f"{SPACE}{NEVER_PULLED}" if one.is_untried else ""
    return f"{pulls_words(campaign, one)}, on {one.first.seabed}{mark}"


def _reason_line(one: "Ranked", campaign: Campaign) -> str:
    return f"- **{as_text(_named(one, campaign))}**: {as_prose(one.reason)}."


def short_table(heading: str, ranked: "Sequence[Ranked]", campaign: Campaign) -> pd.DataFrame:
    """What each tells and costs, narrow enough for a phone; a cell of such a table is Markdown."""
    return pd.DataFrame(
        {
            heading: [as_text(_named(one, campaign)) for one in ranked],
            "doubt": [share_words(one.share) for one in ranked],
            "an hour": [share_words(60 * one.share / one.minutes) for one in ranked],
            "min": [f"{one.minutes:.0f}" for one in ranked],
        }
    )


def long_table(ranked: "Sequence[Ranked]", campaign: Campaign) -> pd.DataFrame:
    """All that is known of each, for the table behind."""
    return pd.DataFrame(
        {
            "pull": [pulls_words(campaign, one) for one in ranked],
            "seabed": [one.first.seabed for one in ranked],
            "doubt": [share_words(one.share) for one in ranked],
            "an hour": [share_words(60 * one.share / one.minutes) for one in ranked],
            "minutes": [round(one.minutes) for one in ranked],
            "holds to the end": [percent(one.p_held) for one in ranked],
            "never pulled": ["yes" if one.is_untried else "" for one in ranked],
            "reason": [one.reason for one in ranked],
        }
    )
