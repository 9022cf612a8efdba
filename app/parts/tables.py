"""Small tables of an answer: every measure, the split, the two modes, multiples."""

from typing import Final

import pandas as pd
import streamlit as st

from app.shown import measure_rows
from app.style.numbers import (
    SPACE,
    effect_chance,
    effect_size,
    estimate,
    interval_name,
    load,
    median,
    percent,
)
from app.style.words import MEASURE_SHORT_WORDS
from model.questions.answer import Answer, Estimate, MeasureRow, Multiples, Side, Split
from model.records.campaign import Campaign
from model.records.question import Measure, Question

LONGEST_WHOLE: Final = 14
"""Characters of an interval with its brackets that a column on a phone has room for."""


def _words(row: MeasureRow, question: Question, campaign: Campaign) -> str:
    if row.measure is Measure.HOLD and question.hold_kn is not None:
        return f"holds {load(question.hold_kn, campaign)}"
    return MEASURE_SHORT_WORDS[row.measure]


def _with_unit(row: MeasureRow, question: Question, campaign: Campaign) -> str:
    """A measure with the unit of its two figures, which then stand without."""
    unit = median(row.a, campaign).rpartition(SPACE)[2]
    return f"{_words(row, question, campaign)}, {unit}"


def _bare(value: Estimate, campaign: Campaign) -> str:
    return median(value, campaign).rpartition(SPACE)[0]


def _stacked(cell: str) -> str:
    """A median and its interval, each kept whole: on a phone one stands above the other.

    The unit stands with the median alone. An interval that is longer, or ends in
    words, may break before its upper end.
    """
    middle, _, ends = cell.partition(" (")
    if not ends or "set" in ends:
        return cell
    bare = ends.replace(f"{SPACE}×", "").replace(f"{SPACE}points", "")
    lower, _, upper = bare.rpartition(" to ")
    after = SPACE if len(bare) < LONGEST_WHOLE else " "
    return f"{middle} ({lower.replace(' ', SPACE)}{SPACE}to{after}{upper.replace(' ', SPACE)}"


def measure_table(answer: Answer, campaign: Campaign) -> pd.DataFrame:
    """One row a measure, narrow enough for a phone: medians, the effect, the chance."""
    rows = measure_rows(answer)
    return pd.DataFrame(
        {
            "measure": [_with_unit(row, answer.question, campaign) for row in rows],
            "A": [_bare(row.a, campaign) for row in rows],
            "B": [_bare(row.b, campaign) for row in rows],
            "A against B": [_stacked(effect_size(row.effect)) for row in rows],
            "A higher": [effect_chance(row.p_higher, row.effect.interval) for row in rows],
        }
    )


def interval_table(answer: Answer, campaign: Campaign) -> pd.DataFrame:
    """Each side's own interval, for the table behind."""
    rows = measure_rows(answer)
    return pd.DataFrame(
        {
            "measure": [_words(row, answer.question, campaign) for row in rows],
            "A": [_stacked(estimate(row.a, campaign)) for row in rows],
            "B": [_stacked(estimate(row.b, campaign)) for row in rows],
        }
    )


def show_measures(answer: Answer, campaign: Campaign) -> None:
    """The table of every measure."""
    st.markdown("## Every measure", anchors=False)
    st.table(
        measure_table(answer, campaign),
        hide_index=True,
        border="horizontal",
        alt="Every measure of both sides, with the effect of A against B",
    )
    name = interval_name(answer.summary.effect.interval)
    st.caption(f"Medians; in brackets the {name}.")
    with st.expander("Table: each side with its interval"):
        st.table(
            interval_table(answer, campaign),
            hide_index=True,
            border="horizontal",
            alt="Every measure of each side with its interval",
        )


def split_table(split: Split) -> pd.DataFrame:
    """The three ratios that multiply to the whole."""
    parts = {
        "both modes alike": split.load,
        "once upright only": split.upright_only,
        "how often it sets upright": split.through_mode,
    }
    effects = [_stacked(effect_size(part)) for part in parts.values()]
    return pd.DataFrame({"load, through": list(parts), "A against B": effects})


def show_split(split: Split) -> None:
    """Where a difference of typical loads comes from."""
    st.markdown("## Where the difference comes from", anchors=False)
    st.table(split_table(split), hide_index=True, border="horizontal", alt="Split of the ratio")
    st.caption("Each is a ratio of loads; the three multiply to the whole.")


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
            "A": [_stacked(estimate(own, campaign)) for own, _ in rows.values()],
            "B": [_stacked(estimate(other, campaign)) for _, other in rows.values()],
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
