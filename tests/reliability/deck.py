"""Somebody on deck who logs pulls one by one, and is killed: a process of the kill test.

It goes on where the one before it was killed: what was not
acknowledged then is sent once more, as by a person who saw no answer. Most pulls are void, and
many steps are corrections of notes, so that what the fit has to do stays small.
"""

import random
import time
from math import exp, log
from pathlib import Path

import ledger

from model.ingest.log_rows import read_rows
from model.ingest.log_writer import log_text
from model.service import corrections, imports
from model.service.moved import storing
from model.store.store import Store

STEPS_KN = (0.5, 1.0, 1.5, 2.0, 2.6, 3.2, 3.9, 4.6)
HURRIED = 8
"""Steps of one life that come one after the other; later ones are further apart."""
ACKNOWLEDGE_FIRST = "acknowledge-first"
"""Breaks the promise on purpose: told to be stored before it is."""


def void_row(mark: str, code: str) -> dict[str, str]:
    """A pull that does not count."""
    head = {"pull": code, "outing": "day 1", "anchor": "S6", "seabed": "firm sand"}
    return head | {"ending": "void", "load_kn": "", "reason": "tried on purpose", "notes": mark}


def pulled_row(mark: str, code: str, rng: random.Random) -> dict[str, str]:
    """A pull as it might go: a capacity, and the step at which it lets go."""
    is_upright = rng.random() < 0.7
    capacity_kn = exp(rng.gauss(log(3.0 if is_upright else 1.7), 0.15))
    step_kn = next((step for step in STEPS_KN if step > capacity_kn), None)
    head = {"pull": code, "outing": rng.choice(["day 1", "day 2"]), "anchor": "S6"}
    return head | {
        "seabed": "firm sand",
        "ending": "held" if step_kn is None else "released",
        "load_kn": str(step_kn or STEPS_KN[-1]),
        "mode": "upright" if is_upright else "on_side",
        "notes": mark,
    }


def next_step(found: ledger.Ledger, rng: random.Random) -> dict:
    """What is done next: a pull, a small log of three, or a correction; with fresh marks."""
    number = len(found.wanted) + 1
    kind = rng.choices(["pull", "void", "log", "correction"], [2, 5, 2, 4])[0]
    voids = [one["rows"][0] for one in found.wanted.values() if one["kind"] == "void"]
    head = {"wanted": number, "kind": kind, "marks": [f"mark{number}"]}
    if kind == "correction" and voids:
        row = rng.choice(voids)
        return head | {"name": f"{row['outing']}/{row['pull']}"}
    if kind == "pull":
        return head | {"rows": [pulled_row(f"mark{number}", f"{number}", rng)]}
    if kind == "log":
        codes = [f"{number}.{end}" for end in range(3)]
        rows = [void_row(f"mark{code}", code) for code in codes]
        return head | {"marks": [f"mark{code}" for code in codes], "rows": rows}
    return head | {"kind": "void", "rows": [void_row(f"mark{number}", f"{number}")]}


def do(folder: Path, asked: dict) -> None:
    """One step by the service, as a page or the command line takes it: the store opened anew.

    Answers are worked out and kept after it, as soon as there is a fit.
    """
    store = Store.open(folder)
    storing(store, lambda: _store(store, asked))


def _store(store: Store, asked: dict) -> None:
    if asked["kind"] == "correction":
        found = corrections.preview_cells(store, [asked["name"]], {"notes": asked["marks"][0]})
        if found.revised:  # else it was done already, and nobody heard
            why = corrections.reason("tried on purpose", "deck")
            store.correct_pulls(found.pulls, corrections.BY_HAND, why)
        return
    reading = read_rows(asked["rows"], store.campaign(), "deck.csv")
    content = log_text(reading.pulls, store.campaign()).encode()
    imports.import_upload(store, "deck.csv", content)


def main(folder: Path, path: Path, seed: int, broken: str) -> None:
    """Log and correct until killed."""
    rng = random.Random(seed)
    found = ledger.read(path)
    asked, steps = found.unanswered(), 0
    while True:
        if asked is None:
            asked = next_step(found, rng)
            ledger.note(path, **asked)
            found.wanted[asked["wanted"]] = asked
        if broken == ACKNOWLEDGE_FIRST:
            ledger.note(path, acknowledged=asked["wanted"])
        do(folder, asked)
        if broken != ACKNOWLEDGE_FIRST:
            ledger.note(path, acknowledged=asked["wanted"])
        asked, steps = None, steps + 1
        time.sleep(rng.uniform(0.0, 0.03) if steps < HURRIED else 1.0)


def log_pulls(folder: Path, path: Path, count: int) -> None:
    """Finish what was not acknowledged, and log some pulls that count."""
    found = ledger.read(path)
    first = len(found.wanted) + 1
    steps = [found.unanswered()]
    for number in range(first, first + count):
        rows = [pulled_row(f"mark{number}", f"{number}", random.Random(number))]
        steps.append({"wanted": number, "kind": "pull", "marks": [f"mark{number}"], "rows": rows})
    for asked in filter(None, steps):
        ledger.note(path, **asked)
        do(folder, asked)
        ledger.note(path, acknowledged=asked["wanted"])
