"""Cards: a bordered part of a page that fails alone."""

import logging
from contextlib import AbstractContextManager
from types import TracebackType
from typing import Final

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from app.style.text import as_hint, as_text
from model.base.errors import KedgewiseError
from model.records.answer import NotYet

log = logging.getLogger(__name__)

UNFORESEEN: Final = "This part could not be shown."
UNFORESEEN_HINT: Final = (
    "The reason stands in the log of the program that serves this page. "
    "Everything else on the page holds."
)


class Guarded(AbstractContextManager[None, bool]):
    """Shows a failed card in place of what raised; the rest of the page goes on.

    A :class:`KedgewiseError` shows its message and hint. Anything else is a fault
    of the program: the page says so without detail, the log has the traceback.
    Streamlit's own signals (stop, rerun) pass through.

    Parameters
    ----------
    place : DeltaGenerator or None
        Container that what is inside goes to; None leaves it where it is.
    """

    def __init__(self, place: DeltaGenerator | None = None) -> None:
        self._place = place

    def __enter__(self) -> None:
        if self._place is not None:
            self._place.__enter__()

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> bool:
        try:
            return self._show(error)
        finally:
            if self._place is not None:
                self._place.__exit__(kind, error, traceback)

    def _show(self, error: BaseException | None) -> bool:
        if isinstance(error, KedgewiseError):
            # Not for the terminal: a slip in a form, on any device, would be a line in it.
            log.info("a card failed: %s", error.message)
            show_failed(error.message, error.hint)
            return True
        if isinstance(error, Exception):
            log.error("a card failed for a reason the program did not foresee", exc_info=error)
            show_failed(UNFORESEEN, UNFORESEEN_HINT)
            return True
        return False


def guarded() -> Guarded:
    """A part of a page that fails alone, without a border; see :class:`Guarded`."""
    return Guarded()


def card(*, is_tall: bool = False) -> Guarded:
    """A bordered part of a page that fails alone; see :class:`Guarded`.

    Parameters
    ----------
    is_tall : bool
        As tall as the tallest beside it, for cards that stand in one row.
    """
    return Guarded(st.container(border=True, height="stretch" if is_tall else "content"))


def show_failed(message: str, hint: str) -> None:
    """Say what failed and what to do about it."""
    lines = [as_text(line) for line in message.splitlines() if line.strip()]
    st.error(
        "  \n".join([f"**Failed:** {lines[0] if lines else ''}", *lines[1:]]),
        icon=":material/error:",
    )
    if hint:
        st.markdown(as_hint(hint))


def show_not_yet(not_yet: NotYet) -> None:
    """Say why there is no answer yet and what would bring one."""
    st.info(f"**Not yet:** {as_text(not_yet.reason)}", icon=":material/hourglass_top:")
    if not_yet.hint:
        st.markdown(as_hint(not_yet.hint))
