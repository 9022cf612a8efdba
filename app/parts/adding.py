"""One pull typed in: the cells that a row of a log has, with choices where it has names."""

import streamlit as st

from app import data
from app.parts.changing import done
from app.style.cards import guarded
from app.style.numbers import load, load_symbol
from app.style.text import as_text
from model.records.campaign import Campaign
from model.records.pull import ModeSeen

NOT_SEEN = "not seen"
MODES = {NOT_SEEN: "", "upright": ModeSeen.UPRIGHT.value, "on its side": ModeSeen.ON_SIDE.value}
ENDINGS = ("released", "held", "never set", "stopped", "released then stopped", "void")


def show_adding(campaign: Campaign) -> None:
    """A form for one pull of one bite; more bites are written in a log."""
    with st.form("add", border=False):
        row = _rig_cells(campaign) | _course_cells(campaign)
        is_sent = st.form_submit_button("Store this pull", type="primary")
    if is_sent:
        with guarded():
            name, moves = data.add_row(row)
            done(f"Stored: {name}.", moves)


def _rig_cells(campaign: Campaign) -> dict[str, str]:
    with st.container(horizontal=True, gap="small"):
        cells = {
            "outing": st.selectbox(
                "Outing", [one.name for one in campaign.outings][::-1], width=180
            ),
            "pull": st.text_input("Pull (its number)", width=140),
            "anchor": st.selectbox("Anchor", [one.code for one in campaign.anchors], width=140),
            "seabed": st.selectbox("Seabed", [one.name for one in campaign.seabeds], width=180),
        }
        for treatment in campaign.treatments:
            cells[treatment.name] = st.selectbox(
                as_text(treatment.name), treatment.levels, key=f"add {treatment.name}", width=180
            )
        cells["scope"] = st.text_input("Scope", placeholder=f"usual {campaign.usual_scope:g}",
                                       width=120)  # fmt: skip
    return {heading: text or "" for heading, text in cells.items()}


def _course_cells(campaign: Campaign) -> dict[str, str]:
    steps = sorted({step for ladder in campaign.ladders for step in ladder.loads_kn})
    with st.container(horizontal=True, gap="small"):
        ending = st.selectbox("How it ended", ENDINGS, width=200)
        step = st.selectbox(
            "Step",
            steps,
            index=None,
            format_func=lambda kn: load(kn, campaign),
            placeholder="none",
            width=140,
        )
        peak = st.text_input(f"Or a peak, {load_symbol(campaign)}", width=140)
        mode = st.selectbox("How it set", list(MODES), width=160)
        reason = st.text_input("Reason (stopped, void)", width=220)
        notes = st.text_input("Notes", width=220)
    # What does not go together is handed on, too: the log's reader says so.
    cells = {"ending": ending, "mode": MODES[mode], "reason": reason, "notes": notes}
    cells["load_kn"] = f"{step!r}" if step is not None else ""
    if peak.strip():
        cells |= {f"load_{campaign.load_unit}": peak.strip(), "reading": "peak"}
    return cells
