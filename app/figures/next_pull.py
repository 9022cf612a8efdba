"""What one more pull of each side may come to: a bar for each way it can end.

A pull that never sets has no load, so a curve of ratios would say nothing of it.
"""

from typing import Final

import altair as alt
import numpy as np
import pandas as pd

from app.figures.frame import Figure, dressed
from app.style import palette
from app.style.numbers import percent
from model.base.constants import BEYOND
from model.questions.answer import Answer

A_ABOVE, ONLY_A, NEITHER, ONLY_B, B_ABOVE = (
    "A above B",
    "only A sets",
    "neither sets",
    "only B sets",
    "B above A",
)
COLORS: Final = {
    A_ABOVE: palette.SIDE_A,
    ONLY_A: palette.SIDE_A,
    NEITHER: palette.FAINT_INK,
    ONLY_B: palette.SIDE_B,
    B_ABOVE: palette.SIDE_B,
}
HEIGHT: Final = 210
LABEL_ROOM: Final = 1.25
"""Axis beyond the longest bar, as a multiple of it: room for the figure at its end."""


def outcome_shares(answer: Answer) -> dict[str, float]:
    """Chance of each way in which the next pull of A and the next of B may compare.

    Parameters
    ----------
    answer : Answer
        Of the measure ``next``; its draws (draw,) are ratios, beyond any that two
        loads can have where one pull never set, and 1 where neither did.

    Returns
    -------
    dict of str to float
        They sum to 1.
    """
    draws = answer.effect_draws
    both = (draws > 1 / BEYOND) & (draws < BEYOND)
    found = {
        A_ABOVE: both & (draws > 1),
        ONLY_A: draws >= BEYOND,
        NEITHER: draws == 1,  # two loads alike to the last digit do not occur
        ONLY_B: draws <= 1 / BEYOND,
        B_ABOVE: both & (draws < 1),
    }
    return {words: float(np.mean(is_so)) for words, is_so in found.items()}


def never_set_words(answer: Answer) -> str:
    """How often either side does not set at all."""
    shares = outcome_shares(answer)
    a, b = shares[ONLY_B] + shares[NEITHER], shares[ONLY_A] + shares[NEITHER]
    return f"A does not set: {percent(a)}; B does not set: {percent(b)}."


def next_pull_figure(answer: Answer) -> Figure:
    """Draw the chance of each outcome; see :func:`outcome_shares`."""
    shares = outcome_shares(answer)
    frame = pd.DataFrame(
        {
            "outcome": list(shares),
            "chance": [100 * share for share in shares.values()],
            "words": [percent(share) for share in shares.values()],
        }
    )
    top = min(LABEL_ROOM * frame["chance"].max(), 100.0)
    y = alt.Y(
        "outcome:N", sort=None, axis=alt.Axis(title=None, ticks=False, domain=False, labelPadding=6)
    )
    x = alt.X(
        "chance:Q",
        scale=alt.Scale(domain=[0, max(top, 1.0)], nice=False),
        axis=alt.Axis(title="chance (%)", tickCount=5, grid=False),
    )
    color = alt.Color(
        "outcome:N",
        scale=alt.Scale(domain=list(COLORS), range=list(COLORS.values())),
        legend=None,
    )
    base = alt.Chart(frame).encode(y=y, x=x)
    layers = [
        base.mark_bar(opacity=0.8).encode(color=color),
        base.mark_text(align="left", dx=5).encode(text="words:N"),
    ]
    said = ", ".join(f"{words} {percent(share)}" for words, share in shares.items())
    description = f"One more pull of each: {said}. {never_set_words(answer)}"
    return dressed(layers, description, height=HEIGHT)
