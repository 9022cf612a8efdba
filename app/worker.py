"""The fitting worker as a process: ``kedgewise work``, or beside the web app of ``serve``.

``python -m app.worker --store FOLDER`` starts it as ``serve`` does; with
``--until-stdin-closes`` it ends when whoever started it is gone, on every system.
"""

import argparse
import signal
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final, NoReturn

from app.terminal import fail, log_to_standard_error, tell
from app.tether import tether
from model.base.errors import (
    InputError,
    KedgewiseError,
    NoStore,
    StoreDamaged,
    StoreReadOnly,
    StoreTooNew,
)

UNTIL_STDIN_CLOSES: Final = "--until-stdin-closes"
STOPPING: Final = (signal.SIGINT, signal.SIGTERM)
STOP_WAIT_S: Final = 20.0
"""How long a fit may take to hear that it is to stop, s; compiling does not listen."""

READ_ONLY: Final = 10
"""Exit code beside the web app where the store may only be read; nothing was said of it."""
LASTING: Final = (InputError, NoStore, StoreDamaged, StoreTooNew)
"""What another start would not cure; a full disk, or a store in use, passes."""
GIVEN_UP: Final = 11
"""Exit code beside the web app of what no other start would cure; it was said.

A crash ends with 1, as do most errors of a command: so they would be taken for each other.
"""


def work(
    store: str | None, *, is_tied: bool = False, when_ready: Callable[[], None] = lambda: None
) -> NoReturn:
    """Fit a store whenever its facts want it, until interrupted or asked to end.

    Parameters
    ----------
    store : str or None
        As for ``--store``.
    is_tied : bool
        Whether to end when standard input closes, and to wait for another worker to end.
    when_ready : callable
        Called once this is the store's worker.

    Raises
    ------
    KeyboardInterrupt
        When it was stopped.
    KedgewiseError
        If there is no such store, or another worker is at it.
    """
    for one in STOPPING:
        signal.signal(one, _stop)
    if is_tied:
        tether(wait_s=STOP_WAIT_S)
    from model.service.stores import resolve
    from model.service.worker import work as keep_fitted

    log_to_standard_error()
    keep_fitted(resolve(store), is_patient=is_tied, when_ready=when_ready)


def _stop(*_: object) -> NoReturn:
    """Stop once: a second request would cut short what the first one puts in order."""
    for one in STOPPING:
        signal.signal(one, signal.SIG_IGN)
    raise KeyboardInterrupt


def command(folder: Path) -> list[str]:
    """The command that starts a worker which ends with whoever started it."""
    return [sys.executable, "-m", "app.worker", "--store", str(folder), UNTIL_STDIN_CLOSES]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the worker as a process of its own; gives its exit code."""
    parser = argparse.ArgumentParser(prog="python -m app.worker", description=__doc__)
    parser.add_argument("--store", help="the store; else KEDGEWISE_STORE")
    parser.add_argument(UNTIL_STDIN_CLOSES, action="store_true", dest="is_tied")
    given = parser.parse_args(arguments)
    try:
        work(given.store, is_tied=given.is_tied)
    except KeyboardInterrupt:
        if not given.is_tied:
            tell("Stopped.")
        return 0
    except KedgewiseError as error:
        if given.is_tied and isinstance(error, StoreReadOnly):
            return READ_ONLY
        code = fail(error, is_json=False)
        return GIVEN_UP if given.is_tied and isinstance(error, LASTING) else code


if __name__ == "__main__":
    sys.exit(main())
