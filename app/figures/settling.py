"""The chance that a question is settled against the pulls made, a line for each way to choose."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import altair as alt
import pandas as pd

from app.figures.frame import Figure, dressed, upright_title
from app.style import palette
from app.style.numbers import percent
from model.service.next_pulls import checkpoints

if TYPE_CHECKING:
    from model.planning.rehearsed import Rehearsed

HEIGHT: Final = 400
LINES: Final = (
    (palette.SIDE_A, [1, 0]),
    (palette.SIDE_B, [6, 3]),
    (palette.NO_DIFFERENCE, [2, 2]),
    (palette.FAINT_INK, [8, 3, 2, 3]),
)
"""Colour and dashes of each line: colour alone would not tell them apart for every reader."""


def describe(by_policy: "Sequence[Rehearsed]") -> str:
    """The picture in words, for those who cannot see it."""
    first = by_policy[0]
    looks = checkpoints(first.most_pulls, first.pulls_a_day)
    parts = []
    for one in by_policy:
        chances = ", ".join(f"{percent(one.settled_by(pulls))} by {pulls}" for pulls in looks)
        parts.append(f"{one.policy} {chances}")
    return f"Chance to be settled by so many pulls: {'; '.join(parts)}."


def settling_table(by_policy: "Sequence[Rehearsed]") -> pd.DataFrame:
    """The table behind the picture: pulls, and the chance by each way to choose, %."""
    pulls = range(1, by_policy[0].most_pulls + 1)
    chances = {
        one.policy: [percent(one.settled_by(number)) for number in pulls] for one in by_policy
    }
    return pd.DataFrame({"pulls": list(pulls), **chances})


def settling_figure(by_policy: "Sequence[Rehearsed]") -> Figure:
    """Draw the chance to be settled after each pull.

    Parameters
    ----------
    by_policy : sequence of Rehearsed
        One to four, of the same number of pulls.
    """
    first = by_policy[0]
    frame = pd.DataFrame(
        [
            {"pulls": pulls, "chance": 100 * one.settled_by(pulls), "chosen": one.policy}
            for one in by_policy
            for pulls in range(first.most_pulls + 1)
        ]
    )
    names = [one.policy for one in by_policy]
    x = alt.X(
        "pulls:Q",
        scale=alt.Scale(domain=[0, first.most_pulls], nice=False),
        axis=alt.Axis(title="pulls from here", tickMinStep=1, tickCount=6, grid=False, format="d"),
    )
    y = alt.Y(
        "chance:Q",
        scale=alt.Scale(domain=[0, 100]),
        axis=upright_title("chance to be settled (%)", [0, 25, 50, 75, 100]),
    )
    legend = alt.Legend(title=None, orient="bottom", columns=1, symbolSize=400, labelLimit=0)
    kinds = LINES[: len(names)]
    color = alt.Color(
        "chosen:N",
        scale=alt.Scale(domain=names, range=[color for color, _ in kinds]),
        legend=legend,
    )
    dash = alt.StrokeDash(
        "chosen:N",
        scale=alt.Scale(domain=names, range=[dashes for _, dashes in kinds]),
        legend=legend,
    )
    days = range(first.pulls_a_day, first.most_pulls, first.pulls_a_day)
    ends = pd.DataFrame({"pulls": [float(pulls) for pulls in days]})
    layers = [
        alt.Chart(ends).mark_rule(color=palette.GRID, strokeWidth=2).encode(x=x),
        alt.Chart(frame)
        .mark_line(strokeWidth=2, interpolate="step-after")
        .encode(x=x, y=y, color=color, strokeDash=dash),
    ]
    return dressed(layers, describe(by_policy), height=HEIGHT)
