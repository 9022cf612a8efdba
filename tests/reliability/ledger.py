"""What somebody on deck was told is stored, held against what the store holds.

The ledger is a file of one JSON object a line, each forced to disk: ``wanted`` before the service
is called, ``acknowledged`` after it came back. Every pull and every correction carries a mark of
its own in its notes, by which it is found again in the database, read here by SQL and not by the
program that is being tried.
"""

import json
import os
import sqlite3
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path


@dataclass
class Ledger:
    """What was wanted, by its number, each with its marks; and the numbers acknowledged."""

    wanted: dict[int, dict] = field(default_factory=dict)
    acknowledged: set[int] = field(default_factory=set)

    def unanswered(self) -> dict | None:
        """The last thing wanted, if nobody heard that it was done."""
        last = max(self.wanted, default=None)
        return None if last is None or last in self.acknowledged else self.wanted[last]

    def marks(self, *, promised: bool) -> set[str]:
        """Marks of all that was wanted, or only of what was acknowledged."""
        numbers = self.acknowledged if promised else set(self.wanted)
        return {mark for number in numbers for mark in self.wanted[number]["marks"]}


def note(path: Path, **line: object) -> None:
    """Add a line and force it to disk; what a kill cut off before it stays apart from it."""
    with path.open("ab") as file:
        file.write(b"\n" + json.dumps(line).encode())
        file.flush()
        os.fsync(file.fileno())


def read(path: Path) -> Ledger:
    """The ledger so far; a line that a kill cut off was neither asked nor acknowledged."""
    found = Ledger()
    for line in _lines(path):
        if "wanted" in line:
            found.wanted[line["wanted"]] = line
        elif "acknowledged" in line:
            found.acknowledged.add(line["acknowledged"])
    return found


def _lines(path: Path) -> Iterator[dict]:
    if not path.exists():
        return
    for line in path.read_bytes().splitlines():
        try:
            yield json.loads(line)
        except ValueError:
            continue


def rows(database: Path, query: str) -> list[tuple]:
    """Rows of a database, if possible without changing anything of what a kill left of it."""
    for mode in ("ro", "rw"):
        with closing(sqlite3.connect(f"file:{database}?mode={mode}", uri=True)) as reader:
            try:
                return reader.execute(query).fetchall()
            except sqlite3.OperationalError:  # a kill left a journal that must be rolled back
                if mode == "rw":
                    raise
    return []


def marks_in(database: Path) -> Counter[str]:
    """How often each mark stands in the store, over all revisions."""
    records = rows(database, "SELECT record FROM pull")
    notes = (json.loads(record).get("notes", "") for (record,) in records)
    return Counter(mark for text in notes for mark in str(text).split() if mark.startswith("mark"))


def faults(path: Path, database: Path) -> list[str]:
    """What of the ledger the store lacks, holds twice or in part, or was never asked for."""
    promised = read(path).marks(promised=True)  # before the store is read: later ones may wait
    held = marks_in(database)
    found = read(path)
    parts = [one["marks"] for one in found.wanted.values() if _is_in_part(one, held)]
    strange = set(held) - found.marks(promised=False)
    return [
        *(f"lost: {mark} was acknowledged and is not there" for mark in promised - set(held)),
        *(f"twice: {mark} is there {count} times" for mark, count in held.items() if count > 1),
        *(f"strange: nobody asked for {mark}" for mark in strange),
        *(f"in part: of {', '.join(marks)} not all are there" for marks in parts),
    ]


def _is_in_part(one: dict, held: Counter[str]) -> bool:
    return 0 < sum(mark in held for mark in one["marks"]) < len(one["marks"])
