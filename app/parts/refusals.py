"""What a press was refused for: shown until the next press, or until something else is chosen."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import streamlit as st

from app.style.cards import log, show_failed
from app.style.numbers import counted
from model.base.errors import FaultyFile, InputError, KedgewiseError

NOTHING_STORED: Final = "Nothing was stored."


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """Why a press was refused, and what it was about.

    Parameters
    ----------
    about : object
        What was chosen at the press; compared with what is chosen now.
    """

    about: object
    message: str
    hint: str


@contextmanager
def refusable(place: str, about: object) -> Iterator[None]:
    """Keep what is refused inside, in the place of what was refused there before.

    A page is drawn anew whenever anybody stores something; what is only said once is gone
    then, and whoever was refused takes the pull for stored.

    Parameters
    ----------
    place : str
        Which part of which page; see :func:`show_refusal`.
    about : object
        What is chosen.
    """
    st.session_state.pop(_key(place), None)
    try:
        yield
    except KedgewiseError as error:
        log.info("refused: %s", error.message)  # no line in the terminal for each slip
        kept = Refusal(about=about, message=error.message, hint=error.hint)
        st.session_state[_key(place)] = kept


def show_refusal(place: str, about: object) -> None:
    """What was refused in this place, as long as the same is chosen there."""
    kept: Refusal | None = st.session_state.get(_key(place))
    if kept is None:
        return
    if kept.about == about:
        show_failed(kept.message, kept.hint)
    else:
        del st.session_state[_key(place)]


def _key(place: str) -> str:
    return f"refused: {place}"


@contextmanager
def as_typed(labels: Mapping[str, str] = MappingProxyType({})) -> Iterator[None]:
    """Faults of what was typed speak of its fields, and of no file or line.

    Parameters
    ----------
    labels : mapping of str to str
        Labels of fields, by the heading that a log has for them; else the heading stands.

    Raises
    ------
    InputError
        In the place of a :class:`FaultyFile`.
    """
    try:
        yield
    except FaultyFile as error:
        # Cells that are typed into many pulls have the same fault in each.
        lines = dict.fromkeys(
            f"{labels.get(fault.column or '', fault.column or 'pull')}: "
            f"{fault.found}. {fault.remedy}"
            for fault in error.faults
        )
        head = [f"{counted(len(lines), 'fault')}:"] if len(lines) > 1 else []
        raise InputError("\n".join([*head, *lines]), hint=NOTHING_STORED) from error
