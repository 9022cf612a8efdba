"""How one anchor sets on one seabed: in words, as a picture with its table, pull by pull."""

from collections.abc import Sequence
from typing import Final

import pandas as pd
import streamlit as st

from app.figures.setting import setting_figure
from app.parts.pictures import show_figure, show_table_behind
from app.style.cards import guarded
from app.style.numbers import counted, estimate, percent, percent_figure, percent_if_known
from app.style.text import as_prose, as_text
from model.questions.bite_modes import BiteModes
from model.questions.mode_sentences import (
    WAYS_TO_END,
    bite_words,
    climb_words,
    courses_words,
    rig_words,
    variation_words,
)
from model.questions.setting_modes import SeenCounts, SetUpModes
from model.records.campaign import Campaign

PARTS_WORDS: Final = (
    "The set-up's part is what all pulls say of such a set-up on such a day, this pull among them. "
    "The load's part is how much likelier one mode makes the loads at which it held and let go."
)
COURSES: Final = (
    "One pull of each set-up {climb}, on any day, played through under every draw: "
    "it may never set; each time it lets go it may dig in again, and is seen to only if the new "
    "bite stands the thrust that is on. {ways}"
)
NO_BITE: Final = "No pull of it has set yet, so there is no bite to tell of."


def counts_words(pulls: SeenCounts) -> str:
    """As ``4 pulls: 3 upright, 1 on its side``; what did not happen is left out."""
    if pulls.count == 0:
        return "never pulled"
    kinds = {
        "upright": pulls.upright,
        "on its side": pulls.on_side,
        "not seen": pulls.not_seen,
        "never set": pulls.never_set,
    }
    parts = [f"{count} {words}" for words, count in kinds.items() if count]
    if len(parts) == 1:
        words = parts[0].partition(" ")[2]
        return f"{counted(pulls.count, 'pull')}, {'' if pulls.count == 1 else 'each '}{words}"
    return f"{counted(pulls.count, 'pull')}: {', '.join(parts)}"


def _p_resets(one: SetUpModes) -> float | None:
    return None if one.whole is None else one.whole.p_resets


def _set_up_line(one: SetUpModes, campaign: Campaign) -> str:
    chances = (
        f"{estimate(one.p_upright, campaign)} upright; sets {percent(one.p_sets.median)}, "
        f"re-sets {percent_if_known(_p_resets(one))}"
    )
    counts = "" if one.is_predicted else counts_words(one.pulls)
    said = [
        f"{part.removesuffix('.')}." for part in (chances, counts, variation_words(one)) if part
    ]
    return f"- **{as_text(rig_words(campaign, one.place))}**: {as_prose(' '.join(said))}"


def next_pull_table(set_ups: Sequence[SetUpModes], campaign: Campaign) -> pd.DataFrame:
    """How the next pull of each set-up would go, per cent; narrow enough for a phone."""
    told = [(rig_words(campaign, one.place), one.whole) for one in set_ups if one.whole is not None]
    chances = {
        "slips, %": [whole.p_slips for _, whole in told],
        "holds, %": [whole.p_holds for _, whole in told],
        "lets go, %": [whole.p_gone for _, whole in told],
        "never sets, %": [whole.p_never_sets for _, whole in told],
    }
    figures = {name: [percent_figure(one) for one in column] for name, column in chances.items()}
    # A cell of such a table is Markdown.
    return pd.DataFrame({"set-up": [as_text(rig) for rig, _ in told], **figures})


def _show_next_pulls(set_ups: Sequence[SetUpModes], campaign: Campaign, name: str) -> None:
    told = [(rig_words(campaign, one.place), one.whole) for one in set_ups if one.whole is not None]
    if not told:
        return
    with st.expander(as_text(f"The next pull of {name}, as it would go")):
        st.table(next_pull_table(set_ups, campaign), hide_index=True, border="horizontal",
                 alt="How the next pull of each set-up would end")  # fmt: skip
        st.markdown("Likeliest courses:")
        st.markdown(
            "\n".join(
                f"- **{as_text(rig)}**: {as_prose(courses_words(whole, campaign))}"
                for rig, whole in told
            )
        )
        st.caption(as_text(COURSES.format(climb=climb_words(told[0][1]), ways=WAYS_TO_END)))


def setting_table(set_ups: Sequence[SetUpModes], campaign: Campaign) -> pd.DataFrame:
    """The table behind the picture: chances and loads with their intervals, and the counts."""
    return pd.DataFrame(
        {
            "set-up": [rig_words(campaign, one.place) for one in set_ups],
            "upright once set": [estimate(one.p_upright, campaign) for one in set_ups],
            "sets": [estimate(one.p_sets, campaign) for one in set_ups],
            "re-sets": [percent_if_known(_p_resets(one)) for one in set_ups],
            "digs in again": [estimate(one.p_resets, campaign) for one in set_ups],
            "load upright": [estimate(one.load_upright, campaign) for one in set_ups],
            "load on its side": [estimate(one.load_on_side, campaign) for one in set_ups],
            "pulls": [one.pulls.count for one in set_ups],
            "seen upright": [one.pulls.upright for one in set_ups],
            "on its side": [one.pulls.on_side for one in set_ups],
            "not seen": [one.pulls.not_seen for one in set_ups],
            "never set": [one.pulls.never_set for one in set_ups],
        }
    )


def show_setting(
    set_ups: Sequence[SetUpModes], bites: Sequence[BiteModes], campaign: Campaign
) -> None:
    """One anchor on one seabed: every set-up of it, and each of its bites.

    Parameters
    ----------
    set_ups : sequence of SetUpModes
        At least one, all of the same anchor and seabed.
    """
    place = set_ups[0].place
    name = f"{place.anchor} on {place.seabed}"
    st.markdown(f"## {as_text(name)}", anchors=False)
    words, picture = st.columns([1, 1], gap="medium")
    with words:
        st.markdown("\n".join(_set_up_line(one, campaign) for one in set_ups))
    with picture, guarded():
        show_figure(setting_figure(set_ups, campaign), key=f"setting {name}")
    _show_next_pulls(set_ups, campaign, name)
    label = as_text(f"Table: every set-up of {name}")
    show_table_behind(setting_table(set_ups, campaign), label)
    if any(not one.is_predicted for one in set_ups):
        with st.expander(as_text(f"Each pull of {name}, and what moved it")):
            show_bites(bites)


def show_bites(bites: Sequence[BiteModes]) -> None:
    """Each bite's own chance of having been upright, in words."""
    if not bites:
        st.markdown(NO_BITE)
        return
    st.markdown("\n".join(f"- {as_prose(bite_words(one))}" for one in bites))
    st.caption(PARTS_WORDS)
