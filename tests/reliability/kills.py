"""Kill whoever logs pulls and whoever fits them, over one store, and look what is lost.

``python tests/reliability/kills.py --kills 500 --seed 1 --work FOLDER --results FILE.json``

Moments are drawn by the seed. Some are aimed: a kill follows, within milliseconds, when a step of
the log begins or a posterior is being written. One in eight kills an opening of an old store, which
is being brought up to date. Every 20 kills, and at the end, the store is held against the ledger;
at the end the worker, left alone, must catch up. Run again on the same folder it goes on.
Exits 1 if anything was lost, there twice or in part, or if a store did not open.
"""

import argparse
import json
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import deck
import ledger
from lives import DECK, ENDED, OPENING, WORKER, Life, OldStores, catch_up, start_store
from looking import faults_of_store

from model.store.database import DATABASE_NAME

LOOK_EVERY = 20
POLL_S = 0.002
PULLS_BEFORE = 12
"""So that there is something to fit from the first kill on."""
SHARES = {DECK: 0.82, WORKER: 1.0, OPENING: 0.12}
"""Most of all kills: deck and openings are killed far more often than a fit takes."""


def main(arguments: list[str] | None = None) -> int:
    """Kill as often as told, look, and write what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, required=True)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--work", type=Path, required=True, help="folder of the store; kept")
    parser.add_argument("--results", type=Path, required=True)
    parser.add_argument("--only", choices=[DECK, WORKER, OPENING], help="kill only this one")
    parser.add_argument("--broken", default="", help="a promise broken on purpose")
    given = parser.parse_args(arguments)
    given.work.mkdir(parents=True, exist_ok=True)
    done = _kill_on(given)
    return _conclude(given, done)


def _kill_on(given: argparse.Namespace) -> list[dict]:
    """Every kill so far, those of earlier runs too, after as many as are asked for."""
    path, folder = given.work / "kills.jsonl", given.work / "store"
    book = given.work / "ledger.jsonl"
    if start_store(folder):
        deck.log_pulls(folder, book, PULLS_BEFORE)
        if not given.only:
            # So that pulls are answered, and whoever answers is killed there too.
            assert catch_up(folder) is not None, "nothing was fitted before the first kill"
    done = list(_earlier(path))
    roles = [given.only] if given.only else [DECK, WORKER, OPENING]
    lives: dict[str, Life] = {}
    old = OldStores(given.work)
    begun = time.monotonic() - (done[-1]["at_s"] if done else 0.0)
    try:
        while len(done) < given.kills:
            for role in roles:
                if role not in lives and not given.only and _has_enough(done, role):
                    continue
                if role not in lives:
                    if given.only == WORKER and not given.broken:
                        deck.log_pulls(folder, book, 1)  # else there would be nothing to fit
                    rng = random.Random(f"{given.seed}/{len(done)}/{role}")
                    lives[role] = Life(role, folder, book, rng, old, given.broken)
                if not lives[role].is_due():
                    continue
                life = lives.pop(role)
                found = {"role": role, "aim": life.aim, "hit": life.kill()}
                found["at_s"] = round(time.monotonic() - begun, 1)
                found["faults"] = old.faults() if role == OPENING else []
                found["faults"] += [found["hit"]] if found["hit"].startswith(ENDED) else []
                if len(done) % LOOK_EVERY == LOOK_EVERY - 1:
                    found["faults"] += _look(folder, book)
                done.append(found)
                with path.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(found) + "\n")
            time.sleep(POLL_S)
    finally:
        for life in lives.values():
            life.kill()
    return done[: given.kills]


def _has_enough(done: list[dict], role: str) -> bool:
    """Whether a role is ahead of its share of all kills."""
    return sum(one["role"] == role for one in done) > (len(done) + 10) * SHARES[role]


def _look(folder: Path, book: Path) -> list[str]:
    return ledger.faults(book, folder / DATABASE_NAME) + faults_of_store(folder)


def _earlier(path: Path) -> Iterator[dict]:
    if path.exists():
        for line in path.read_text("utf-8").splitlines():
            yield json.loads(line)


def _conclude(given: argparse.Namespace, done: list[dict]) -> int:
    """What came of it, into a file; gives the exit code."""
    folder, book = given.work / "store", given.work / "ledger.jsonl"
    faults = [fault for one in done for fault in one["faults"]] + _look(folder, book)
    caught_up_s = None
    if given.only in (None, WORKER) and not given.broken:
        deck.log_pulls(folder, book, 1)  # a fit that was killed thrice waits for news
        caught_up_s = catch_up(folder)
        faults += [] if caught_up_s is not None else ["the worker did not catch up"]
        faults += _look(folder, book)
    found = ledger.read(book)
    result = {
        "kills": len(done),
        "seed": given.seed,
        "hits": dict(sorted(Counter(f"{one['role']}: {one['hit']}" for one in done).items())),
        "wanted": len(found.wanted),
        "acknowledged": len(found.acknowledged),
        "marks_acknowledged": len(found.marks(promised=True)),
        "passed_fits": _count(folder, "attempt WHERE state = 'passed'"),
        "kept_answers": _count(folder, "trail WHERE state IN ('quick', 'withheld')"),
        "caught_up_s": caught_up_s,
        "killing_s": done[-1]["at_s"] if done else 0.0,
        "faults": faults,
    }
    given.results.parent.mkdir(parents=True, exist_ok=True)
    given.results.write_text(json.dumps(result, indent=1) + "\n", "utf-8")
    print(json.dumps(result, indent=1))
    return 1 if faults else 0


def _count(folder: Path, rows: str) -> int:
    [(count,)] = ledger.rows(folder / DATABASE_NAME, f"SELECT count(*) FROM {rows}")  # noqa: S608
    return count


if __name__ == "__main__":
    sys.exit(main())
