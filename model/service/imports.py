"""Importing pull logs: all or nothing per file."""

from dataclasses import dataclass
from pathlib import Path

from model.ingest.log_file import read_log
from model.ingest.text_file import printable
from model.service.stores import StoreState, counted_pulls
from model.store.facts import Revised, Written
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
        parts = [f"{counted_pulls(self.added)} added"]
        parts += [f"{len(self.revised)} corrected"] if self.revised else []
        parts += [f"{self.skipped} skipped as known"]
        out = f" ({self.removed} of them taken out before)" if self.removed else ""
        return f"{self.source}: {', '.join(parts)}{out}."


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
    reading = read_log(path, store.campaign())
    written = Written(
        lines=reading.lines, load_unit=reading.load_unit, length_unit=reading.length_unit
    )
    source = printable(path)
    added = store.add_pulls(reading.pulls, source, written=written, reason=reason)
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
    if state.posterior is None:
        return f"{held}; nothing was fitted yet: run `kedgewise fit`."
    if state.has_changed:
        return f"{held}; what was fitted has changed since: run `kedgewise fit`."
    if state.pulls_behind_answers == state.used_pulls:
        return f"{held}; answers rest on all {state.used_pulls}."
    return f"{held}; answers still rest on {state.pulls_behind_answers}: run `kedgewise fit`."
