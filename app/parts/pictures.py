"""Pictures on a page, each with its table behind it."""

from collections.abc import Iterable, Sequence
from typing import Final

import pandas as pd
import streamlit as st

from app.figures.effect import effect_figure_of, not_drawn
from app.figures.frame import Figure
from app.figures.looks import looks_figure
from app.figures.next_pull import never_set_words, next_pull_figure, outcome_shares
from app.figures.pulls import pulls_figure, table_of
from app.marks import SideMarks
from app.shown import Look, Moved
from app.style.numbers import counted, effect_range, interval_name, percent
from app.style.text import as_text, short_id
from model.base.constants import SETTLED_PROB
from model.ingest.formula_guard import guarded
from model.questions.answer import Answer
from model.records.campaign import Campaign
from model.records.question import Measure

PIXELS_A_CHARACTER: Final = 8.0
CELL_ROOM: Final = 28
"""Padding of a table's cell on both sides, pixels."""
PICTURE_WORDS: Final = (
    "In the pictures, shaded: no practical difference. Dashed: no difference at all. Diamond and "
    "bar: median and interval."
)
LOOKS_SAID: Final = 4
"""Latest looks that a line of words has room for."""


def show_figure(figure: Figure, *, key: str) -> None:
    """A chart as wide as its place, with its description for those who cannot see it."""
    st.altair_chart(figure.chart, width="stretch", theme=None, alt=figure.description, key=key)


def show_table_behind(table: pd.DataFrame, label: str) -> None:
    """The table a picture was drawn from; where the screen is narrow it moves sideways.

    It can be downloaded, so names in it are guarded as in any other file for a spreadsheet.
    """
    table = table.map(lambda cell: guarded(cell) if isinstance(cell, str) else cell)
    columns = {
        str(name): st.column_config.Column(width=cell_width(str(name), table[name]))
        for name in table
    }
    with st.expander(label):
        st.dataframe(table, hide_index=True, alt=label, column_config=columns, width="content")


def cell_width(name: str, cells: Iterable[object]) -> int:
    """Pixels that show the longest cell of a column whole."""
    longest = max([len(name), *(len(str(cell)) for cell in cells)])
    return int(CELL_ROOM + PIXELS_A_CHARACTER * longest)


def show_effect(answer: Answer) -> None:
    """How large the difference may be; of one more pull each, how they may compare."""
    if answer.question.measure is Measure.NEXT:
        _show_next_pull(answer)
    else:
        _show_distribution(answer)


def _show_next_pull(answer: Answer) -> None:
    st.markdown("## One more pull of each", anchors=False)
    show_figure(next_pull_figure(answer), key="effect")
    st.caption(
        f"{never_set_words(answer)} There is no load to compare where one does not set, and so no "
        "curve of how large the difference may be."
    )
    shares = outcome_shares(answer)
    show_table_behind(
        pd.DataFrame(
            {"outcome": list(shares), "chance": [percent(one) for one in shares.values()]}
        ),
        "Table: how one more pull of each may compare",
    )


def show_small_effect(answer: Answer, *, key: str) -> None:
    """The same picture for a card, alone."""
    if answer.question.measure is Measure.NEXT:
        show_figure(next_pull_figure(answer), key=key)
    else:
        show_figure(effect_figure_of(answer, is_small=True), key=key)


def _show_distribution(answer: Answer) -> None:
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


def looks_words(looks: Sequence[Look]) -> str:
    """How the answer moved, in words: the chance that A is higher at the latest looks."""
    if not looks:
        return "No look is kept yet. Standing questions are looked at after every fit."
    if len(looks) == 1:
        return f"One look so far, at {counted(looks[0].pulls, 'pull')}."
    latest = looks[-LOOKS_SAID:]
    steps = " → ".join(percent(look.p_higher) for look in latest)
    quick = sum(look.state == "quick" for look in latest)
    of_these = f" ({quick} of these quick)" if quick else ""
    return f"A is higher, look by look: {steps}, at {counted(looks[-1].pulls, 'pull')}{of_these}."


def show_looks(moved: Moved, *, key: str) -> None:
    """How the answer moved: a line, or words where there was one look only."""
    looks = moved.looks
    if len(looks) < 2:
        st.markdown(looks_words(looks))
        _say_not_yet(moved)
        return
    show_figure(looks_figure(looks), key=key)
    has_quick = any(look.state == "quick" for look in looks)
    rings = " Looks are full fits (dots); rings are quick answers." if has_quick else ""
    st.caption(
        f"Dotted: {percent(SETTLED_PROB)} and {percent(1 - SETTLED_PROB)}. A finding needs to "
        f"be beyond one of them at two looks running, among other things.{rings}"
    )
    _say_not_yet(moved)
    show_table_behind(_looks_table(looks), "Table: every look")


def _say_not_yet(moved: Moved) -> None:
    """What is missing of the way: still to be worked out, or not to be told before a full fit."""
    missing = []
    if moved.not_yet:
        it = "it is" if moved.not_yet == 1 else "they are"
        how = (
            f"{it} worked out in the background, or by `kedgewise fit --trail`"
            if moved.has_worker
            else f"run `kedgewise fit --trail`, and {it} worked out"
        )
        missing.append(f"Not yet: {counted(moved.not_yet, 'pull')} on the way; {how}.")
    if moved.withheld:
        missing.append(
            f"At {counted(moved.withheld, 'pull')} no quick answer could be given before the "
            "next full fit."
        )
    if missing:
        st.caption(" ".join(missing))


def _looks_table(looks: Sequence[Look]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "pulls known": [look.pulls for look in looks],
            "A higher": [percent(look.p_higher) for look in looks],
            "answer": [look.state for look in looks],
            "finding": [str(look.finding) for look in looks],
            "last pull": [guarded(look.last_pull) for look in looks],
            "date": [f"{look.at:%Y-%m-%d %H:%M}" for look in looks],
            "posterior": [short_id(look.posterior) for look in looks],
        }
    )
