"""The web app: head, menu, one view, cautions at the foot.

Started by ``kedgewise serve``, or ``streamlit run app/main.py``.
"""

import streamlit as st

from app import data
from app.pages import ICON, PAGE_WIDTH, VIEWS
from app.parts.cautions import show_cautions
from app.parts.header import show_header
from app.style.cards import guarded


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
