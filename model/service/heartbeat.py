"""The heartbeat of the fitting worker: what it does, told in its own time while it works."""

import logging
import os
import threading
from pathlib import Path
from typing import Final, Self

from model.service.worker_state import Doing, WorkerState, beat, clear_state, write_state
from model.store.opened import Clock, utc_now

_log = logging.getLogger(__name__)

BEAT_EVERY_S: Final = 2.0
"""Time between beats, s; progress is written no more often than that."""


class Heartbeat:
    """Tells what the worker does; as a context it beats by itself until left.

    Another kind of work is told at once, progress of the same with the next beat. What
    cannot be told (a full disk) keeps no fit from being done.

    Parameters
    ----------
    folder : Path
        The store's.
    clock : callable
        Gives the time now, with its zone.
    """

    def __init__(self, folder: Path, *, clock: Clock = utc_now) -> None:
        self._folder = folder
        self._clock = clock
        self._lock = threading.Lock()  # progress comes from the sampler's thread
        self._ended = threading.Event()
        self._is_told = self._is_lost = False
        now = clock()
        self._state = WorkerState(pid=os.getpid(), started_at=now, beat_at=now, doing="starting")

    def __enter__(self) -> Self:
        self.beat()
        self._thread = threading.Thread(target=self._beat_on, name="heartbeat", daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._ended.set()
        self._thread.join()
        try:
            clear_state(self._folder)
        except OSError as left:
            _log.warning("cannot say that no worker runs any more: %s", left)

    def say(
        self,
        doing: Doing,
        *,
        pulls: int = 0,
        share: float = 0.0,
        tries: int = 1,
        detail: str = "",
        reasons: tuple[str, ...] = (),
    ) -> None:
        """Say what is being done from now on; see :class:`WorkerState`."""
        said = {
            "doing": doing,
            "pulls": pulls,
            "share": min(max(share, 0.0), 1.0),
            "tries": tries,
            "detail": detail,
            "reasons": reasons,
        }
        with self._lock:
            is_other = doing != self._state.doing or reasons != self._state.reasons
            changed = self._state.model_copy(update=said)
            self._is_told = self._is_told and changed == self._state
            self._state = changed
        if is_other:
            self.beat()

    def beat(self) -> None:
        """Tell what is new, or else that it goes on."""
        with self._lock:
            self._state = self._state.model_copy(update={"beat_at": self._clock()})
            try:
                self._tell()
            except OSError as error:
                if not self._is_lost:  # once: a disk stays full for long
                    _log.warning("cannot say what is being done: %s", error)
                self._is_told, self._is_lost = False, True
            else:
                self._is_lost = False

    def _tell(self) -> None:
        if self._is_told:
            beat(self._folder, self._state.beat_at)
            return
        try:
            write_state(self._folder, self._state)
        except OSError:
            beat(self._folder, self._state.beat_at)  # still alive, whatever it said last
            raise
        self._is_told = True

    def _beat_on(self) -> None:
        while not self._ended.wait(BEAT_EVERY_S):
            self.beat()
