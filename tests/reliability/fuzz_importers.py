"""Fuzz of the importers: many spoilt files of each kind, in rounds that can be resumed.

    python tests/reliability/fuzz_importers.py --count 20000 --seed 1

A round is one kind and one seed; each that is done has a small file under results/importers and
is not run again. What is printed in the end is the table of tests/RESULTS.md.
"""

import argparse
import hashlib
import json
import resource
import statistics
import tempfile
import traceback
from collections import Counter
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from importer_trials import ACCEPTED, MOST_MEGABYTES, MOST_SECONDS, STAGES, Ground

RESULTS = Path(__file__).parent / "results" / "importers"
ROUND = 500
TRACED = 10
"""One in so many has its memory traced; the process's own peak holds for all of them."""
SHARES = {"csv": 0.25, "xlsx": 0.2, "toml": 0.225, "package": 0.2, "draft": 0.125}


def run_round(ground: Ground, kind: str, number: int, count: int = ROUND) -> dict:
    """`count` files of one kind from one seed; what is wrong is counted, not raised."""
    outcomes = []
    wrong = []

    @settings(
        max_examples=count,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(content=ground.strategy(kind), is_new=st.booleans())
    def one(content, is_new):
        if len(outcomes) >= count:
            return
        is_traced = len(outcomes) % TRACED == 0
        outcome = ground.try_one(kind, content, is_new=is_new, is_traced=is_traced)
        outcomes.append(outcome)
        if outcome.wrong:
            wrong.append(_described(outcome, content, is_new=is_new))

    while len(outcomes) < count:  # fewer are made where two come out alike
        seed(f"{number}/{len(outcomes)}")(one)()
    stages = Counter(outcome.stage for outcome in outcomes)
    order = ["file", *(name for name, _, _ in STAGES[kind]), ACCEPTED]
    return {
        "kind": kind,
        "seed": number,
        "files": len(outcomes),
        "stages": {name: stages[name] for name in order},
        "errors": Counter(type(outcome.error).__name__ for outcome in outcomes if outcome.error),
        "seconds": _spread([outcome.seconds for outcome in outcomes], 4),
        "megabytes": _spread([outcome.megabytes for outcome in outcomes[::TRACED]], 2),
        "process_megabytes": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024),
        "wrong": wrong,
    }


def _spread(values: list[float], digits: int) -> dict:
    return {
        "median": round(statistics.median(values), digits),
        "most": round(max(values), digits),
    }


def _described(outcome, content: bytes, *, is_new: bool) -> dict:
    """A file that went wrong, kept beside the run so that it can be looked at."""
    name = f"kedgewise-{outcome.kind}-{hashlib.sha256(content).hexdigest()[:12]}"
    (Path(tempfile.gettempdir()) / name).write_bytes(content)
    trace = traceback.format_exception(outcome.error) if outcome.error else []
    return {"file": name, "is_new": is_new, "wrong": outcome.wrong[:300], "where": trace[-3:-1]}


def rounds_of(count: int, first: int) -> list[tuple[str, int]]:
    """Kinds and seeds of the rounds that come to `count` files or more."""
    rounds = [
        (kind, first + i)
        for kind, share in SHARES.items()
        for i in range(round(count * share / ROUND))
    ]
    return sorted(rounds, key=lambda one: one[1])  # so that half a run has some of each kind


def table(results: list[dict]) -> str:
    """What the rounds came to, kind by kind, as a table for the results page."""
    lines = [
        "| importer | files | refused at | accepted | s: median, most | MB: median, most | wrong |",
        "| --- | ---: | --- | ---: | ---: | ---: | ---: |",
    ]
    for kind in dict.fromkeys(each["kind"] for each in results):
        mine = [each for each in results if each["kind"] == kind]
        files = sum(each["files"] for each in mine)
        counts: Counter = Counter()
        for each in mine:
            counts.update(each["stages"])
        at = ", ".join(
            f"{name} {counts[name] / files:.1%}" for name in mine[0]["stages"] if name != ACCEPTED
        )
        seconds, megabytes = (_cost(mine, what) for what in ("seconds", "megabytes"))
        wrong = sum(len(each["wrong"]) for each in mine)
        lines.append(
            f"| {kind} | {files} | {at} | {counts[ACCEPTED] / files:.1%} "
            f"| {seconds} | {megabytes} | {wrong} |"
        )
    return "\n".join(lines)


def _cost(rounds: list[dict], what: str) -> str:
    median = statistics.median(each[what]["median"] for each in rounds)
    return f"{median:.2g}, {max(each[what]['most'] for each in rounds):.2g}"


def main() -> None:
    """Run what is not there yet, and print what came of all."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kinds", nargs="+", choices=list(SHARES), default=list(SHARES))
    parser.add_argument("--results", type=Path, default=RESULTS)
    options = parser.parse_args()
    options.results.mkdir(parents=True, exist_ok=True)
    results = []
    with tempfile.TemporaryDirectory() as folder:
        ground = Ground(Path(folder))
        for kind, number in rounds_of(options.count, options.seed):
            if kind not in options.kinds:
                continue
            path = options.results / f"{kind}-{number:04d}.json"
            if not path.exists():
                found = run_round(ground, kind, number)
                path.write_text(json.dumps(found, indent=1) + "\n", "utf-8")
                print(kind, number, found["stages"], len(found["wrong"]), "wrong", flush=True)
            results.append(json.loads(path.read_text("utf-8")))
    print(f"bounds: {MOST_SECONDS:g} s, {MOST_MEGABYTES:g} MB a file")
    print(
        f"{sum(each['files'] for each in results)} files; at its peak the process took "
        f"{max(each['process_megabytes'] for each in results)} MB"
    )
    print(table(results))


if __name__ == "__main__":
    main()
