"""Small files that are there whole or not at all."""

from collections.abc import Callable, Sequence
from dataclasses import asdict
from json import dumps
from pathlib import Path
from typing import Any

from model.base.errors import InputError
from model.store.files import written_whole

Rows = Sequence[Any]
"""Rows of a table, each a dataclass."""


def write_atomically(path: Path, text: str) -> None:
    """Write a text that is there whole or not at all, and the folders above it.

    Killed at any moment, `path` holds what it held before or all of `text`.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    with written_whole(path) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n")


def read_whole[Value](path: Path, read: Callable[[str], Value]) -> Value:
    """What a text says, read by `read`.

    Raises
    ------
    InputError
        If it cannot be read: the one file is named, of the many that there are.
    """
    try:
        return read(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, KeyError, TypeError) as error:
        said = str(error).partition("\n")[0] or type(error).__name__
        raise InputError(
            f"{path} is damaged ({said})",
            hint="Take it from a copy, or remove it and run again: only what is missing is run.",
        ) from error


def write_rows(folder: Path, rows: Rows, text: str) -> Path:
    """Write a table as ``table.md`` (its path is returned) and its rows as ``table.json``.

    Parameters
    ----------
    text : str
        The table as it is read.
    """
    write_atomically(folder / "table.json", dumps([asdict(row) for row in rows], indent=1) + "\n")
    path = folder / "table.md"
    write_atomically(path, text)
    return path
