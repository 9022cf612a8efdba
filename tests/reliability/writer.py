"""A writer that adds pulls one by one: a process of the test of two writers.

``python writer.py STORE LEDGER NAME COUNT BROKEN``. Two writers of one name add the same pulls.
"""

import json
import random
import sys
import time
from pathlib import Path

import deck
import ledger

from model.base.errors import KedgewiseError
from model.store import database

DEFERRED = "deferred"
"""Breaks the promise on purpose: the lock of a writer is not taken until it writes."""


def main(folder: Path, path: Path, name: str, count: int) -> None:
    """Add pulls, each at most once acknowledged; every error that a user would see is kept."""
    found = ledger.read(path)
    seconds, errors = [], []
    for number in range(len(found.acknowledged) + 1, count + 1):
        mark = f"mark-{name}-{number}"
        rows = [deck.pulled_row(mark, f"{name}-{number}", random.Random(number))]
        asked = {"wanted": number, "kind": "pull", "marks": [mark], "rows": rows}
        ledger.note(path, **asked)
        begun = time.perf_counter()
        try:
            deck.do(folder, asked)
        except KedgewiseError as error:
            errors.append(error.message)
            continue
        seconds.append(time.perf_counter() - begun)
        ledger.note(path, acknowledged=number)
    print(json.dumps({"seconds": seconds, "errors": errors}))


if __name__ == "__main__":
    if sys.argv[5] == DEFERRED:
        database._begin = lambda connection: connection.exec_driver_sql("BEGIN")
    main(Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3], int(sys.argv[4]))
