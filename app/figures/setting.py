"""How often each set-up sets upright: a dot with its interval, one row a set-up."""

from collections.abc import Sequence
from typing import Final

import altair as alt
import pandas as pd

from app.figures.frame import Figure, dressed
from app.style import palette
from app.style.numbers import estimate, interval_name, percent
from model.questions.mode_sentences import rig_words
from model.questions.setting_modes import SetUpModes
from model.records.campaign import Campaign

ROW_HEIGHT: Final = 42
"""Pixels of a set-up: its name over its dot, so that a phone need not give it a column."""
NAME_ABOVE: Final = 0.36
"""Where the name stands over the dot, as a share of a row."""
FIXED_HEIGHT: Final = 60
PULLED, PREDICTED = "pulled", "never pulled"


def _frame(set_ups: Sequence[SetUpModes], campaign: Campaign) -> pd.DataFrame:
    chances = [one.p_upright for one in set_ups]
    return pd.DataFrame(
        {
            "set-up": [rig_words(campaign, one.place) for one in set_ups],
            "row": [float(row) for row in range(len(set_ups))],
            "name_row": [row - NAME_ABOVE for row in range(len(set_ups))],
            "upright": [100 * chance.median for chance in chances],
            "from": [100 * chance.interval.lower for chance in chances],
            "to": [100 * chance.interval.upper for chance in chances],
            "zero": [0.0] * len(set_ups),
            "kind": [PREDICTED if one.is_predicted else PULLED for one in set_ups],
            "pulls": [one.pulls.count for one in set_ups],
            "chance": [estimate(chance, campaign) for chance in chances],
        }
    )


def describe(set_ups: Sequence[SetUpModes], campaign: Campaign) -> str:
    """The picture in words, for those who cannot see it."""
    parts = [
        f"{rig_words(campaign, one.place)} {percent(one.p_upright.median)} "
        f"({percent(one.p_upright.interval.lower)} to {percent(one.p_upright.interval.upper)})"
        + (", never pulled" if one.is_predicted else "")
        for one in set_ups
    ]
    place = set_ups[0].place
    return (
        f"Chance that {place.anchor} sets upright on {place.seabed}, with "
        f"{interval_name(set_ups[0].p_upright.interval)}: {'; '.join(parts)}."
    )


def setting_figure(set_ups: Sequence[SetUpModes], campaign: Campaign) -> Figure:
    """Draw the chance to set upright of every set-up of one anchor on one seabed.

    Parameters
    ----------
    set_ups : sequence of SetUpModes
        At least one; drawn from the top in their order. Those never pulled are hollow.
    """
    frame = _frame(set_ups, campaign)
    x_scale = alt.Scale(domain=[0, 100], nice=False)
    y_scale = alt.Scale(domain=[len(frame) - 0.55, -0.75], nice=False)
    axis = alt.Axis(title="chance to set upright (%)", values=[0, 25, 50, 75, 100])
    x = alt.X("upright:Q", scale=x_scale, axis=axis)
    y = alt.Y("row:Q", axis=None, scale=y_scale)
    kinds = [PULLED, PREDICTED]
    color = alt.Color(
        "kind:N",
        scale=alt.Scale(domain=kinds, range=[palette.SIDE_A, palette.FAINT_INK]),
        legend=None,
    )
    fill = alt.Fill(
        "kind:N",
        scale=alt.Scale(domain=kinds, range=[palette.SIDE_A, palette.PAPER]),
        legend=None,
    )
    hover = [
        alt.Tooltip("set-up:N"),
        alt.Tooltip("chance:N", title="sets upright"),
        alt.Tooltip("pulls:Q"),
    ]
    base = alt.Chart(frame).encode(y=y, tooltip=hover)
    layers = [
        base.mark_rule(strokeWidth=3).encode(
            x=alt.X("from:Q", scale=x_scale, axis=axis), x2="to:Q", color=color
        ),
        base.mark_point(size=95, strokeWidth=2, opacity=1).encode(x=x, color=color, fill=fill),
        alt.Chart(frame)
        .mark_text(align="left", baseline="middle")
        .encode(
            x=alt.X("zero:Q", scale=x_scale, axis=axis),
            y=alt.Y("name_row:Q", axis=None, scale=y_scale),
            text="set-up:N",
        ),
    ]
    height = FIXED_HEIGHT + ROW_HEIGHT * len(frame)
    return dressed(layers, describe(set_ups, campaign), height=height)
