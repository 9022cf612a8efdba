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
    found = json.loads((RESULTS / f"{given.run}.json").read_text("utf-8"))
    section = {"kills": kills, "two_writers": two_writers}[given.run](found, given.commit)
    write_atomically(PAGE, with_section(PAGE.read_text("utf-8"), given.run, section))


def kills(found: dict, commit: str) -> str:
    """Where kills landed, and what was lost."""
    rows = "\n".join(f"| {hit} | {count} |" for hit, count in found["hits"].items())
    return f"""## Killed at random moments

    uv run python tests/reliability/kills.py --kills {found["kills"]} --seed {found["seed"]} \\
        --work FOLDER --results tests/reliability/results/kills.json

{_circumstances(commit, f"seed {found['seed']}", found["killing_s"])}

{found["kills"]} SIGKILLs over one store: of whoever logs and corrects pulls, of the fitting
worker, and of openings of an old store that is being brought up to date. Each is begun again at
once. The moments, aimed or not, are drawn by the seed.

| what the kill was in the middle of | kills |
|---|---:|
{rows}

Acknowledged: {found["acknowledged"]} steps, {found["marks_acknowledged"]} pulls and corrections.
**Lost, there twice, in part, or never asked for, and stores that did not open:
{len(found["faults"])}.** Fits that passed between kills: {found["passed_fits"]}. The worker, left
alone at the end, had caught up after {found["caught_up_s"]} s.
"""


def two_writers(found: dict, commit: str) -> str:
    """How long writers and the reader waited, and what was lost."""
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
