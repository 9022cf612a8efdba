"""Correcting, taking out and putting back pulls: looked at first, stored with a reason."""

from collections.abc import Mapping, Sequence
from typing import Literal

import streamlit as st

from app import data
from app.moves import moved_words
from app.parts.pull_table import show_history
from app.parts.refusals import as_typed, refusable, show_refusal
from app.style.cards import guarded
from app.style.numbers import counted
from app.style.text import as_prose
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.service.moved import Moved
from model.store.facts import Revised

SAID = "what was done"
"""Key under which a page says once, after it has changed something, what it did."""

SEEN = "revisions seen"
"""Key under which a page remembers which revisions of the chosen pulls it showed."""

MOST_CELLS = 6
"""Cells of one correction: an ending, its load, its seconds and why."""
MOST_SHOWN = 20
"""Changes that are listed; more of the same kind say no more."""
AT_REST = "500ms"
"""How long nobody has typed when a reason is read: its button must not wait for another press."""


def say_once() -> None:
    """What the last step did, if one has just been done."""
    # Always there: what comes and goes above a folded part shuts it under a hand.
    place = st.container()
    said = st.session_state.pop(SAID, None)
    if said is not None:
        place.success(said, icon=":material/check:")


def done(words: str, moves: Sequence[Moved] = ()) -> None:
    """Draw the page anew, with what was done at its head, and what that moved."""
    lines = [f"- {as_prose(line)}" for line in moved_words(moves)]
    head = ["", "Chance that A is higher:", ""] if lines else []
    st.session_state[SAID] = "\n".join([as_prose(words), *head, *lines])
    st.rerun()


def ask_why(key: str) -> tuple[str, str]:
    """Why something is changed, and by whom."""
    why = st.text_input("Why (stays with the pull)", key=f"{key} why", max_chars=400, live=AT_REST)
    who = st.text_input("By", value=data.login_name(), key=f"{key} who", max_chars=80)
    return why.strip(), who.strip()


def press(label: str, why: str, *, key: str, is_main: bool = False) -> bool:
    """A button that waits for a reason, and says so."""
    kind: Literal["primary", "secondary"] = "primary" if is_main else "secondary"
    is_pressed = st.button(label, disabled=not why, type=kind, key=key)
    if not why:
        st.caption("Why is missing: write it above.")
    return is_pressed


def show_changes(revised: Sequence[Revised]) -> None:
    """Each change as old → new."""
    lines = [f"- {as_prose(str(one))}" for one in revised[:MOST_SHOWN]]
    more = len(revised) - MOST_SHOWN
    if more > 0:
        lines.append(f"- and {counted(more, 'more pull')}")
    st.markdown("\n".join(lines))


def show_correcting(pulls: Sequence[Pull]) -> None:
    """Cells in each of the chosen pulls: what they change, then a button that stores it."""
    names = [pull.id for pull in pulls]
    bites = max(len(pull.bites) for pull in pulls)
    bite = 1
    if bites > 1:
        bite = int(st.number_input("Bite", 1, bites, 1, key="which bite", width=120))
    cells = _choose_cells(data.correctable(names))
    if cells:
        with guarded():
            _show_correction(names, cells, bite)
    show_refusal("correct", (names, cells, bite))


def _show_correction(names: list[str], cells: Mapping[str, str], bite: int) -> None:
    with as_typed():
        found = data.preview_cells(names, cells, bite=bite)
    if not found.revised:
        st.markdown("That is what stands there already.")
        return
    show_changes(found.revised)
    # The press of the button draws the page anew, and finds what another one stored meanwhile:
    # what counts is what stood here before.
    before = st.session_state.get(SEEN, found.seen)
    st.session_state[SEEN] = found.seen
    why, who = ask_why("correct")
    label = f"Store the correction of {counted(len(found.revised), 'pull')}"
    if press(label, why, key="store correction", is_main=True):
        with refusable("correct", (names, cells, bite)):
            seen = before if set(before) == set(found.seen) else found.seen
            moves = data.correct(found, seen, why, who)
            done(f"Corrected: {counted(len(found.revised), 'pull')}.", moves)


def _choose_cells(headings: Sequence[str]) -> dict[str, str]:
    """Columns with their new values; one more line appears behind each that is filled."""
    cells: dict[str, str] = {}
    for line in range(MOST_CELLS):
        left = [heading for heading in headings if heading not in cells]
        row = f"fields of column {line}"
        with st.container(horizontal=True, vertical_alignment="bottom", gap="small", key=row):
            heading = st.selectbox(
                "Column" if line == 0 else "And column", left, index=None,
                key=f"column {line}", width=220,
            )  # fmt: skip
            text = st.text_input("New value, as in a log; empty takes it out", key=f"value {line}")
        if heading is None:
            break
        cells[heading] = text
    return cells


def show_taking_out(pulls: Sequence[Pull]) -> None:
    """Take the chosen pulls out; they can be put back."""
    st.markdown("They count no more, and stay in their history.")
    why, who = ask_why("take out")
    names = [pull.id for pull in pulls]
    if press(f"Take out {counted(len(names), 'pull')}", why, key="take out"):
        with refusable("take out", names):
            moves = data.remove(names, why, who)
            done(f"Taken out: {counted(len(names), 'pull')}.", moves)
    show_refusal("take out", names)


def show_taken_out(campaign: Campaign) -> None:
    """Pulls that were taken out, each with its history, to be put back."""
    removed = data.removed()
    if not removed:
        st.markdown("None.")
        return
    names = [revision.pull.id for revision in removed]
    name = st.selectbox("Pull", names, key="taken out")
    show_history(data.history(name), campaign)
    # Of each pull its own: a second tap must find no reason, and no button, for the next one.
    why, who = ask_why(f"put back {name}")
    if press("Put it back", why, key=f"put back {name}"):
        with refusable("put back", name):
            moves = data.put_back([name], why, who)
            done(f"Put back: {name}.", moves)
    show_refusal("put back", name)
