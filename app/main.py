"""The web app: menu, head, one view, cautions at the foot.

Started by ``kedgewise serve``, or ``streamlit run app/main.py``.
"""

import streamlit as st

from app import data
from app.doors.rights import Rights, rights
from app.pages import DEVICE_VIEWS, ICON, PAGE_WIDTH, VIEWS
from app.parts.cautions import show_cautions
from app.parts.header import show_header
from app.parts.menu import is_nowhere, show_menu, show_not_paired, show_nowhere
from app.parts.tab import name_tab
from app.style.cards import guarded
from app.style.sheet import SHEET


def _show() -> None:
    st.set_page_config(page_icon=str(ICON), layout="wide")
    found = rights()
    if found is Rights.NOTHING:  # the gate lets in paired devices alone; one may be so no longer
        show_not_paired()
        return
    st.html(f"<style>{SHEET}</style>")  # words of ours alone: nothing typed by a user
    views = VIEWS if found is Rights.EVERYTHING else DEVICE_VIEWS
    pages = [
        st.Page(view.path, title=view.title, url_path=view.name, default=view is views[0])
        for view in views
    ]
    page = st.navigation(pages, position="hidden")
    name_tab(page.title)
    with (
        st.container(horizontal=True, horizontal_alignment="center"),
        st.container(width=PAGE_WIDTH),
    ):
        show_menu(pages)
        if is_nowhere(st.context.url, [view.name for view in views]):
            show_nowhere(page)
        with guarded():
            show_header(data.overview())
            with guarded():
                page.run()
        show_cautions()


_show()
