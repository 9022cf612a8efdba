"""Small tables of an answer: every measure, the split, the two modes, multiples."""

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from app.style.numbers import (
    SPACE,
    effect_chance,
    effect_size,
    estimate,
    interval_name,
    median,
    percent,
)
from app.style.words import MEASURE_SHORT_WORDS
from model.questions.answer import Answer, MeasureRow, Multiples, Side, Split
from model.records.campaign import Campaign


def _breakable(cell: str) -> str:
    """Let a number stand above its unit: five columns on a phone leave no room beside it."""
    return cell.replace(SPACE, " ")


def measure_table(rows: Sequence[MeasureRow], campaign: Campaign) -> pd.DataFrame:
    """One row a measure, narrow enough for a phone: medians, the effect, the chance."""
    effects = [effect_size(row.effect, is_short=True) for row in rows]
    chances = [effect_chance(row.p_higher, row.effect.interval) for row in rows]
    return pd.DataFrame(
        {
            "measure": [MEASURE_SHORT_WORDS[row.measure] for row in rows],
            "A": [_breakable(median(row.a, campaign, digits=2)) for row in rows],
            "B": [_breakable(median(row.b, campaign, digits=2)) for row in rows],
            "A against B": [_breakable(effect) for effect in effects],
            "A higher": [_breakable(chance) for chance in chances],
        }
    )


def interval_table(rows: Sequence[MeasureRow], campaign: Campaign) -> pd.DataFrame:
    """Each side's own interval, for the table behind."""
    return pd.DataFrame(
        {
            "measure": [MEASURE_SHORT_WORDS[row.measure] for row in rows],
            "A": [estimate(row.a, campaign) for row in rows],
            "B": [estimate(row.b, campaign) for row in rows],
        }
    )


def show_measures(answer: Answer, campaign: Campaign) -> None:
    """The table of every measure."""
    st.markdown("## Every measure", anchors=False)
    st.table(
        measure_table(answer.measures, campaign),
        hide_index=True,
        border="horizontal",
        alt="Every measure of both sides, with the effect of A against B",
    )
    name = interval_name(answer.summary.effect.interval)
    st.caption(f"Medians; in brackets the {name}.")
    with st.expander("Table: each side with its interval"):
        st.dataframe(
            interval_table(answer.measures, campaign),
            hide_index=True,
            alt="Every measure of each side with its interval",
        )


def split_table(split: Split) -> pd.DataFrame:
    """The three ratios that multiply to the whole."""
    parts = {
        "load in both modes alike": split.load,
        "load once upright": split.upright_only,
        "how often it sets upright": split.through_mode,
    }
    effects = [effect_size(part, is_short=True) for part in parts.values()]
    return pd.DataFrame({"through": list(parts), "A against B": effects})


def show_split(split: Split) -> None:
    """Where a difference of typical loads comes from."""
    st.markdown("## Where the difference comes from", anchors=False)
    st.table(split_table(split), hide_index=True, border="horizontal", alt="Split of the ratio")
    st.caption("The three ratios multiply to the whole, draw by draw.")


def side_table(a: Side, b: Side, campaign: Campaign) -> pd.DataFrame:
    """Both sides' loads in each setting mode, and how often they set and stand upright."""
    rows = {
        "load when upright": (a.load_upright, b.load_upright),
        "load on its side": (a.load_on_side, b.load_on_side),
        "chance to set upright": (a.p_upright, b.p_upright),
        "chance to set at all": (a.p_sets, b.p_sets),
    }
    return pd.DataFrame(
        {
            "figure": list(rows),
            "A": [estimate(own, campaign) for own, _ in rows.values()],
            "B": [estimate(other, campaign) for _, other in rows.values()],
        }
    )


def show_sides_table(answer: Answer, campaign: Campaign) -> None:
    """The two setting modes beside each other: no pull lands between them."""
    st.markdown("## How each side sets, and what it holds then", anchors=False)
    st.table(
        side_table(answer.a, answer.b, campaign),
        hide_index=True,
        border="horizontal",
        alt="Loads and chances of both sides by setting mode",
    )


def show_multiples(multiples: Multiples) -> None:
    """Chances of twice and four times the load: the ratios of two class-rule ranks."""
    st.markdown("## Twice, four times?", anchors=False)
    st.markdown(
        f"Chance that A holds at least twice what B holds: **{percent(multiples.p_twice)}**; at "
        f"least four times: **{percent(multiples.p_four_times)}**."
    )
    st.caption(
        "Two and four are the ratios that class rules ask of high and super-high holding power "
        "(IACS UR A1.4.1.2 and .3), there under their own test; here under this campaign's "
        "protocol only. Nothing here is an approval."
    )
