"""Two processes add pulls one by one into one store while a third one reads it all the time.

``python tests/reliability/two_writers.py --pulls 1000 --work FOLDER --results FILE.json``

Twice: first with pulls of their own, then in another store both with the same pulls. Run again on
the same folder, a run that was cut off goes on. Exits 1 if a pull was lost or is there twice, or
if anybody met an error.
"""

import argparse
import json
import subprocess
import sys
import time
from pathlib import Path
from statistics import median

import ledger
from lives import CAMPAIGN
from looking import faults_of_store

from model.ingest.campaign_file import read_campaign
from model.store.database import DATABASE_NAME
from model.store.store import Store, needs_making

HERE = Path(__file__).parent
NAMES = {"own pulls": ("a", "b"), "the same pulls": ("both", "both")}


def main(arguments: list[str] | None = None) -> int:
    """Both crowds, one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pulls", type=int, required=True, help="of each writer")
    parser.add_argument("--work", type=Path, required=True, help="folder of the stores; kept")
    parser.add_argument("--results", type=Path, required=True)
    parser.add_argument("--broken", default="", help="a promise broken on purpose")
    given = parser.parse_args(arguments)
    found = {
        kind: _crowd(given.work / kind.replace(" ", "-"), names, given.pulls, given.broken)
        for kind, names in NAMES.items()
    }
    given.results.parent.mkdir(parents=True, exist_ok=True)
    given.results.write_text(json.dumps(found, indent=1) + "\n", "utf-8")
    print(json.dumps(found, indent=1))
    return 1 if any(one["faults"] for one in found.values()) else 0


def _crowd(work: Path, names: tuple[str, str], count: int, broken: str) -> dict:
    """One store, its two writers and its reader; what they met, and what is there."""
    work.mkdir(parents=True, exist_ok=True)
    folder, stop = work / "store", work / "stop"
    if needs_making(folder):
        Store.create(folder, read_campaign(CAMPAIGN))
    books = [work / "first.jsonl", work / "second.jsonl"]
    stop.unlink(missing_ok=True)
    begun = time.monotonic()
    reader = _process("reader.py", folder, stop)
    writers = [
        _process("writer.py", folder, book, name, count, broken)
        for book, name in zip(books, names, strict=True)
    ]
    said = [json.loads(writer.communicate()[0]) for writer in writers]
    lasted_s = time.monotonic() - begun
    stop.touch()
    read = json.loads(reader.communicate()[0])
    faults = [f"a user met: {error}" for one in (*said, read) for error in one["errors"]]
    faults += _faults(books, folder, count * len(set(names)))
    seconds = sorted(second for one in said for second in one["seconds"])
    return {
        "pulls_each": count,
        "stored": len(ledger.marks_in(folder / DATABASE_NAME)),
        "lasted_s": round(lasted_s, 1),
        "add_median_ms": round(1000 * median(seconds), 1) if seconds else None,
        "add_longest_ms": round(1000 * seconds[-1], 1) if seconds else None,
        "reads": len(read["seconds"]),
        "read_median_ms": round(1000 * median(read["seconds"]), 1) if read["seconds"] else None,
        "faults": faults,
    }


def _faults(books: list[Path], folder: Path, expected: int) -> list[str]:
    """What of both ledgers together the store lacks or holds twice."""
    held = ledger.marks_in(folder / DATABASE_NAME)
    promised = set().union(*(ledger.read(book).marks(promised=True) for book in books))
    return [
        *(f"lost: {mark} was acknowledged and is not there" for mark in promised - set(held)),
        *(f"twice: {mark} is there {count} times" for mark, count in held.items() if count > 1),
        *([] if len(held) == expected else [f"{len(held)} pulls of {expected} are there"]),
        *faults_of_store(folder),
    ]


def _process(script: str, *arguments: object) -> "subprocess.Popen[bytes]":
    command = [sys.executable, str(HERE / script), *map(str, arguments)]
    return subprocess.Popen(command, stdout=subprocess.PIPE)


if __name__ == "__main__":
    sys.exit(main())
