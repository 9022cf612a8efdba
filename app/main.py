"""The web app: menu, head, one view, cautions at the foot.

Started by ``kedgewise serve``, or ``streamlit run app/main.py``.
"""

import streamlit as st

from app import data
from app.pages import ICON, PAGE_WIDTH, VIEWS
from app.parts.cautions import show_cautions
from app.parts.header import show_header
from app.parts.menu import is_nowhere, show_menu, show_nowhere
from app.parts.tab import name_tab
from app.style.cards import guarded
from app.style.sheet import SHEET


def _show() -> None:
    st.set_page_config(page_icon=str(ICON), layout="wide")
    st.html(f"<style>{SHEET}</style>")  # words of ours alone: nothing typed by a user
    pages = [
        st.Page(view.path, title=view.title, url_path=view.name, default=view is VIEWS[0])
        for view in VIEWS
    ]
    page = st.navigation(pages, position="hidden")
    name_tab(page.title)
    with (
        st.container(horizontal=True, horizontal_alignment="center"),
        st.container(width=PAGE_WIDTH),
    ):
        show_menu(pages)
        if is_nowhere(st.context.url, [view.name for view in VIEWS]):
            show_nowhere(page)
        with guarded():
            show_header(data.overview())
            with guarded():
                page.run()
        show_cautions()


_show()
