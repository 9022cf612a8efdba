"""A reader that reads all the time: a process of the test of two writers.

``python reader.py STORE STOP_FILE``. It ends once the file is there.
"""

import json
import sys
import time
from pathlib import Path

from model.base.errors import KedgewiseError
from model.service.stores import state_of
from model.store.store import Store


def main(folder: Path, stop: Path) -> None:
    """Open and read as a page does; pulls never become fewer, and no error is met."""
    seconds, errors, most = [], [], 0
    while not stop.exists():
        begun = time.perf_counter()
        try:
            pulls = state_of(Store.open(folder)).pulls
        except KedgewiseError as error:
            errors.append(error.message)
            continue
        if pulls < most:
            errors.append(f"{pulls} pulls, and {most} before")
        most = max(most, pulls)
        seconds.append(time.perf_counter() - begun)
    print(json.dumps({"seconds": seconds, "errors": errors}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
