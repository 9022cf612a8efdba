"""``serve --boat``: the terminal's half of pairing, a code and its QR, and a new one on a key."""

import datetime as dt
import os
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from app.doors.pairing_page import PATH
from app.doors.qr_code import qr_code
from app.doors.rights import BOAT_VARIABLE
from app.terminal import show, show_picture, tell
from model.base.errors import InputError
from model.service.pairing import CODE_LASTS, MOST_FROM_ADDRESS, Closed, lockouts, readable
from model.service.pairing_file import PairingFile

LOOK_EVERY_S: Final = 1.0
"""How often it is looked whether a device was paired or the code ran out."""
KEYS_READ: Final = 1024
"""Bytes taken at once: however often the key was pressed meanwhile, one new code is enough."""
HOW_TO_RENEW: Final = "Press Enter for a new code."
CAUTION: Final = "Handle no phone while a line is under tension: log the pull when it is off."


def require_terminal(*, as_json: bool) -> None:
    """Refuse to write a code where it would be kept, as in a log.

    Raises
    ------
    InputError
        If standard output is no terminal.
    """
    if as_json or not sys.stdout.isatty():
        raise InputError(
            "--boat shows a code, and standard output is no terminal",
            hint="Run it in a terminal, without --json: a code belongs in no file and no log.",
        )


@dataclass(frozen=True, kw_only=True)
class Boat:
    """A web app on a private address, and the devices that are let in to it."""

    file: PairingFile
    path: Path

    @property
    def environment(self) -> Mapping[str, str]:
        """What tells the web app of it: where the file is, and no secret."""
        return {BOAT_VARIABLE: str(self.path)}

    def show_code(self, url: str) -> None:
        """A new code, with the link that holds it as a QR."""
        code = self.file.offer()
        until = dt.datetime.now().astimezone() + CODE_LASTS
        link = f"{url}{PATH}"
        show_picture(qr_code(f"{link}#{code}"))
        show(
            f"Scan it with a phone on the same network, or open {link} and type {readable(code)}\n"
            f"It pairs one device, once, until {until:%H:%M}. {HOW_TO_RENEW}"
        )

    def attend(self, url: str) -> None:
        """Say how to pair, and then what comes of it, for as long as the program runs."""
        show(f"The web app is at {url} for paired devices (stop with Ctrl-C)")
        show(f"They can log pulls and read, nothing else. {CAUTION}")
        self.show_code(url)
        for work in (lambda: self._renew(url), self._watch):
            threading.Thread(target=work, daemon=True).start()

    def _renew(self, url: str) -> None:
        # Not through the buffered file: the program could not end while a thread waits in it.
        while os.read(sys.stdin.fileno(), KEYS_READ):
            self.show_code(url)

    def _watch(self) -> None:
        look = changes_of(self.file)
        while True:
            for line in look():
                tell(line)
            threading.Event().wait(LOOK_EVERY_S)


def changes_of(file: PairingFile) -> Callable[[], list[str]]:
    """What has happened at the door since it was last asked, in words."""
    known, was_open = file.state().devices, file.is_open()
    locked = lockouts(file.state())

    def look() -> list[str]:
        nonlocal known, was_open, locked
        state, lines = file.state(), []
        for source, until in lockouts(state).items() - locked.items():
            lines.append(
                f"{MOST_FROM_ADDRESS} wrong codes from {source}: "
                f"locked out until {until.astimezone():%H:%M}, or until there is a new code."
            )
        if state.devices != known:
            lines.append(f"Paired: a device at {state.devices[-1].address}. {HOW_TO_RENEW}")
        elif was_open and not file.is_open():
            is_guessed = state.closed is Closed.GUESSED
            why = "was guessed at too often" if is_guessed else "has expired"
            lines.append(f"The code {why}. {HOW_TO_RENEW}")
        known, was_open, locked = state.devices, file.is_open(), lockouts(state)
        return lines

    return look


@contextmanager
def opened_boat() -> Iterator[Boat]:
    """A file of paired devices that only this user may read, gone when it is done."""
    with tempfile.TemporaryDirectory(prefix="kedgewise-boat-", ignore_cleanup_errors=True) as work:
        path = Path(work) / "pairing.json"
        file = PairingFile(path)
        file.begin()
        yield Boat(file=file, path=path)
