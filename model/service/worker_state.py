"""What the fitting worker of a store is doing, as it tells those who only look.

It stands in a small file in the store's folder, so that pages and commands know it
without asking a process. The file's time is the heartbeat: to set it takes no room,
so that a full disk does not look like a dead worker.
"""

import datetime as dt
import logging
import os
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import Field, ValidationError

from model.records.base import Record
from model.store.files import written_whole
from model.store.opened import Clock, utc_now

_log = logging.getLogger(__name__)

FILE_NAME: Final = "worker.json"
STALE_AFTER_S: Final = 15.0
"""Age of a heartbeat beyond which nobody is taken to be at work, s; it beats every two."""
MOST_BYTES: Final = 100_000
"""A longer file is none of ours, and is not read."""

Doing = Literal["starting", "idle", "fitting", "looking back", "waiting"]


class WorkerState(Record):
    """What the worker is doing, and since when it runs.

    Parameters
    ----------
    doing : str
        ``starting``, its first look not done; ``fitting``; ``looking back`` at how answers
        moved; ``waiting`` for another program, or to try again; or ``idle``.
    pulls : int
        Used pulls of the fit that runs.
    share : float
        How far it is, 0 to 1.
    tries : int
        Which try at these facts this is, from 1.
    detail : str
        What of it is being done, or what is waited for, in words.
    reasons : tuple of str
        Why the newest fit failed, where it did and nothing is to be done.
    """

    pid: int
    started_at: dt.datetime
    beat_at: dt.datetime
    doing: Doing
    pulls: int = 0
    share: Annotated[float, Field(ge=0, le=1)] = 0.0
    tries: int = 1
    detail: str = ""
    reasons: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """What it is doing, in a few words."""
        if self.doing == "fitting":
            pulls = "1 pull" if self.pulls == 1 else f"{self.pulls} pulls"
            again = f", try {self.tries}" if self.tries > 1 else ""
            detail = f" ({self.detail})" if self.detail else ""
            return f"fitting {pulls}, {100 * self.share:.0f} %{again}{detail}"
        if self.doing == "looking back":
            return f"working out how answers moved, {100 * self.share:.0f} % of a fit"
        if self.doing == "waiting":
            return f"waiting: {self.detail}"
        if self.doing == "starting":
            return "starting to look for new pulls"
        return "waiting for changed or new pulls" if self.reasons else "waiting for new pulls"


def worker_state(folder: Path, *, clock: Clock = utc_now) -> WorkerState | None:
    """What the worker of the store in a folder is doing; None where none runs.

    Parameters
    ----------
    folder : Path
        The store's.
    clock : callable
        Gives the time now, with its zone.
    """
    path = folder / FILE_NAME
    try:
        beat_at = dt.datetime.fromtimestamp(path.stat().st_mtime, dt.UTC)
        # A clock that was set back leaves a beat in the future: that is no sign of life.
        if abs((clock() - beat_at).total_seconds()) > STALE_AFTER_S:
            return None
        with path.open("rb") as file:
            state = WorkerState.model_validate_json(file.read(MOST_BYTES))
    except FileNotFoundError:
        return None
    except (OSError, ValidationError) as error:
        _log.warning("%s cannot be read: %s", path, error)
        return None
    return state.model_copy(update={"beat_at": beat_at})


def write_state(folder: Path, state: WorkerState) -> None:
    """Say what the worker of a store is doing; the file is there whole or as it was.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    path = folder / FILE_NAME
    with written_whole(path) as temporary:
        temporary.write_text(state.model_dump_json(), "utf-8")
    beat(folder, state.beat_at)


def beat(folder: Path, at: dt.datetime) -> None:
    """Say that the worker is still at what it said last.

    Raises
    ------
    OSError
        If there is no such file, or it is not ours to touch.
    """
    os.utime(folder / FILE_NAME, (at.timestamp(), at.timestamp()))


def clear_state(folder: Path) -> None:
    """Say that no worker runs.

    Raises
    ------
    OSError
        If the file cannot be removed.
    """
    (folder / FILE_NAME).unlink(missing_ok=True)
