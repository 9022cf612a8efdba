"""Files that are there whole or not at all."""

import os
from pathlib import Path


def flush(path: Path) -> None:
    """Force a file's content to disk, so that a swap cannot outrun it in a power cut."""
    with path.open("r+b") as file:
        os.fsync(file.fileno())
