"""The menu over every page, and what stands in its place where there is no page to show."""

from collections.abc import Sequence
from urllib.parse import urlsplit

import streamlit as st


def show_menu(pages: Sequence[st.Page]) -> None:
    """A link to each page, in sight on a phone too: Streamlit's own menu folds away there."""
    with st.container(horizontal=True, gap="xsmall"):
        for page in pages:
            st.page_link(page, width="content")


def is_nowhere(url: str | None, names: Sequence[str]) -> bool:
    """Whether an address names a page that does not exist: Streamlit then opens the first one.

    Parameters
    ----------
    url : str or None
        As the browser has it; None where it is not known.
    names : sequence of str
        Addresses of the pages below the root, the root itself apart.
    """
    last = urlsplit(url or "").path.rstrip("/").rpartition("/")[2]
    base = str(st.get_option("server.baseUrlPath")).strip("/").rpartition("/")[2]
    return last not in {"", base, *names}


def show_nowhere(page: st.Page) -> None:
    """Say that this is not the page that was asked for."""
    st.warning(
        f"There is no page at this address. This is {page.title}.", icon=":material/wrong_location:"
    )


def show_not_paired() -> None:
    """Say that this device is not paired any more; nothing of the store stands beside it."""
    st.title("Not paired", anchor=False)
    st.markdown("This device is not paired any more. Load the page anew to type a code.")
