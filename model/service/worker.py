"""The resident fitting worker: what is wanted against what was tried, again and again.

It looks at the store and never at messages, so nothing can be missed: pulls that come in
during a fit are seen once it has ended, and what a kill left is seen at the next start.
"""

import logging
import math
import time
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Final, NoReturn

from model.base.errors import FitFailed, KedgewiseError, StoreBusy, StoreTooNew
from model.base.progress import Progress
from model.service.answers import record_standing
from model.service.fits import Fitter, fit, is_fit_wanted
from model.service.heartbeat import Heartbeat
from model.service.trail_filling import fill_trail_step
from model.store.database import DATABASE_NAME
from model.store.files import locked
from model.store.opened import Clock, utc_now
from model.store.revisions import Mark
from model.store.store import Store, holds_store

_log = logging.getLogger(__name__)

LOCK_NAME: Final = "worker.lock"
MOST_TRIES: Final = 3
"""Tries at a fit that is stopped before it ends (killed, no room); then it counts as failed."""
POLL_S: Final = 1.0
"""Time between two looks for new facts, s: two small queries."""
LOOK_AGAIN_S: Final = 60.0
"""Time after which everything is looked at though no fact is new, s: as for a damaged file."""
RETRY_S: Final = (10.0, 60.0, 300.0)
"""Waits after the first, second and every later trouble in a row, s."""

Sleep = Callable[[float], None]
Step = Callable[[Store, Fitter | None, Progress], bool]
"""One piece of work that no fit waits for longer than for another fit; tells whether there was
something to do."""


def keep_standing(store: Store, fitter: Fitter | None, progress: Progress) -> bool:
    """Keep standing answers that are missing: a new question's, or a killed fit's."""
    del fitter, progress  # nothing is fitted for it
    return record_standing(store) > 0


def keep_trail(store: Store, fitter: Fitter | None, progress: Progress) -> bool:
    """Work out how standing answers moved: one day's end and the pulls after it."""
    return fill_trail_step(store, fitter, progress=progress, most_tries=MOST_TRIES)


BACKGROUND: Final[tuple[Step, ...]] = (keep_standing, keep_trail)
"""What is done while no fit is wanted, in this order; after each step facts are looked at again."""


def work(
    folder: Path,
    *,
    fitter: Fitter | None = None,
    background: Sequence[Step] = BACKGROUND,
    is_patient: bool = False,
    when_ready: Callable[[], None] = lambda: None,
    clock: Clock = utc_now,
    sleep: Sleep = time.sleep,
) -> NoReturn:
    """Fit a store whenever its facts want it, until interrupted.

    Parameters
    ----------
    folder : Path
        The store's.
    fitter : Fitter or None
        The project's sampler unless given.
    background : sequence of callable
        Steps of work to do while no fit is wanted.
    is_patient : bool
        Whether to wait for another worker of this store to end, and not be refused.
    when_ready : callable
        Called once this is the store's worker.

    Raises
    ------
    StoreBusy
        If another worker is at this store.
    StoreTooNew
        If a newer program brings the store up to its version meanwhile.
    StoreError
        If there is no store, or it cannot be opened.
    """
    while True:
        store = Store.open(folder, clock=clock)
        lock = _awaited_lock(folder, sleep) if is_patient else worker_lock(folder)
        with lock, Heartbeat(folder, clock=clock) as heart:
            when_ready()
            _Watch(store, heart, fitter=fitter, background=background, sleep=sleep).keep()
        _log.warning("%s was replaced by another store, or taken away", folder)
        while not holds_store(folder):
            sleep(POLL_S)


def _awaited_lock(folder: Path, sleep: Sleep) -> AbstractContextManager[object]:
    """The worker's lock, once whoever holds it has ended."""
    is_said = False
    while True:
        try:
            return worker_lock(folder)
        except StoreBusy as busy:
            if not is_said:
                _log.info("%s; this one takes over when it ends", busy.message)
            is_said = True
            sleep(POLL_S)


def worker_lock(folder: Path) -> AbstractContextManager[object]:
    """The lock that the worker of a store holds.

    Raises
    ------
    StoreBusy
        If another worker holds it.
    StoreError
        If it cannot be taken at all.
    """
    return locked(
        folder / LOCK_NAME,
        wait_s=0.0,
        busy=f"another worker is at {folder}",
        hint="One is enough: it fits whatever comes into the store.",
    )


class _Watch:
    """Looks at one store, and does what it wants.

    A trouble that may pass (a full disk, a store in use) is waited out, longer each time;
    how often a fit is tried is counted in the store, so that no restart forgets it.
    """

    def __init__(
        self,
        store: Store,
        heart: Heartbeat,
        *,
        fitter: Fitter | None,
        background: Sequence[Step],
        sleep: Sleep,
    ) -> None:
        self._store = store
        self._heart = heart
        self._fitter = fitter
        self._background = background
        self._sleep = sleep
        self._identity = _identity(store.folder)
        self._mark: Mark | None = None
        self._troubles = 0

    def keep(self) -> None:
        """Fit what is wanted, until another store stands there, or none."""
        while _identity(self._store.folder) == self._identity:
            self._rest(self._turn())

    def _turn(self) -> float:
        """Do one thing; gives how long there is nothing else to do, s."""
        try:
            wait_s = self._do_next()
        except StoreTooNew:
            raise  # no wait makes this program know what a newer one has written
        except StoreBusy as busy:
            self._heart.say("waiting", detail=busy.message)
            return POLL_S
        except FitFailed as failed:  # its reasons are in the store: it is not wanted again
            _log.warning("%s", failed.message)
            wait_s = 0.0
        except Exception as error:  # noqa: BLE001 - one that ended here would fit no later pull
            return self._trouble(error)
        self._troubles = 0
        return wait_s

    def _do_next(self) -> float:
        self._store.require_known_version()
        # Before the look: what comes in while it lasts is seen by the next one.
        self._mark = self._store.mark()
        if is_fit_wanted(self._store):
            self._fit()
            return 0.0
        if any(step(self._store, self._fitter, self._look_back) for step in self._background):
            return 0.0
        attempt = self._store.newest_attempt()
        has_failed = attempt is not None and attempt.state == "failed"
        self._heart.say("idle", reasons=attempt.reasons if attempt and has_failed else ())
        return LOOK_AGAIN_S

    def _fit(self) -> None:
        pulls = sum(not pull.is_void for pull in self._store.pulls())
        fitted = fit(
            self._store,
            fitter=self._fitter,
            progress=self._progress(pulls),
            most_tries=MOST_TRIES,
        )
        if fitted.state == "fitted":
            _log.info("fitted %d pulls: %s", fitted.stored.pulls, fitted.stored.id)

    def _progress(self, pulls: int) -> Progress:
        """Says that it fits once it does: until then another program may be at it."""
        tries: list[int] = []

        def report(share: float, words: str) -> None:
            if not tries:
                attempt = self._store.newest_attempt()
                tries.append(1 if attempt is None else attempt.tries)
                _log.info("fitting %d pulls, try %d", pulls, tries[0])
            self._heart.say("fitting", pulls=pulls, share=share, tries=tries[0], detail=words)

        return report

    def _look_back(self, share: float, words: str) -> None:
        self._heart.say("looking back", share=share, detail=words)

    def _trouble(self, error: Exception) -> float:
        """Say what is wrong, and how long it is waited out, s."""
        wait_s = RETRY_S[min(self._troubles, len(RETRY_S) - 1)]
        self._troubles += 1
        if isinstance(error, KedgewiseError):
            found = error.message
            _log.warning("%s; trying again in %.0f s", found, wait_s)
        else:
            found = f"{type(error).__name__}: {error}"
            _log.error("%s; trying again in %.0f s", found, wait_s, exc_info=error)
        self._heart.say("waiting", detail=f"{found}; trying again")
        return wait_s

    def _rest(self, seconds: float) -> None:
        """Wait, and no longer than until there are new facts."""
        for _ in range(math.ceil(seconds / POLL_S)):
            self._sleep(POLL_S)
            if self._has_news():
                return

    def _has_news(self) -> bool:
        if _identity(self._store.folder) != self._identity:
            return True
        try:
            return self._store.mark() != self._mark
        except KedgewiseError:  # what is wrong with the store is said by the next look
            return False


def _identity(folder: Path) -> tuple[int, int] | None:
    """Which file stands under the database's name; None where there is none.

    To read one that is gone would make an empty one.
    """
    try:
        found = (folder / DATABASE_NAME).stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
