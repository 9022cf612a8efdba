"""An answer in words: finding, probability, effect, pulls, evidence."""

from typing import Final

import streamlit as st

from app.chances import likelier
from app.own_pulls import own_pulls_size, own_pulls_source
from app.style.numbers import (
    SPACE,
    counted,
    effect,
    effect_chance,
    effect_range,
    effect_size,
    percent,
)
from app.style.text import as_prose, as_text
from app.style.words import FINDING_SYMBOLS, FINDING_WORDS, TOGETHER_WORDS
from model.base.likelihood_words import likelihood_words
from model.questions.answer import Answer
from model.records.answer import AnswerSummary, Finding, SidePulls

BADGE_COLORS: Final = {
    Finding.HIGHER: "blue",
    Finding.LOWER: "orange",
    Finding.NO_PRACTICAL_DIFFERENCE: "violet",
    Finding.NOT_SETTLED: "gray",
}


QUICK_BADGE: Final = ":green-badge[:material/bolt: quick]"
"""Beside an answer that has weighed in pulls which came after the fit."""


def finding_badge(finding: Finding) -> str:
    """The finding as a badge in Markdown: symbol and words, the colour comes on top."""
    return f":{BADGE_COLORS[finding]}-badge[{FINDING_SYMBOLS[finding]} {FINDING_WORDS[finding]}]"


def badges(summary: AnswerSummary) -> str:
    """The finding, and beside it whether the answer is a quick one."""
    found = finding_badge(summary.finding)
    return found if summary.posterior.state == "full" else f"{found}{SPACE}{QUICK_BADGE}"


def probability_words(summary: AnswerSummary) -> str:
    """How probable the likelier of higher and lower is, in words and as a number."""
    way, chance = likelier(summary.p_higher)
    return f"A is {likelihood_words(chance)} to be {way} ({percent(chance)})"


def pulls_words(side: SidePulls) -> str:
    """How many pulls one side has, how many held to the end, how many void."""
    void = f", {side.void} void" if side.void else ""
    return f"{counted(side.count, 'pull')}, {side.held} held to the end{void}"


def show_effect_words(summary: AnswerSummary) -> None:
    """Size of the difference with its interval, and where it lies against the band."""
    limits = summary.question.band
    band = effect_range(limits.lower, limits.upper, limits.kind)
    st.markdown(
        f"- A against B: {effect(summary.effect)}\n"
        f"- no practical difference is {band}: {percent(summary.p_above_band)} above, "
        f"{percent(summary.p_inside_band)} inside, "
        f"{percent(summary.p_below_band)} below"
    )


def show_sides(answer: Answer) -> None:
    """Both sides with their pulls; the letters are those of the pictures."""
    pulls = answer.summary.pulls
    st.markdown(
        f":blue[**A**]{SPACE}{as_text(answer.a.label)} · {pulls_words(pulls.a)}  \n"
        f":orange[**B**]{SPACE}{as_text(answer.b.label)} · {pulls_words(pulls.b)}  \n"
        f"on {counted(pulls.shared_outings, 'shared day')}"
    )


def show_alone(answer: Answer) -> None:
    """What the two set-ups' own pulls say, so that a reader sees what the others add."""
    if answer.alone is not None:
        source = own_pulls_source(answer)
        st.markdown(f"{source[0].upper()}{source[1:]}: {own_pulls_size(answer)}.")
    elif answer.not_alone:
        st.markdown(f"Nothing by own pulls alone: {answer.not_alone}.")


def show_together(answer: Answer) -> None:
    """An interaction's own share, where the campaign names one in which the sides differ."""
    if answer.together is None:
        return
    chance = effect_chance(answer.together.p_higher, answer.together.effect.interval)
    st.markdown(
        f"{TOGETHER_WORDS.capitalize()}: {effect_size(answer.together.effect)}, above none "
        f"{chance} ({as_text(', '.join(answer.together.names))})."
    )


def flags_list(summary: AnswerSummary) -> str:
    """Every flag as a line of a Markdown list; empty for none."""
    return "\n".join(f"- {as_prose(flag.text)}" for flag in summary.flags)


def show_flags(summary: AnswerSummary) -> None:
    """What a reader must know before leaning on the answer."""
    st.markdown(flags_list(summary) or "No flags.")
