"""Predicted against recorded endings of one anchor: a bar for what is predicted, a mark on it."""

from collections.abc import Sequence
from typing import Final

import altair as alt
import pandas as pd

from app.figures.frame import Figure, dressed
from app.style import palette
from model.checks.shares import ShareRow

ROW_HEIGHT: Final = 24
FIXED_HEIGHT: Final = 60
RECORDED, ODD = "recorded", "recorded, and stands out"
SHAPES: Final = {RECORDED: "diamond", ODD: "triangle-up"}


def _frame(rows: Sequence[ShareRow]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "ending": [row.ending for row in rows],
            "from": [100 * row.lower / row.pulls for row in rows],
            "to": [100 * row.upper / row.pulls for row in rows],
            "recorded": [100 * row.recorded / row.pulls for row in rows],
            "kind": [ODD if row.stands_out else RECORDED for row in rows],
            "pulls": [f"{row.recorded} of {row.pulls}" for row in rows],
            "predicted": [f"{row.expected:.1f} ({row.lower} to {row.upper})" for row in rows],
        }
    )


def describe(rows: Sequence[ShareRow]) -> str:
    """The picture in words."""
    odd = [row for row in rows if row.stands_out]
    told = "; ".join(
        f"{row.ending} {row.recorded} of {row.pulls}, predicted {row.lower} to {row.upper}"
        for row in odd
    )
    return (
        f"Share of each ending of {rows[0].anchor}, recorded against predicted, {len(rows)} rows. "
        + (f"Standing out: {told}." if odd else "None stands out.")
    )


def shares_figure(rows: Sequence[ShareRow]) -> Figure:
    """Draw every ending of one anchor.

    Parameters
    ----------
    rows : sequence of ShareRow
        At least one, all of one anchor, drawn from the top; each with at least one pull.
    """
    frame = _frame(rows)
    y = alt.Y("ending:N", sort=list(frame["ending"]), axis=alt.Axis(title=None, labelLimit=0))
    scale = alt.Scale(domain=[0, 100], nice=False)
    axis = alt.Axis(title="share of pulls (%)", values=[0, 25, 50, 75, 100])
    shape = alt.Shape(
        "kind:N",
        scale=alt.Scale(domain=list(SHAPES), range=list(SHAPES.values())),
        legend=None,
    )
    color = alt.Color(
        "kind:N",
        scale=alt.Scale(domain=list(SHAPES), range=[palette.SIDE_A, palette.FAILED]),
        legend=None,
    )
    hover = [
        alt.Tooltip("ending:N"),
        alt.Tooltip("pulls:N", title="recorded"),
        alt.Tooltip("predicted:N"),
    ]
    base = alt.Chart(frame).encode(y=y, tooltip=hover)
    layers = [
        base.mark_rule(strokeWidth=9, strokeCap="round", color=palette.BAND).encode(
            x=alt.X("from:Q", scale=scale, axis=axis), x2="to:Q"
        ),
        base.mark_point(size=85, filled=True, opacity=1).encode(
            x=alt.X("recorded:Q", scale=scale, axis=axis), shape=shape, color=color
        ),
    ]
    return dressed(layers, describe(rows), height=FIXED_HEIGHT + ROW_HEIGHT * len(frame))
