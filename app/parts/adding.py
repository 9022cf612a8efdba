"""One pull typed in: the cells that a row of a log has, with choices where it has names."""

import re
from typing import Final

import streamlit as st

from app import data
from app.parts.changing import done
from app.parts.refusals import NOTHING_STORED, as_typed, refusable, show_refusal
from app.style.numbers import load, load_symbol
from app.style.text import as_text
from model.base.errors import InputError, KnownPull
from model.ingest.known_names import shown
from model.records.campaign import Campaign
from model.records.pull import ModeSeen

NOT_SEEN: Final = "not seen"
MODES: Final = {
    NOT_SEEN: "",
    "upright": ModeSeen.UPRIGHT.value,
    "on its side": ModeSeen.ON_SIDE.value,
}
ENDINGS: Final = ("released", "held", "never set", "stopped", "released then stopped", "void")
LABELS: Final = {
    "outing": "Outing",
    "pull": "Pull (its number)",
    "anchor": "Anchor",
    "seabed": "Seabed",
    "scope": "Scope",
    "ending": "How it ended",
    "step": "Step",
    "mode": "How it set",
    "reason": "Reason (stopped, void)",
    "notes": "Notes",
}
CLEARED: Final = {
    "pull": "",
    "ending": None,
    "step": None,
    "peak": "",
    "mode": NOT_SEEN,
    "reason": "",
    "notes": "",
}
"""What is of one pull alone, and empty before the next: the rig and the place stay."""

STORED: Final = "a pull was typed in"
"""Key under which a page remembers that the form is to be emptied."""
PLACE: Final = "add"
ALREADY: Final = "Stored already, word for word:"
_THOUSAND: Final = re.compile(r",[0-9]{3}(?![0-9])")


def show_adding(campaign: Campaign) -> None:
    """A form for one pull of one bite; more bites are written in a log."""
    if st.session_state.pop(STORED, False):
        for field, empty in CLEARED.items():
            st.session_state[_key(field)] = empty
    # The Enter key of a phone stands where the next field is expected: it must store no pull.
    with st.container(key="fields of a pull"), st.form("add", border=False, enter_to_submit=False):
        typed = _rig_cells(campaign) | _course_cells(campaign)
        is_sent = st.form_submit_button("Store this pull", type="primary")
    if is_sent:
        with refusable(PLACE, typed):
            _store(typed, campaign)
    show_refusal(PLACE, typed)


def _store(typed: dict[str, str], campaign: Campaign) -> None:
    try:
        with as_typed(_labels(typed, campaign)):
            name, moves = data.add_row(_row(typed, campaign))
    except KnownPull as error:
        if not error.is_same:
            raise KnownPull(error.message, hint=_what_of_the_known(error)) from error
        # A second tap, or a page that was drawn anew before it could say that it had stored it.
        st.session_state[STORED] = True
        done(f"{ALREADY} {typed['outing']}/{typed['pull']}.", ())
        return
    st.session_state[STORED] = True
    done(f"Stored: {name}.", moves)


def _what_of_the_known(error: KnownPull) -> str:
    number = f"{NOTHING_STORED} Give this one another number"
    if not data.may_change():
        return f"{number}; what stands there is corrected on the machine that has the store."
    other = "put it back under Taken out" if error.is_removed else "correct that one on Pulls"
    return f"{number}, or {other}."


def _key(field: str) -> str:
    return f"add {field}"


def _rig_cells(campaign: Campaign) -> dict[str, str]:
    outings = [one.name for one in campaign.outings][::-1]
    with st.container(horizontal=True, gap="small"):
        cells = {
            "outing": _choose("outing", outings, width=180),
            "pull": _write("pull", width=140),
            "anchor": _choose("anchor", [one.code for one in campaign.anchors], width=140),
            "seabed": _choose("seabed", [one.name for one in campaign.seabeds], width=180),
        }
        for treatment in campaign.treatments:
            cells[treatment.name] = st.selectbox(
                as_text(_treatment_label(treatment.name)),
                treatment.levels,
                key=f"add treatment {treatment.name}",
                width=180,
            )
        cells["scope"] = _write("scope", placeholder=f"usual {campaign.usual_scope:g}", width=120)
    return {heading: text or "" for heading, text in cells.items()}


def _course_cells(campaign: Campaign) -> dict[str, str]:
    """What is typed of how it went: a step, kN, and a peak under its heading are both there."""
    steps = sorted({step for ladder in campaign.ladders for step in ladder.loads_kn})
    with st.container(horizontal=True, gap="small"):
        ending = st.selectbox(
            LABELS["ending"],
            ENDINGS,
            index=None,
            key=_key("ending"),
            placeholder="choose",
            width=200,
        )
        step = st.selectbox(
            LABELS["step"],
            steps,
            index=None,
            format_func=lambda kn: load(kn, campaign),
            placeholder="none",
            key=_key("step"),
            width=140,
        )
        peak = st.text_input(_peak_label(campaign), key=_key("peak"), width=140)
        mode = _choose("mode", list(MODES), width=160)
        return {
            "ending": ending or "",
            "step": "" if step is None else f"{step!r}",
            _peak_heading(campaign): peak.strip(),
            "mode": MODES[mode],
            "reason": _write("reason", width=220),
            "notes": _write("notes", width=220),
        }


def _choose(field: str, options: list[str], *, width: int) -> str:
    return st.selectbox(LABELS[field], options, key=_key(field), width=width)


def _write(field: str, *, width: int, placeholder: str | None = None) -> str:
    return st.text_input(LABELS[field], key=_key(field), placeholder=placeholder, width=width)


def _treatment_label(name: str) -> str:
    return f"{name[:1].upper()}{name[1:]}"


def _peak_heading(campaign: Campaign) -> str:
    return f"load_{campaign.load_unit}"


def _peak_label(campaign: Campaign) -> str:
    return f"Or a peak, {load_symbol(campaign)}"


def _labels(typed: dict[str, str], campaign: Campaign) -> dict[str, str]:
    """Labels of fields by the headings of a log, whose loads are here a step or a peak."""
    peak = _peak_heading(campaign)
    loads = dict.fromkeys(
        ("load", "load_kn", peak, "last_held", "reading", "resolution"),
        _peak_label(campaign) if typed[peak] else LABELS["step"],
    )
    names = [treatment.name for treatment in campaign.treatments]
    return {**LABELS, **loads, **{name: _treatment_label(name) for name in names}}


def _row(typed: dict[str, str], campaign: Campaign) -> dict[str, str]:
    """The row of a log that says what was typed; what does not go together its reader refuses.

    Raises
    ------
    InputError
        If a step and a peak are given, or a number may be a thousand times as much.
    """
    heading, step = _peak_heading(campaign), typed["step"]
    scope = _with_point(LABELS["scope"], typed["scope"])
    peak = _with_point(_peak_label(campaign), typed[heading])
    if step and peak:
        hint = f"{NOTHING_STORED} Empty one of the two."
        raise InputError("a step and a peak: give one", hint=hint)
    read = {heading: peak, "reading": "peak"} if peak else {"load_kn": step}
    others = {name: text for name, text in typed.items() if name not in {"step", heading}}
    return {**others, "scope": scope, **read}


def _with_point(label: str, text: str) -> str:
    """A number with a decimal point, where a comma stands in its place.

    Raises
    ------
    InputError
        If the comma may as well stand between thousands.
    """
    if text.count(",") != 1 or "." in text:
        return text
    if _THOUSAND.search(text):
        raise InputError(
            f"{label}: {shown(text)} may be a thousand times as much",
            hint=f"{NOTHING_STORED} Write it without the comma, or with a point in its place.",
        )
    return text.replace(",", ".")
