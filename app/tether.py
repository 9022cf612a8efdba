"""A process that ends with whoever started it: then its standard input closes, on every system."""

import os
import signal
import subprocess
import threading
import time
from typing import Final

TETHERED_VARIABLE: Final = "KEDGEWISE_TETHERED"
"""Set to 1 in the environment of a web app that is to end with whoever started it."""

OWN_GROUP: Final[int] = getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)
"""Creation flags of a process that a terminal's Ctrl-C is not to reach: there are such on Windows
alone; elsewhere a session of its own does it. What is tethered is stopped by who started it."""


def tether(*, wait_s: float) -> None:
    """From now on end this process once the other end of its standard input is closed.

    That is so when whoever holds it ends, however it ends.

    Parameters
    ----------
    wait_s : float
        How long it may take to stop as asked before it is ended, s.
    """
    threading.Thread(target=_stop_when_stdin_closes, args=(wait_s,), daemon=True).start()


def _stop_when_stdin_closes(wait_s: float) -> None:
    # Not by sys.stdin: a thread that waits in there keeps the interpreter from ending.
    while os.read(0, 1024):
        pass
    signal.raise_signal(signal.SIGTERM)
    time.sleep(wait_s)
    os._exit(1)  # as if killed: the store takes that, and nobody is left who would do it
