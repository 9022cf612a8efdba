"""The web app: head, menu, one view, cautions at the foot.

Started by ``kedgewise serve``, or ``streamlit run app/main.py``.
"""

from pathlib import Path
from typing import Final

import streamlit as st

from app import data
from app.pages import VIEWS
from app.parts.cautions import show_cautions
from app.parts.header import show_header
from app.style.cards import guarded

ICON: Final = Path(__file__).parent / "style" / "kedge.png"
"""A file of ours: an icon by name would make the browser ask a font host for it."""

PAGE_WIDTH: Final = 1120
"""Pixels; wider than this a line of text is hard to follow. A phone takes what it has."""


def _show() -> None:
    st.set_page_config(page_title="kedgewise", page_icon=str(ICON), layout="wide")
    page = st.navigation(
        [
            st.Page(
                view.path,
                title=view.title,
                url_path=view.name,
                default=view is VIEWS[0],
            )
            for view in VIEWS
        ],
        position="top",
    )
    with (
        st.container(horizontal=True, horizontal_alignment="center"),
        st.container(width=PAGE_WIDTH),
    ):
        with guarded():
            show_header(data.overview())
            with guarded():
                page.run()
        show_cautions()


_show()
