"""Every pull of both sides as a mark on a load axis."""

from collections.abc import Sequence
from typing import Final

import altair as alt
import pandas as pd

from app.figures.frame import Figure, dressed
from app.marks import ENDING_WORDS, Mark
from app.style import palette
from app.style.numbers import counted, load, load_symbol
from model.base.units import from_kn
from model.records.campaign import Campaign
from model.records.pull import Ending

ROW_HEIGHTS: Final = (8.0, 15.0)
"""Least and greatest height of a pull, pixels."""
ROWS_HEIGHT: Final = 420.0
"""Height that all pulls share while each has room: more would not fit a phone's screen."""
FIXED_HEIGHT: Final = 75
LETTER_ROOM: Final = 24.0
"""Room for a side's letter above its pulls, pixels."""
PALE: Final = 0.45
"""Opacity of what counts less directly: a bite after a slip, a pull at another scope."""
ARROW_SHARE: Final = 0.07
"""Length of the arrow of a pull that was cut off, as a share of the axis."""

LET_GO, CUT_OFF, NEVER_SET = "let go", "boat's limit or stopped", "never set"
SHAPES: Final = {LET_GO: "circle", CUT_OFF: "triangle-right", NEVER_SET: "cross"}


def _what(mark: Mark) -> str:
    if mark.ending is Ending.NEVER_SET:
        return NEVER_SET
    return CUT_OFF if mark.is_cut_off else LET_GO


def _load_words(mark: Mark, campaign: Campaign) -> str:
    if mark.upper_kn is None:
        return f"above {load(mark.lower_kn, campaign)}"
    if mark.ending is Ending.NEVER_SET:
        return "none"
    return f"{load(mark.lower_kn, campaign)} to {load(mark.upper_kn, campaign)}"


def _scope_words(mark: Mark) -> str:
    scope = "usual" if mark.scope is None else f"{mark.scope:g}"
    return scope if mark.has_scope else f"{scope} (another)"


def table_of(marks: Sequence[Mark], campaign: Campaign) -> pd.DataFrame:
    """The table behind the picture: one row a bite, loads in the campaign's own unit."""
    return pd.DataFrame(
        {
            "side": [mark.side for mark in marks],
            "pull": [mark.pull for mark in marks],
            "bite": [mark.bite for mark in marks],
            "ended": [ENDING_WORDS[mark.ending] for mark in marks],
            "would let go at": [_load_words(mark, campaign) for mark in marks],
            "how it set": [mark.mode for mark in marks],
            "anchor": [mark.anchor for mark in marks],
            "seabed": [mark.seabed for mark in marks],
            "scope": [_scope_words(mark) for mark in marks],
        }
    )


def _row_height(marks: Sequence[Mark]) -> float:
    count = len({(mark.side, mark.pull) for mark in marks})
    return min(max(ROWS_HEIGHT / count, ROW_HEIGHTS[0]), ROW_HEIGHTS[1])


def _rows(marks: Sequence[Mark]) -> dict[tuple[str, str], float]:
    """Pixels of each pull below the top: A above B, the weakest of each side first."""
    weakest = sorted(
        {(mark.side, mark.pull) for mark in marks},
        key=lambda of: (
            of[0],
            min(mark.lower_kn for mark in marks if (mark.side, mark.pull) == of),
            of[1],
        ),
    )
    height = _row_height(marks)
    return {
        of: position * height + LETTER_ROOM * (2 if of[0] == "B" else 1)
        for position, of in enumerate(weakest)
    }


def _frame(marks: Sequence[Mark], campaign: Campaign, arrow: float) -> pd.DataFrame:
    rows = _rows(marks)
    own = [from_kn(mark.lower_kn, campaign.load_unit) for mark in marks]
    to = [
        low + arrow if mark.upper_kn is None else from_kn(mark.upper_kn, campaign.load_unit)
        for mark, low in zip(marks, own, strict=True)
    ]
    return pd.DataFrame(
        {
            "side": [mark.side for mark in marks],
            "row": [rows[mark.side, mark.pull] for mark in marks],
            "from": own,
            "to": to,
            "what": [_what(mark) for mark in marks],
            "weight": [1.0 if mark.bite == 1 and mark.has_scope else PALE for mark in marks],
            "pull": [mark.pull for mark in marks],
            "ended": [ENDING_WORDS[mark.ending] for mark in marks],
            "load": [_load_words(mark, campaign) for mark in marks],
            "how it set": [mark.mode for mark in marks],
        }
    )


def describe(marks: Sequence[Mark]) -> str:
    """The picture in words."""
    parts = []
    for side in ("A", "B"):
        own = [mark for mark in marks if mark.side == side and mark.bite == 1]
        cut_off = sum(mark.is_cut_off for mark in own)
        never = sum(mark.ending is Ending.NEVER_SET for mark in own)
        parts.append(
            f"side {side}: {counted(len(own), 'pull')}, {cut_off} cut off by the boat's limit "
            f"or stopped, {never} never set"
        )
    return "Every pull as a mark on a load axis. " + "; ".join(parts) + "."


def pulls_figure(marks: Sequence[Mark], campaign: Campaign) -> Figure:
    """Draw every bite: a bar over the range that holds its capacity, a mark at its end.

    Parameters
    ----------
    marks : sequence of Mark
        At least one.
    campaign : Campaign
        Gives the load unit of the axis.

    Returns
    -------
    Figure
        Side A above side B; later bites of a pull paler and on its own row.
    """
    ends = [mark.lower_kn if mark.upper_kn is None else mark.upper_kn for mark in marks]
    top = from_kn(max([*ends, 0.1]), campaign.load_unit)
    frame = _frame(marks, campaign, ARROW_SHARE * top)
    row_height = _row_height(marks)
    bottom = float(frame["row"].max()) + row_height
    scale = alt.Scale(domain=[0, top * (1 + 1.6 * ARROW_SHARE)], nice=False)
    x = alt.X(
        "from:Q",
        scale=scale,
        axis=alt.Axis(title=f"load ({load_symbol(campaign)})", tickCount=6),
    )
    y = alt.Y("row:Q", axis=None, scale=alt.Scale(domain=[bottom, 0], nice=False))
    color = alt.Color(
        "side:N",
        scale=alt.Scale(domain=["A", "B"], range=[palette.SIDE_A, palette.SIDE_B]),
        legend=None,
    )
    shape = alt.Shape(
        "what:N",
        scale=alt.Scale(domain=list(SHAPES), range=list(SHAPES.values())),
        legend=alt.Legend(title=None, columns=1, symbolFillColor=palette.FAINT_INK),
    )
    weight = alt.Opacity("weight:Q", scale=None, legend=None)
    hover = ["side:N", "pull:N", "ended:N", "load:N", "how it set:N"]
    base = alt.Chart(frame).encode(y=y, color=color, opacity=weight, tooltip=hover)
    letters = pd.DataFrame(
        [
            {"side": side, "row": frame.loc[frame["side"] == side, "row"].min() - 17, "from": 0.0}
            for side in ("A", "B")
            if (frame["side"] == side).any()
        ]
    )
    layers = [
        base.mark_rule(strokeWidth=0.27 * row_height, strokeCap="round").encode(x=x, x2="to:Q"),
        base.mark_point(size=4.7 * row_height, filled=True).encode(
            x=alt.X("to:Q", scale=scale), shape=shape
        ),
        alt.Chart(letters)
        .mark_text(align="left", baseline="middle", fontWeight="bold", fontSize=15)
        .encode(x=x, y=y, text="side:N", color=color),
    ]
    height = int(FIXED_HEIGHT + bottom)
    return dressed(layers, describe(marks), height=height)
