"""Importing pull logs: all or nothing per file."""

from dataclasses import dataclass
from pathlib import Path

from model.ingest.log_file import LogReading, read_log, read_log_content
from model.ingest.text_file import printable
from model.service.stores import StoreState, counted_pulls
from model.store.facts import Added, Revised, Written
from model.store.revisions import Reason
from model.store.store import Store


@dataclass(frozen=True, kw_only=True)
class Imported:
    """What came of one log.

    Parameters
    ----------
    revised : tuple of Revised
        Stored pulls that it corrected, with each change as old → new.
    removed : int
        Of those skipped, the pulls that were taken out before, and stay so.
    notes : tuple of str
        What was taken for granted in reading it.
    """

    source: str
    added: int
    skipped: int
    revised: tuple[Revised, ...]
    removed: int
    notes: tuple[str, ...]

    def __str__(self) -> str:
        return self._told("", "skipped as known")

    def as_preview(self) -> str:
        """What storing it would do, before it is stored."""
        if not self.added and not self.revised:
            return f"{self.source}: {self._all_known()}{self._taken_out()}."
        return f"{self._told('would be ', 'known already')} Nothing is stored yet."

    def _all_known(self) -> str:
        if not self.skipped:
            return "no pulls"
        return (
            "its one pull is known already"
            if self.skipped == 1
            else (f"all {self.skipped} pulls are known already")
        )

    def _taken_out(self) -> str:
        return f" ({self.removed} of them taken out before)" if self.removed else ""

    def _told(self, would_be: str, known: str) -> str:
        parts = [f"{counted_pulls(self.added)} {would_be}added"]
        parts += [f"{len(self.revised)} {would_be}corrected"] if self.revised else []
        parts += [f"{self.skipped} {known}"]
        return f"{self.source}: {', '.join(parts)}{self._taken_out()}."


def import_log(store: Store, path: Path, *, reason: Reason | None = None) -> Imported:
    """Store the new pulls of one log, or after any fault none of it.

    Parameters
    ----------
    reason : Reason or None
        Why stored pulls that come with other content are corrected; None to refuse them.

    Raises
    ------
    FaultyFile
        With every fault by line and column, or the stored pulls that would change.
    """
    return _store(store, read_log(path, store.campaign()), printable(path), reason)


def import_upload(
    store: Store, name: str, content: bytes, *, reason: Reason | None = None
) -> Imported:
    """The same for a log that is in memory.

    Parameters
    ----------
    name : str
        Of the file, as whoever sent it calls it.
    content : bytes
        Of the file.
    """
    reading = read_log_content(content, name, store.campaign())
    return _store(store, reading, name, reason)


def preview_upload(store: Store, name: str, content: bytes) -> Imported:
    """What importing a log would do, corrections included; nothing is stored.

    Raises
    ------
    FaultyFile
        With every fault by line and column.
    """
    reading = read_log_content(content, name, store.campaign())
    added = store.preview_pulls(reading.pulls, name, written=_written(reading))
    return _imported(name, reading, added)


def _store(store: Store, reading: LogReading, source: str, reason: Reason | None) -> Imported:
    added = store.add_pulls(reading.pulls, source, written=_written(reading), reason=reason)
    return _imported(source, reading, added)


def _written(reading: LogReading) -> Written:
    return Written(
        lines=reading.lines, load_unit=reading.load_unit, length_unit=reading.length_unit
    )


def _imported(source: str, reading: LogReading, added: Added) -> Imported:
    return Imported(
        source=source,
        added=added.added,
        skipped=added.skipped,
        revised=added.revised,
        removed=added.removed,
        notes=tuple(str(note) for note in reading.notes),
    )


def standing_of(state: StoreState) -> str:
    """How many of the stored pulls the answers rest on, in one sentence."""
    held = f"The store holds {counted_pulls(state.used_pulls, state.void_pulls)}"
    to_do = "the worker is at it" if state.has_worker else "run `kedgewise fit`"
    if state.posterior is None:
        return f"{held}; nothing was fitted yet: {to_do}."
    if state.has_changed:
        return f"{held}; what was fitted has changed since: {to_do}."
    if state.pulls_behind_answers == state.used_pulls:
        return f"{held}; answers rest on all {state.used_pulls}."
    return f"{held}; full answers still rest on {state.pulls_behind_answers}: {to_do}."
