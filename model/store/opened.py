"""What every part of a store works on: its folder, its database, its clock."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

from model.store.database import DATABASE_NAME, Database

Clock = Callable[[], dt.datetime]


def utc_now() -> dt.datetime:
    """The time now, with its zone."""
    return dt.datetime.now(dt.UTC)


class Opened:
    """A store's folder.

    Parameters
    ----------
    folder : Path
        Holds ``kedgewise.sqlite`` and ``posteriors/``.
    clock : callable
        Gives the time, with its zone, that rows are stamped with.
    """

    def __init__(self, folder: Path, *, clock: Clock = utc_now) -> None:
        self.folder = folder
        self._clock = clock
        self._database = Database(folder / DATABASE_NAME)
