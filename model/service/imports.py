"""Importing pull logs: all or nothing per file."""

from dataclasses import dataclass
from pathlib import Path

from model.ingest.log_file import read_log
from model.ingest.text_file import printable
from model.service.stores import StoreState, counted_pulls
from model.store.facts import Written
from model.store.store import Store


@dataclass(frozen=True, kw_only=True)
class Imported:
    """What came of one log; `notes` are what was taken for granted in reading it."""

    source: str
    added: int
    skipped: int
    notes: tuple[str, ...]


def import_log(store: Store, path: Path) -> Imported:
    """Store the new pulls of one log, or after any fault none of it.

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
    added = store.add_pulls(reading.pulls, source, written=written)
    return Imported(
        source=source,
        added=added.added,
        skipped=added.skipped,
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
