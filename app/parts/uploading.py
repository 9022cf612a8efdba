"""A log from the browser: looked at first, faults row by row, then stored."""

from hashlib import sha256
from typing import Final

import pandas as pd
import streamlit as st

from app import data
from app.pages import MOST_UPLOAD_MB
from app.parts.changing import ask_why, done, press, show_changes
from app.parts.refusals import refusable, show_refusal
from app.style.cards import show_failed
from app.style.numbers import counted
from app.style.text import as_prose
from model.base.errors import Fault, FaultyFile
from model.ingest.formula_guard import guarded
from model.service.imports import Imported

MOST_NOTES: Final = 10
MOST_FAULTS: Final = 20
"""Faults that are told in full, as a phone shows them; a table has all where there are more."""


def show_uploading() -> None:
    """Choose a file, see what it would do, store it."""
    file = st.file_uploader(
        f"A pull log (.csv, .xlsx), up to {MOST_UPLOAD_MB} MB",
        type=["csv", "xlsx"],
        max_upload_size=MOST_UPLOAD_MB,
        key="log",
    )
    if file is None:
        show_refusal("upload", None)  # of a file that is no longer there
        return
    name, content = file.name, file.getvalue()
    try:
        found = data.preview_upload(name, content)
    except FaultyFile as error:
        _show_faults(error)
        return
    _show_found(found)
    if found.added or found.revised:
        _show_storing(found, name, content)
    show_refusal("upload", _of(name, content))


def _show_storing(found: Imported, name: str, content: bytes) -> None:
    if found.revised:
        why, who = ask_why("upload")
        is_pressed = press(_label(found), why, key="store log", is_main=True)
    else:
        why, who = "", ""
        is_pressed = st.button(_label(found), type="primary", key="store log")
    if is_pressed:
        with refusable("upload", _of(name, content)):
            stored, moves = data.import_upload(name, content, why, who)
            done(str(stored), moves)


def _of(name: str, content: bytes) -> tuple[str, str]:
    """A file by its name and content, without keeping all of it in the session."""
    return name, sha256(content).hexdigest()


def _label(found: Imported) -> str:
    parts = [f"store {counted(found.added, 'new pull')}"] if found.added else []
    parts += [f"correct {counted(len(found.revised), 'pull')}"] if found.revised else []
    return " and ".join(parts).capitalize()


def _show_found(found: Imported) -> None:
    st.markdown(as_prose(found.as_preview()))
    if found.notes:
        lines = [f"- {as_prose(note)}" for note in found.notes[:MOST_NOTES]]
        st.markdown("Taken for granted:\n" + "\n".join(lines))
    if found.revised:
        st.markdown("Stored pulls that it changes:")
        show_changes(found.revised)


def _show_faults(error: FaultyFile) -> None:
    """Every fault with its line and column, in the order of the file."""
    show_failed(counted(len(error.faults), "fault"), error.hint)
    lines = [f"- {as_prose(_fault_words(fault))}" for fault in error.faults[:MOST_FAULTS]]
    more = len(error.faults) - MOST_FAULTS
    if more > 0:
        lines.append(f"- and {counted(more, 'more fault')}; the table has all")
    st.markdown("\n".join(lines))
    if more > 0:
        _show_table(error)


def _fault_words(fault: Fault) -> str:
    """A fault without the file's name, which stands above."""
    line = "" if fault.line is None else f"line {fault.line}"
    where = ", ".join(part for part in (line, fault.column) if part)
    return f"{where + ': ' if where else ''}{fault.found}. {fault.remedy}"


def _show_table(error: FaultyFile) -> None:
    st.dataframe(
        pd.DataFrame(
            {
                "line": [fault.line for fault in error.faults],
                # Guarded: the table can be downloaded, and these words came from a file.
                "column": [guarded(fault.column or "") for fault in error.faults],
                "found": [guarded(fault.found) for fault in error.faults],
                "what would do": [guarded(fault.remedy) for fault in error.faults],
            }
        ),
        hide_index=True,
        width="stretch",
        key="faults",
    )
