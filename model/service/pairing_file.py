"""The state of pairing in a small file, shared by `serve` and the web app it starts.

It is made anew by each `serve` and goes with it, so that no code and no device
outlives it. It holds hashes alone (:mod:`model.service.pairing`).
"""

import datetime as dt
import random
import secrets
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Final

from model.base.errors import StoreError
from model.service import pairing
from model.service.pairing import Pairing, Refusal
from model.store.files import locked, written_whole

LOCK_WAIT_S: Final = 10.0
"""Each holds it for some milliseconds."""


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


class PairingFile:
    """Reads and changes the state of pairing, one process and one thread at a time.

    Parameters
    ----------
    path : pathlib.Path
        The file; a lock file stands beside it.
    clock : callable
        Gives the time, with its zone.
    rng : random.Random
        Makes codes and tokens; the system's own unless a test says otherwise.
    """

    def __init__(
        self,
        path: Path,
        *,
        clock: Callable[[], dt.datetime] = _now,
        rng: random.Random | None = None,
    ) -> None:
        self._path = path
        self._clock = clock
        self._rng = rng or secrets.SystemRandom()
        self._seen: tuple[tuple[int, ...], Pairing] | None = None

    def begin(self) -> None:
        """Write a state with no code and no device."""
        self._write(pairing.begin(self._rng))

    def offer(self) -> str:
        """A new code in the place of any before it."""
        with self._lock():
            offered = pairing.offer(self._read(), now=self._clock(), rng=self._rng)
            self._write(offered.pairing)
        return offered.code

    def try_code(self, typed: str, *, address: str) -> str | Refusal:
        """A token for a device that knows the open code, or why there is none.

        Guesses wait for each other: many at once count as many.
        """
        with self._lock():
            before = self._read()
            tried = pairing.try_code(
                before, typed, address=address, now=self._clock(), rng=self._rng
            )
            if tried.pairing != before:
                self._write(tried.pairing)
        return tried.token or tried.refusal or Refusal.NO_CODE

    def is_paired(self, token: str | None) -> bool:
        """Whether a token is that of a paired device; of no file nobody's is."""
        try:
            return pairing.is_paired(self.state(), token, now=self._clock())
        except (OSError, ValueError, StoreError):
            return False

    def state(self) -> Pairing:
        """The state, read again only where the file is another than the one read last.

        Raises
        ------
        OSError, ValueError
            If it cannot be read.
        """
        found = self._path.stat()
        mark = (found.st_ino, found.st_mtime_ns, found.st_size)
        if self._seen is None or self._seen[0] != mark:
            with self._lock():  # elsewhere than on POSIX an open file cannot be swapped
                self._seen = (mark, self._read())
        return self._seen[1]

    def is_open(self) -> bool:
        """Whether a code is open that would pair a device."""
        return pairing.is_open(self.state(), now=self._clock())

    def _read(self) -> Pairing:
        return Pairing.model_validate_json(self._path.read_bytes())

    def _write(self, state: Pairing) -> None:
        with written_whole(self._path) as temporary:
            temporary.write_text(state.model_dump_json(), encoding="utf-8")

    def _lock(self) -> AbstractContextManager[object]:
        return locked(
            self._path.with_suffix(".lock"),
            wait_s=LOCK_WAIT_S,
            busy="the file of paired devices is in use",
            hint="Try again.",
        )
