"""A question as a sentence with choosers in it."""

from collections.abc import Mapping
from typing import Final

import streamlit as st
from pydantic import ValidationError

from app.links import ASKED_HERE, standing_or_itself
from app.style.numbers import load_symbol
from app.style.text import as_text
from app.style.words import MEASURE_WORDS
from model.base.constants import LEAST, MOST_LOAD_KN
from model.base.errors import InputError
from model.base.units import from_kn, to_kn
from model.records.campaign import ANY_ANCHOR, Campaign
from model.records.question import Measure, Question, SetUp
from model.records.treatment import Treatment

IN_GENERAL: Final = ANY_ANCHOR
OVER_WORDS: Final = {
    "campaign": "over this campaign's anchors",
    "next": "for the next anchor like these",
}
PIXELS_A_CHARACTER: Final = 8.5
PIXELS_AROUND: Final = 64
"""Padding and arrow of a chooser: with the two, a chooser is as wide as its longest option."""
WIDTHS: Final = (96, 300)
"""Narrowest and widest chooser, pixels: the widest still fits a phone 390 pixels wide."""
SCOPE_WIDTH: Final = 136
"""Of the box for a scope, with its two buttons, pixels."""


def _row() -> st.delta_generator.DeltaGenerator:
    return st.container(horizontal=True, vertical_alignment="center", gap="xsmall")


def _say(words: str) -> None:
    st.markdown(words, width="content")


def _width(options: list[str]) -> int:
    longest = max(len(option) for option in options)
    return int(min(max(PIXELS_AROUND + PIXELS_A_CHARACTER * longest, WIDTHS[0]), WIDTHS[1]))


def _choose(label: str, options: list[str], chosen: str, *, key: str, width: int = 0) -> str:
    index = options.index(chosen) if chosen in options else 0
    width = width or _width(options)
    return st.selectbox(
        label, options, index=index, key=key, width=width, label_visibility="collapsed"
    )


def _choose_measure(start: Question) -> Measure:
    measures = list(MEASURE_WORDS)
    words = [MEASURE_WORDS[measure] for measure in measures]
    chosen = _choose("Measure", words, MEASURE_WORDS[start.measure], key="measure")
    return measures[words.index(chosen)]


def _choose_hold(start: Question, campaign: Campaign) -> float:
    start_kn = start.hold_kn or max(boat.top_thrust_kn for boat in campaign.boats) / 2
    shown = float(f"{from_kn(start_kn, campaign.load_unit):.4g}")
    _say("of")
    own = st.number_input(
        f"Load to hold, {load_symbol(campaign)}",
        min_value=min(from_kn(LEAST, campaign.load_unit), shown),
        max_value=max(from_kn(MOST_LOAD_KN, campaign.load_unit), shown),
        value=shown,
        key="hold",
        width=140,
        label_visibility="collapsed",
    )
    _say(load_symbol(campaign))
    # Untouched, the load stays exact: rounded for show, it would be another question.
    return start_kn if own == shown else to_kn(own, campaign.load_unit)


def _choose_level(letter: str, treatment: Treatment, levels: Mapping[str, str]) -> str:
    shown = {level: f"{treatment.name}: {level}" for level in treatment.levels}
    chosen = _choose(
        f"{as_text(treatment.name)}, side {letter}",
        list(shown.values()),
        shown[levels.get(treatment.name, treatment.baseline)],
        key=f"{letter} level {treatment.name}",
    )
    return next(level for level, words in shown.items() if words == chosen)


def _choose_anchor(letter: str, start: SetUp, campaign: Campaign, *, general: bool | None) -> str:
    codes = [anchor.code for anchor in campaign.anchors]
    if general:
        _say(IN_GENERAL)
        return IN_GENERAL
    options = codes if general is False else [*codes, IN_GENERAL]
    return _choose(
        f"Anchor, side {letter}",
        options,
        start.anchor or (IN_GENERAL if general is None else codes[0]),
        key=f"{letter} anchor",
        width=_width([*codes, IN_GENERAL]),  # both sides alike, so that their rows line up
    )


def _choose_scope(letter: str, start: SetUp, campaign: Campaign) -> float | None:
    """The scope of one side; None for the campaign's usual one, which stands in the box too.

    An empty box with a grey number in it would look as if it could not be changed.
    """
    _say("at scope")
    scope: float | None = st.number_input(
        f"Scope, side {letter}",
        min_value=1.0,
        max_value=100.0,
        value=start.scope or campaign.usual_scope,
        step=0.5,
        format="%g",
        placeholder=f"usual {campaign.usual_scope:g}",
        key=f"{letter} scope",
        width=SCOPE_WIDTH,
        label_visibility="collapsed",
    )
    if scope == start.scope:  # as it was asked: the usual scope may be named on purpose
        return scope
    return None if scope == campaign.usual_scope else scope


def _choose_setup(letter: str, start: SetUp, campaign: Campaign, *, general: bool | None) -> SetUp:
    color = "blue" if letter == "A" else "orange"
    with _row():
        _say(f":{color}[**{letter}**]")
        anchor = _choose_anchor(letter, start, campaign, general=general)
        levels = {}
        for treatment in campaign.treatments:
            level = _choose_level(letter, treatment, start.levels)
            if level != treatment.baseline:
                levels[treatment.name] = level
        scope = _choose_scope(letter, start, campaign)
    return SetUp(anchor=None if anchor == IN_GENERAL else anchor, levels=levels, scope=scope)


def _choose_over(start: Question) -> str:
    words = list(OVER_WORDS.values())
    chosen = _choose("In general", words, OVER_WORDS[start.over], key="over")
    return next(over for over, said in OVER_WORDS.items() if said == chosen)


def choose_question(start: Question, campaign: Campaign) -> Question:
    """Show the sentence, starting from a question, and return the one that is chosen.

    Raises
    ------
    InputError
        If what is chosen is no question, as both sides the same.
    """
    parts: dict[str, object] = {"name": ASKED_HERE}
    with _row():
        _say("Compare the")
        measure = _choose_measure(start)
        if measure is Measure.HOLD:
            parts["hold_kn"] = _choose_hold(start, campaign)
        _say("of A with that of B")
    a = _choose_setup("A", start.a, campaign, general=None)
    b = _choose_setup("B", start.b, campaign, general=a.anchor is None)
    with _row():
        _say("both on")
        parts["seabeds"] = tuple(
            st.multiselect(
                "Seabeds",
                [seabed.name for seabed in campaign.seabeds],
                default=list(start.seabeds),
                placeholder="every seabed",
                key="seabeds",
                width=300,
                label_visibility="collapsed",
            )
        )
        if a.anchor is None:
            parts["over"] = _choose_over(start)
    try:
        question = Question.model_validate({**parts, "measure": measure, "a": a, "b": b})
    except ValidationError as error:
        reasons = [fault["msg"].removeprefix("Value error, ") for fault in error.errors()]
        raise InputError("; ".join(reasons), hint="Change one side of the sentence.") from error
    return standing_or_itself(question, campaign)
