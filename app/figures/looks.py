"""How an answer moved: its probability as pulls came in, full answers and quick ones."""

from collections.abc import Sequence
from typing import Final

import altair as alt
import pandas as pd

from app.figures.frame import Figure, dressed, upright_title
from app.shown import Look
from app.style import palette
from app.style.numbers import percent
from model.base.constants import SETTLED_PROB

HEIGHT: Final = 210
FULL_SIZE: Final = 60
QUICK_SIZE: Final = 26
"""Areas of a point, square pixels: full answers are dots, quick ones small rings."""


def describe(looks: Sequence[Look]) -> str:
    """The picture in words: the full answers, and how many quick ones lie between."""
    full = [look for look in looks if look.state == "full"]
    told = full or looks
    steps = ", then ".join(f"{percent(look.p_higher)} at {look.pulls} pulls" for look in told)
    between = len(looks) - len(told)
    quick = f"; quick answers between: {between}" if between else ""
    return f"Chance that A is higher at each look: {steps}{quick}."


def looks_figure(looks: Sequence[Look]) -> Figure:
    """Draw the chance that A is higher over the pulls known at each look.

    Parameters
    ----------
    looks : sequence of Look
        In the order in which they were taken; at least one.
    """
    frame = pd.DataFrame(
        {
            "pulls": [look.pulls for look in looks],
            "chance": [100 * look.p_higher for look in looks],
            "answer": [look.state for look in looks],
        }
    )
    ends = pd.DataFrame({"chance": [100 * SETTLED_PROB, 100 * (1 - SETTLED_PROB)]})
    low, high = frame["pulls"].min(), frame["pulls"].max()
    room = max(1.0, 0.06 * (high - low))
    x = alt.X(
        "pulls:Q",
        scale=alt.Scale(domain=[low - room, high + room], nice=False),
        axis=alt.Axis(title="pulls known", tickMinStep=1, tickCount=4, grid=False, format="d"),
    )
    y = alt.Y(
        "chance:Q",
        scale=alt.Scale(domain=[0, 100]),
        axis=upright_title("chance that A is higher (%)", [0, 50, 100]),
    )
    base = alt.Chart(frame).encode(x=x, y=y)
    layers = [
        alt.Chart(ends).mark_rule(color=palette.FAINT_INK, strokeDash=[3, 3]).encode(y=y),
        base.mark_line(color=palette.SIDE_A, strokeWidth=1.5),
        _points(base, "quick", fill="white", size=QUICK_SIZE),
        _points(base, "full", fill=palette.SIDE_A, size=FULL_SIZE),
    ]
    return dressed(layers, describe(looks), height=HEIGHT)


def _points(base: alt.Chart, state: str, *, fill: str, size: int) -> alt.Chart:
    chosen = base.transform_filter(alt.FieldEqualPredicate(field="answer", equal=state))
    drawn: alt.Chart = chosen.mark_point(
        color=palette.SIDE_A, fill=fill, size=size, opacity=1, strokeWidth=1.5
    )
    return drawn
