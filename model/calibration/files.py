"""Small files that are there whole or not at all."""

import os
import tempfile
from collections.abc import Sequence
from dataclasses import asdict
from json import dumps
from pathlib import Path
from typing import Any


def write_atomically(path: Path, text: str) -> None:
    """Write a text under a temporary name, flush it, and swap it in at once.

    Killed at any moment, `path` holds what it held before or all of `text`.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def write_table(folder: Path, rows: Sequence[Any], text: str) -> Path:
    """Write a table as ``table.md`` (its path is returned) and its rows as ``table.json``.

    Parameters
    ----------
    rows : sequence of dataclass
        The table's rows.
    text : str
        The table as it is read.
    """
    write_atomically(folder / "table.json", dumps([asdict(row) for row in rows], indent=1) + "\n")
    path = folder / "table.md"
    write_atomically(path, text)
    return path
