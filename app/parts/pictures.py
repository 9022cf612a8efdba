"""Pictures on a page, each with its table behind it."""

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from app.figures.effect import effect_figure_of, not_drawn
from app.figures.frame import Figure
from app.figures.looks import looks_figure
from app.figures.pulls import pulls_figure, table_of
from app.marks import SideMarks
from app.shown import Look
from app.style.numbers import effect_range, interval_name, percent
from app.style.text import as_text, short_id
from model.base.constants import SETTLED_PROB
from model.questions.answer import Answer
from model.records.campaign import Campaign


def show_figure(figure: Figure, *, key: str) -> None:
    """A chart as wide as its place, with its description for those who cannot see it."""
    st.altair_chart(figure.chart, width="stretch", theme=None, alt=figure.description, key=key)


def show_table_behind(table: pd.DataFrame, label: str) -> None:
    """The table a picture was drawn from."""
    with st.expander(label):
        st.dataframe(table, hide_index=True, alt=label)


def show_effect(answer: Answer) -> None:
    """The effect's distribution, and what its parts mean."""
    summary = answer.summary
    band, kind = summary.question.band, summary.effect.kind
    st.markdown("## How large the difference may be", anchors=False)
    show_figure(effect_figure_of(answer), key="effect")
    st.caption(
        f"Shaded: no practical difference ({effect_range(band.lower, band.upper, kind)}). "
        f"Dashed: no difference at all. Diamond and bar: median and "
        f"{interval_name(summary.effect.interval)}. {not_drawn(answer)}"
    )
    show_table_behind(
        pd.DataFrame(
            {
                "effect of A against B": ["above the band", "inside the band", "below the band"],
                "chance": [
                    percent(summary.p_above_band),
                    percent(summary.p_inside_band),
                    percent(summary.p_below_band),
                ],
            }
        ),
        "Table: chances above, inside and below the band",
    )


def show_pulls(found: SideMarks, campaign: Campaign) -> None:
    """Every pull of both sides on a load axis; void ones in words."""
    st.markdown("## Every pull", anchors=False)
    if found.marks:
        show_figure(pulls_figure(found.marks, campaign), key="pulls")
        st.caption(
            "A bar spans the loads between which it let go; an arrow means that it held all it was "
            "given and would have held more. Paler: a bite after a slip in the same pull, "
            "or a pull at another scope."
        )
        show_table_behind(table_of(found.marks, campaign), "Table: every pull in this picture")
    else:
        st.markdown("Neither side has a pull of its own: this rests on other set-ups' pulls alone.")
    if found.void:
        st.markdown(
            "Void, not drawn and not used: "
            + "; ".join(
                f"{side} {as_text(pull.outing)}/{as_text(pull.code)} "
                f"({as_text(pull.reason or 'no reason given')})"
                for side, pull in found.void
            )
        )


def show_looks(looks: Sequence[Look], *, key: str, is_small: bool = False) -> None:
    """How the answer moved: a line, or words where there was one look only."""
    if not looks:
        st.caption("How it moved: no earlier look is stored.")
        return
    if len(looks) == 1:
        st.caption(f"How it moved: one look so far, at {looks[0].pulls} pulls.")
        return
    show_figure(looks_figure(looks, is_small=is_small), key=key)
    if not is_small:
        st.caption(
            f"Dotted: {percent(SETTLED_PROB)} and {percent(1 - SETTLED_PROB)}. A finding needs to "
            "be beyond one of them at two looks running, among other things."
        )
        show_table_behind(_looks_table(looks), "Table: every look")


def _looks_table(looks: Sequence[Look]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "date": [f"{look.at:%Y-%m-%d %H:%M}" for look in looks],
            "pulls known": [look.pulls for look in looks],
            "A higher": [percent(look.p_higher) for look in looks],
            "finding": [str(look.finding) for look in looks],
            "posterior": [short_id(look.posterior) for look in looks],
        }
    )
