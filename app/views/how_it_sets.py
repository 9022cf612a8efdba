"""How it sets: each anchor's setting modes per seabed and set-up, and each pull's own."""

from collections.abc import Sequence
from typing import Final

import streamlit as st

from app import data
from app.parts.setting import show_bites, show_setting
from app.style.cards import card, show_not_yet
from app.style.numbers import interval_name
from model.questions.bite_modes import BiteModes
from model.questions.mode_sentences import TOGETHER, has_untried_together
from model.questions.setting_modes import Place
from model.service.modes import Modes

EVERY_ANCHOR: Final = "every anchor"
EVERY_SEABED: Final = "every seabed"
UNTRIED: Final = "untried"
"""Key of the switch for set-ups never pulled."""
ABOUT: Final = (
    "An anchor sets deep and **upright**, or shallow and **on its side**, where it holds less. "
    "Upright: of pulls that set. Sets: of all pulls. Re-sets: of pulls that let go, those that dig "
    "in again and stand the thrust that is on; how often it digs in at all then, told for each "
    "anchor alone, is in the table behind the picture. On fresh ground, an average day, at any "
    "scope."
)
BARS: Final = "In brackets, and the bars: {interval}. Where little is known the bar is wide."
HOLLOW: Final = "Hollow and grey: never pulled, predicted from other set-ups."


def _choose(label: str, every: str, names: Sequence[str]) -> str | None:
    chosen = st.selectbox(label, [every, *names], key=label, width=220)
    return None if chosen == every else chosen


def _choose_places(found: Modes) -> list[tuple[str, str]]:
    """Anchor and seabed of each card, in the campaign's order."""
    every = list(dict.fromkeys((one.place.anchor, one.place.seabed) for one in found.set_ups))
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        anchor = _choose("Anchor", EVERY_ANCHOR, list(dict.fromkeys(one for one, _ in every)))
        seabed = _choose("Seabed", EVERY_SEABED, list(dict.fromkeys(one for _, one in every)))
    return [where for where in every if anchor in {None, where[0]} and seabed in {None, where[1]}]


def _is_at(place: Place, where: tuple[str, str]) -> bool:
    return (place.anchor, place.seabed) == where


def _show_at_odds(bites: Sequence[BiteModes]) -> None:
    with card():
        st.markdown("## Look again", anchors=False)
        st.markdown(
            "Noted one way and likelier to have been the other: a slip in the log, a picture "
            "misread, or a pull that truly is odd."
        )
        show_bites(bites)


def _show_found(found: Modes, places: Sequence[tuple[str, str]]) -> None:
    shown = [one for one in found.bites if any(_is_at(one.place, where) for where in places)]
    odd = [one for one in shown if one.is_at_odds]
    if odd:
        _show_at_odds(odd)
    for where in places:
        with card():
            show_setting(
                [one for one in found.set_ups if _is_at(one.place, where)],
                [one for one in shown if _is_at(one.place, where)],
                found.campaign,
            )


def _find() -> tuple[Modes, list[tuple[str, str]]] | None:
    """What is known, and which of it to show; None where the page has said why there is none."""
    with card():
        with st.spinner("Working it out from the stored draws"):
            found = data.modes(has_untried=bool(st.session_state.get(UNTRIED)))
        if isinstance(found, Modes):
            st.markdown(ABOUT)
            if found.set_ups:
                interval = interval_name(found.set_ups[0].p_upright.interval)
                st.caption(BARS.format(interval=interval))
            places = _choose_places(found)
            st.toggle("Predict set-ups never pulled, too", key=UNTRIED)
            if any(one.is_predicted for one in found.set_ups):
                together = has_untried_together(found.set_ups, found.campaign)
                st.caption(f"{HOLLOW} {TOGETHER}" if together else HOLLOW)
            return found, places
        show_not_yet(found)
    return None


def _show() -> None:
    st.title("How it sets", anchor=False)
    found = _find()
    if found is not None:
        _show_found(*found)


_show()
