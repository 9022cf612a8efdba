"""Where each pull fell in what the others expect: a bar a pull, in order, along the diagonal."""

from collections.abc import Sequence
from typing import Final

import altair as alt
import pandas as pd

from app.figures.frame import Figure, dressed, upright_title
from app.style import palette
from model.checks.uniformity import PullShare

HEIGHT: Final = 300


def _frame(rows: Sequence[PullShare]) -> pd.DataFrame:
    ordered = sorted(rows, key=lambda row: row.lower + row.upper)
    return pd.DataFrame(
        {
            "rank": [100 * (place + 0.5) / len(ordered) for place in range(len(ordered))],
            "from": [100 * row.lower for row in ordered],
            "to": [100 * row.upper for row in ordered],
            "pull": [row.pull_words for row in ordered],
        }
    )


def places_figure(rows: Sequence[PullShare]) -> Figure:
    """Draw the range of every pull's place against even ones.

    Parameters
    ----------
    rows : sequence of PullShare
        At least one.
    """
    frame = _frame(rows)
    scale = alt.Scale(domain=[0, 100], nice=False)
    values = [0.0, 25.0, 50.0, 75.0, 100.0]
    x = alt.X(
        "rank:Q", scale=scale, axis=alt.Axis(title="pulls in the order of their place (%)",
                                             values=values),
    )  # fmt: skip
    y_axis = upright_title("share of expected loads below (%)", values)
    diagonal = pd.DataFrame({"rank": [0.0, 100.0], "from": [0.0, 100.0]})
    layers = [
        alt.Chart(frame)
        .mark_rule(strokeWidth=3, color=palette.SIDE_A)
        .encode(
            x=x,
            y=alt.Y("from:Q", scale=scale, axis=y_axis),
            y2="to:Q",
            tooltip=["pull:N", alt.Tooltip("from:Q", format=".0f"), alt.Tooltip("to:Q",
                     format=".0f")],
        ),
        alt.Chart(diagonal)
        .mark_line(strokeDash=[5, 4], color=palette.INK)
        .encode(x=x, y=alt.Y("from:Q", scale=scale, axis=y_axis)),
    ]  # fmt: skip
    description = (
        f"Where each of {len(frame)} pulls fell in what the other pulls expect, in order; under a "
        "right model the bars follow the dashed diagonal."
    )
    return dressed(layers, description, height=HEIGHT)
