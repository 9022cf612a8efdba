"""An answer in words: finding, probability, effect, pulls, evidence."""

from typing import Final, Literal

import streamlit as st

from app.style.numbers import counted, effect, effect_range, percent
from app.style.text import as_text
from app.style.words import FINDING_SYMBOLS, FINDING_WORDS
from model.base.likelihood_words import likelihood_words
from model.questions.answer import Answer
from model.records.answer import AnswerSummary, Finding, SidePulls

BadgeColor = Literal["blue", "orange", "violet", "gray"]
BADGE_COLORS: Final[dict[Finding, BadgeColor]] = {
    Finding.HIGHER: "blue",
    Finding.LOWER: "orange",
    Finding.NO_PRACTICAL_DIFFERENCE: "violet",
    Finding.NOT_SETTLED: "gray",
}


def show_finding(finding: Finding) -> None:
    """The finding as a badge: symbol and words, the colour comes on top."""
    st.badge(f"{FINDING_SYMBOLS[finding]} {FINDING_WORDS[finding]}", color=BADGE_COLORS[finding])


def probability_words(summary: AnswerSummary) -> str:
    """How probable it is that A is higher, in words and as a number."""
    word = likelihood_words(summary.p_higher)
    return f"A is {word} to be higher ({percent(summary.p_higher)})"


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
        f":blue[**A**] {as_text(answer.a.label)} · {pulls_words(pulls.a)}  \n"
        f":orange[**B**] {as_text(answer.b.label)} · {pulls_words(pulls.b)}  \n"
        f"on {counted(pulls.shared_outings, 'shared day')}"
    )


def show_flags(summary: AnswerSummary) -> None:
    """What a reader must know before leaning on the answer."""
    if not summary.flags:
        st.markdown("No flags.")
        return
    st.markdown("\n".join(f"- {as_text(flag.text)}" for flag in summary.flags))
