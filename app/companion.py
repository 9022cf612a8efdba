"""The fitting worker beside the web app: started, started again where it died, stopped."""

import subprocess
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Final

from app.terminal import tell
from app.tether import OWN_GROUP
from app.worker import GIVEN_UP, READ_ONLY, command

RESTARTS: Final = 3
"""Starts after short lives in a row; then something is wrong that another start does not cure."""
SHORT_LIFE_S: Final = 60.0
"""A worker that lived longer had begun its work, s; the store counts what ended that."""
STOP_WAIT_S: Final = 10.0
"""How long it may take to stop by itself before it is ended, s."""
HOW_TO_GO_ON: Final = "new pulls wait for `kedgewise fit`."

Clock = Callable[[], float]


class Companion:
    """The worker of a store, as a child of this process that ends with it.

    Parameters
    ----------
    folder : Path
        The store's.
    environment : mapping
        Of the new process.
    clock : callable
        Gives a time that never goes back, s.
    """

    def __init__(
        self, folder: Path, *, environment: Mapping[str, str], clock: Clock = time.monotonic
    ) -> None:
        self._folder = folder
        self._environment = dict(environment)
        self._clock = clock
        self._process: subprocess.Popen[bytes] | None = None
        self._short_lives = 0

    def start(self) -> None:
        """Start it."""
        self._started_at = self._clock()
        self._process = subprocess.Popen(  # noqa: S603 - our own interpreter and module, no shell
            command(self._folder),
            env=self._environment,
            stdin=subprocess.PIPE,  # closed when this process ends, however it ends
            stdout=subprocess.DEVNULL,
            start_new_session=True,  # a terminal's Ctrl-C comes to it through this process alone
            creationflags=OWN_GROUP,
        )

    def tend(self) -> None:
        """Start it again where it died, a limited number of times; not where it gave up."""
        code = None if self._process is None else self._process.poll()
        if code is None:
            return
        self._let_go()
        is_short = self._clock() - self._started_at < SHORT_LIFE_S
        self._short_lives = self._short_lives + 1 if is_short else 0
        if code == READ_ONLY:
            tell(f"Read only: nothing is fitted in {self._folder}.")
        elif code == GIVEN_UP:
            tell(f"The fitting worker is not started again; {HOW_TO_GO_ON}")
        elif code == 0:
            tell(f"The fitting worker was stopped; {HOW_TO_GO_ON}")
        elif self._short_lives > RESTARTS:
            tell(
                f"The fitting worker ended again (code {code}) and is not started any more; "
                f"{HOW_TO_GO_ON}"
            )
        else:
            tell(f"The fitting worker ended (code {code}); it is started again.")
            self.start()

    def ask_to_stop(self) -> None:
        """Ask it to stop, and do not wait for it."""
        if self._process is not None and self._process.stdin is not None:
            self._process.stdin.close()

    def stop(self) -> None:
        """End it: asked first, then made to."""
        process = self._process
        if process is None:
            return
        self.ask_to_stop()
        try:
            process.wait(STOP_WAIT_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        self._let_go()

    def _let_go(self) -> None:
        self.ask_to_stop()
        self._process = None
