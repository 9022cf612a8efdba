"""The fitting worker with its promise broken on purpose: a process of the kill test.

A posterior's row is stored first, and its file a
moment later: whoever is killed in between leaves a row without draws.
"""

import time
from pathlib import Path

from model.service import worker
from model.store import kept_fits, posterior_files

GAP_S = 1.0
"""Between the row and the file, s."""


def main(folder: Path) -> None:
    """Work as the worker does, but for the order of row and file."""
    write, held_back = posterior_files.write, {}

    def write_later(place, posterior, *, mark):
        name, sha256 = write(place, posterior, mark=mark)
        path = place / posterior_files.FOLDER_NAME / name
        held_back[path] = path.read_bytes()
        path.unlink()
        return name, sha256

    def put_back(place, keep):
        del place, keep
        time.sleep(GAP_S)
        for path, content in held_back.items():
            path.write_bytes(content)

    kept_fits.posterior_files.write = write_later
    kept_fits.posterior_files.discard_all_but = put_back
    worker.work(folder)
