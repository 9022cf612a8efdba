"""The name of the browser's tab, by which a person finds a page again among others."""

from typing import Final

import streamlit as st

from app.style.text import on_one_line

PROGRAM: Final = "kedgewise"


def name_tab(words: str) -> None:
    """Name the tab after what the page shows; plain text, so a user's words are safe in it."""
    st.set_page_config(page_title=f"{on_one_line(words)} – {PROGRAM}")
