"""What a button works out, kept for as long as nothing it rests on has changed."""

from collections.abc import Callable, Hashable
from typing import Final

import streamlit as st

from app import data

OUTDATED: Final = "It was worked out for other choices, or before the newest pulls: press again."


def kept_result[Found](
    label: str, choices: Hashable, work: Callable[[], Found], *, spinner: str
) -> Found | None:
    """Show a button, and give what it worked out; None where it is still to be pressed.

    Parameters
    ----------
    label : str
        The button's, and the key under which the session keeps the result.
    choices : hashable
        What the result rests on besides the store's news.
    """
    key, seen = f"kept {label}", (data.news(), choices)
    if st.button(label, key=label):
        with st.spinner(spinner):
            st.session_state[key] = (seen, work())
    kept = st.session_state.get(key)
    if kept is None:
        return None
    rests_on, found = kept
    if rests_on != seen:
        st.caption(OUTDATED)
        return None
    result: Found = found
    return result
