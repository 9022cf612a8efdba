"""Checks on a page: each in words with what to do, its picture, and its table behind it."""

from collections.abc import Sequence
from typing import Final, Literal

import pandas as pd
import streamlit as st

from app.checks_words import STATUS_WORDS
from app.figures.places import places_figure
from app.figures.shares import shares_figure
from app.parts.pictures import show_figure, show_table_behind
from app.style.cards import guarded
from app.style.numbers import effect_figure, percent, percent_if_known
from app.style.text import as_hint, as_prose, as_text
from model.checks.check import Check, Status
from model.checks.doubled_prior import Doubled
from model.checks.influence import Influence, Influences
from model.checks.power_scaling import Sensitivity
from model.checks.prior_ranges import PriorRanges
from model.checks.shares import ShareRow, Shares
from model.checks.uniformity import Uniformity
from model.posterior.posterior import FitCheck
from model.service.checks import Checked

COLOURS: Final[dict[Status, Literal["blue", "orange", "red", "gray"]]] = {
    Status.PASSED: "blue",
    Status.LOOK: "orange",
    Status.FAILED: "red",
    Status.NOT_CHECKED: "gray",
}
"""Of a badge whose word says the same."""
MOST_PULLS: Final = 5
"""Pulls that are told in words; the table behind has more."""
STATE_WORDS: Final = {
    "weighed": "from the draws",
    "refitted": "by a fit without it",
    "failed": "the fit without it failed",
    "unknown": "the draws cannot tell",
}
SHARES_WORDS: Final = (
    "Bars: predicted, {prob:.0f} % equal-tailed interval, with the doubt about this campaign and "
    "the luck of so many pulls in it. Diamonds: recorded. Of first bites; pulls that the crew "
    "stopped, or off any ladder, are left out. With so many bars some marks lie outside by chance: "
    "a triangle is one that stands out, tested at a level of 1 in 20 over all of them together."
)
PLACES_WORDS: Final = (
    "Each bar: what share of the loads that the other pulls expect lies below those of this one. "
    "Under a right model the bars follow the dashed line. Steep in the middle: the model is too "
    "sure. Flat there: it is not sure enough."
)
SENSITIVE_WORDS: Final = (
    "How far an answer moves as the priors, and as the pulls, count a little more or less; below "
    "the noise beside it nothing is told. A chance moves: with all priors {weaker}. Likeliest, and "
    "the size of the effect: with its own prior, and with that one twice as wide."
)


def heading_of(check: Check) -> str:
    """The question that a check answers, as a heading."""
    return f"{check.title[0].upper()}{check.title[1:]}?"


def show_status(status: Status) -> None:
    """The status as a badge."""
    st.badge(STATUS_WORDS[status], color=COLOURS[status])


def show_check(check: Check) -> None:
    """Heading with its status, then what was found and what to do."""
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.markdown(f"## {heading_of(check)}", anchors=False, width="content")
        show_status(check.status)
    st.markdown(as_prose(check.reason))
    if check.remedy:
        st.markdown(f"**What to do:** {as_hint(check.remedy)}")


def show_fit(check: Check, found: FitCheck) -> None:
    """The fit check, with its numbers."""
    show_check(check)
    show_table_behind(
        pd.DataFrame(
            {
                "what": ["divergent draws", "R-hat, at most", "BFMI, at least",
                         "effective draws, at least", "effective draws in a tail, at least"],
                "found": [str(found.divergences), f"{found.rhat_max:.4f}", f"{found.bfmi_min:.2f}",
                          f"{found.ess_bulk_min:.0f}", f"{found.ess_tail_min:.0f}"],
                "needed": ["none", "1.01", "0.30", "400", "400"],
            }
        ),
        "Table: the fit check's numbers",
    )  # fmt: skip


def shares_table(rows: Sequence[ShareRow]) -> pd.DataFrame:
    """Recorded and predicted counts."""
    return pd.DataFrame(
        {
            "anchor": [row.anchor for row in rows],
            "ending": [row.ending for row in rows],
            "pulls": [row.pulls for row in rows],
            "recorded": [row.recorded for row in rows],
            "predicted": [f"{row.expected:.1f}" for row in rows],
            "interval": [f"{row.lower} to {row.upper}" for row in rows],
            "stands out": ["yes" if row.stands_out else "" for row in rows],
        }
    )


def show_shares(found: Shares) -> None:
    """Predicted against recorded, one anchor at a time."""
    show_check(found.check)
    rows = [row for row in found.rows if row.pulls]
    if rows:
        anchors = list(dict.fromkeys(row.anchor for row in rows))
        odd = [row.anchor for row in rows if row.stands_out]
        anchor = st.selectbox(
            "Anchor", anchors, index=anchors.index(odd[0]) if odd else 0, key="shares of",
            width=220,
        )  # fmt: skip
        with guarded():
            show_figure(shares_figure([row for row in rows if row.anchor == anchor]), key="shares")
        st.caption(as_prose(SHARES_WORDS.format(prob=100 * found.interval_prob)))
    show_table_behind(shares_table(found.rows), "Table: every count of every anchor")


def show_places(found: Uniformity) -> None:
    """Where each pull fell in what the others expect, the strangest in words."""
    show_check(found.check)
    if not found.rows:
        return
    words, picture = st.columns([1, 1], gap="medium")
    with words:
        st.markdown("The strangest pulls, by what the others say:")
        st.markdown(
            "\n".join(
                f"- {as_prose(_strange_words(row.pull_words, row.chance, row.upper))}"
                for row in found.rows[:MOST_PULLS]
            )
        )
        st.caption(f"Of {len(found.rows)} pulls the strangest is often one in {len(found.rows)}.")
    with picture, guarded():
        show_figure(places_figure(found.rows), key="places")
        st.caption(PLACES_WORDS)
    show_table_behind(
        pd.DataFrame(
            {
                "pull": [row.pull_words for row in found.rows],
                "below": [percent(row.lower) for row in found.rows],
                "up to": [percent(row.upper) for row in found.rows],
                "as far out": [percent(row.chance) for row in found.rows],
            }
        ),
        "Table: where every pull fell",
    )


def _strange_words(words: str, chance: float, upper: float) -> str:
    way = "low" if upper < 0.5 else "high"
    rare = "under one in 1000" if chance < 0.001 else f"one in {max(round(1 / chance), 1)}"
    return f"{words[0].upper()}{words[1:]}: {rare} is as far out, on the {way} side."


def show_influences(found: Influences, checked: Checked) -> None:
    """One question at a time: which pulls it leans on most, in words."""
    show_check(found.check)
    names = list(dict.fromkeys(row.question for row in found.rows))
    if not names:
        return
    odd = [row.question for row in found.rows if row.hangs]
    place = names.index(odd[0]) if odd else 0  # what the verdict points at is seen first
    name = st.selectbox("Question", names, index=place, key="influences of", width=320)
    rows = [row for row in found.rows if row.question == name]
    first = rows[0]
    st.markdown(
        as_prose(
            f"The chance that {found.claims[name]}: {percent(first.p_with)} with all pulls. Without"
        )
    )
    st.markdown("\n".join(f"- {as_prose(_without(row))}" for row in rows[:MOST_PULLS]))
    st.caption(
        as_prose(
            f"Worked out from the draws of {checked.posterior.pulls} pulls, each left out in turn "
            "with all its bites. Shift: how far the mean of the effect moves, in its own "
            "standard deviations."
        )
    )
    show_table_behind(influence_table(found.rows), "Table: the pulls that move each answer most")


def _without(row: Influence) -> str:
    if row.state in {"weighed", "refitted"}:
        lost = "; it would not be settled" if row.loses_finding else ""
        return (
            f"{row.pull_words}: {percent(row.p_without)}, a shift of {row.shift:+.2f} sd"
            f" ({STATE_WORDS[row.state]}){lost}."
        )
    return f"{row.pull_words}: not known, {STATE_WORDS[row.state]}."


def influence_table(rows: Sequence[Influence]) -> pd.DataFrame:
    """Every answer without the pulls that move it most."""
    is_known = [row.state in {"weighed", "refitted"} for row in rows]
    return pd.DataFrame(
        {
            "question": [row.question for row in rows],
            "pull": [row.pull_words for row in rows],
            "A higher": [percent(row.p_with) for row in rows],
            "without it": [
                percent_if_known(row.p_without if known else None)
                for row, known in zip(rows, is_known, strict=True)
            ],
            "shift, sd": [
                f"{row.shift:+.2f}" if known else "–"
                for row, known in zip(rows, is_known, strict=True)
            ],
            "Pareto k": ["–" if row.pareto_k is None else f"{row.pareto_k:.2f}" for row in rows],
            "how": [STATE_WORDS[row.state] for row in rows],
        }
    )


def show_priors(found: PriorRanges) -> None:
    """What the priors expect."""
    show_check(found.check)
    ranges = found.ranges
    st.table(
        pd.DataFrame(
            {
                "anchor": [as_text(one.anchor) for one in ranges],
                "lets go at, × its weight": [f"{one.weights:.0f}" for one in ranges],
                "from": [f"{one.weights_lower:.2g}" for one in ranges],
                "to": [f"{one.weights_upper:.3g}" for one in ranges],
            }
        ),
        hide_index=True,
        border="horizontal",
        alt="Loads at the first release that the priors expect of each anchor",
    )
    st.caption(
        as_prose(
            f"Before any pull: median and {100 * found.interval_prob:.0f} % equal-tailed interval."
        )
    )
    show_table_behind(shares_table(found.rows), "Table: endings that the priors expect")


def show_sensitivity(checked: Checked) -> None:
    """How far the answers lean on the priors."""
    found = checked.found
    show_check(found.sensitivities.check)
    show_check(found.doubled.check)
    weaker = found.sensitivities.weaker_words or "a little weaker or stronger"
    st.caption(SENSITIVE_WORDS.format(weaker=weaker))
    show_table_behind(sensitivity_table(checked), "Table: every answer under other priors")


def sensitivity_table(checked: Checked) -> pd.DataFrame:
    """Sensitivities and chances under other priors, by question."""
    found = checked.found
    pairs = list(zip(found.sensitivities.rows, found.doubled.rows, strict=True))
    return pd.DataFrame(
        {
            "question": [one.question for one, _ in pairs],
            "priors": [_over_noise(one, "prior") for one, _ in pairs],
            "pulls": [_over_noise(one, "likelihood") for one, _ in pairs],
            "a chance moves, points": [
                "–" if one.moved is None else f"{100 * one.moved:.0f}" for one, _ in pairs
            ],
            "A higher": [percent(two.p_higher) for _, two in pairs],
            "prior twice as wide": [percent_if_known(two.p_higher_doubled) for _, two in pairs],
            "likeliest": [two.likeliest for _, two in pairs],
            "its chance": [percent(two.p_likeliest) for _, two in pairs],
            "its chance, prior twice as wide": [
                percent_if_known(two.p_likeliest_doubled) for _, two in pairs
            ],
            "effect": [_size(two.effect, two) for _, two in pairs],
            "effect, prior twice as wide": [_size(two.effect_doubled, two) for _, two in pairs],
        }
    )


def _size(effect: float | None, row: Doubled) -> str:
    if effect is None:
        return "–"
    return effect_figure(effect, "ratio" if row.is_ratio else "difference")


def _over_noise(one: Sensitivity, which: str) -> str:
    value, noise = getattr(one, which), getattr(one, f"{which}_noise")
    return f"{value:.2f} (noise {noise:.2f})"
