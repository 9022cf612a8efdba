"""Small files that are there whole or not at all."""

import os
import tempfile
from pathlib import Path


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
