"""Put the results of the long runs into tests/RESULTS.md, between their marks.

``python tests/reliability/results_page.py --run kills --commit 0000000``
"""

import argparse
import json
import os
import platform
from pathlib import Path

from model.calibration.files import write_atomically
from model.calibration.results_page import with_section

PAGE = Path(__file__).parents[1] / "RESULTS.md"
RESULTS = Path(__file__).parent / "results"


def main(arguments: list[str] | None = None) -> None:
    """Write the section of every run that left a result."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--run", choices=["kills", "two_writers"], required=True)
    parser.add_argument("--commit", required=True, help="of the code that was run")
    given = parser.parse_args(arguments)
    section = {"kills": kills, "two_writers": two_writers}[given.run](given.commit)
    write_atomically(PAGE, with_section(PAGE.read_text("utf-8"), given.run, section))


def _found(name: str) -> dict:
    return json.loads((RESULTS / f"{name}.json").read_text("utf-8"))


def kills(commit: str) -> str:
    """Where kills landed, and what was lost: of all at once, and of two of them alone."""
    runs = {
        "all": _found("kills"),
        "only openings": _found("kills_of_openings"),
        "only the worker": _found("kills_of_the_worker"),
    }
    rows = "\n".join(
        f"| {run} | {hit} | {count} |"
        for run, found in runs.items()
        for hit, count in found["hits"].items()
    )
    sums = "\n".join(
        f"| {run} | {found['kills']} | {found['seed']} | {found['acknowledged']} | "
        f"{found['marks_acknowledged']} | {len(found['faults'])} | {found['passed_fits']} | "
        f"{'–' if found['caught_up_s'] is None else found['caught_up_s']} |"
        for run, found in runs.items()
    )
    lasted_s = sum(found["killing_s"] for found in runs.values())
    return f"""## Killed at random moments

    uv run python tests/reliability/kills.py --kills 500 --seed 1 --work FOLDER --results FILE.json

{_circumstances(commit, "seeds below", lasted_s)}

SIGKILLs over one store: of whoever logs and corrects pulls, of the fitting worker, and of openings
of an old store that is being brought up to date (`--only opening`, `--only worker`: these alone).
Each is begun again at once. The moments, aimed or not, are drawn by the seed.

| run | kills | seed | steps told | pulls in them | faults | fits passed | caught up after, s |
|---|---:|---:|---:|---:|---:|---:|---:|
{sums}

Faults: lost, there twice or in part, never asked for, not opened, not caught up.

| run | what the kill was in the middle of | kills |
|---|---|---:|
{rows}
"""


def two_writers(commit: str) -> str:
    """How long writers and the reader waited, and what was lost."""
    found = _found("two_writers")
    lasted_s = sum(one["lasted_s"] for one in found.values())
    rows = "\n".join(
        f"| {kind} | {2 * one['pulls_each']} | {one['stored']} | {one['add_median_ms']} | "
        f"{one['add_longest_ms']} | {one['reads']} | {len(one['faults'])} |"
        for kind, one in found.items()
    )
    return f"""## Two writers and a reader

    uv run python tests/reliability/two_writers.py --pulls {found["own pulls"]["pulls_each"]} \\
        --work FOLDER --results tests/reliability/results/two_writers.json

{_circumstances(commit, "seed: each pull's own number", lasted_s)}

Two processes add pulls one by one, the store opened anew for each, while a third one opens and
reads it all the time. Once with pulls of their own, once both with the same.

| pulls | added | stored | median, ms | longest, ms | reads meanwhile | lost, twice, or errors |
|---|---:|---:|---:|---:|---:|---:|
{rows}
"""


def _circumstances(commit: str, seed: str, lasted_s: float) -> str:
    python = ".".join(platform.python_version_tuple()[:2])
    return (
        f"{seed} · commit {commit} · {os.cpu_count()} cores shared with other work, "
        f"{platform.system()}, Python {python} · {lasted_s / 60:.0f} min"
    )


if __name__ == "__main__":
    main()
