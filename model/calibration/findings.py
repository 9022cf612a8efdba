"""How many campaigns of a known truth are ever settled, each way, when every pull is looked at.

``python -m model.calibration.findings --results tests/calibration/results/findings``

Truths from the priors are settled wrongly as seldom as the rule says, whatever the rule for
stopping. At one fixed truth that need not be so: campaigns with no difference at all, or one at the
very end of the band, are rehearsed here with a look after each pull. One result file a truth; run
again it goes on where it stopped.
"""

import argparse
import json
import logging
import time
from pathlib import Path
from typing import Final

import numpy as np

from model.calibration.command import at_least_one, end_with
from model.calibration.files import write_atomically
from model.calibration.findings_table import table_text
from model.calibration.rehearsal_scenarios import (
    ALTERNATED,
    PULLS_A_DAY,
    REFITTED,
    Scenario,
    policy_of,
    start_of,
)
from model.planning.rehearsal import Settings
from model.planning.sweep import LANDMARKS, Task, effects_of, sweep

log = logging.getLogger("model.calibration.findings")  # also when run as a command

SEED: Final = 101
"""Of the first truth, each other one more: none of those by which the rule was chosen."""
CAMPAIGNS: Final = {"leader-one-anchor-priors": 500, "two-anchors-priors": 1000}
"""A share of 1 % is told from 2 % in a thousand; a treatment has never come near."""


def main(arguments: list[str] | None = None) -> None:
    """Rehearse what is missing, then write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--results", type=Path, required=True)
    parser.add_argument("--jobs", type=at_least_one, default=1, help="processes")
    given = parser.parse_args(arguments)
    logging.basicConfig(format="%(message)s", level=logging.INFO)
    given.results.mkdir(parents=True, exist_ok=True)
    for scenario in REFITTED:
        effects = effects_of(scenario.question().band)
        for place, effect in enumerate(effects):
            _run(given.results, scenario, place, effect, given.jobs)
    names = [scenario.name for scenario in REFITTED]
    write_atomically(given.results / "table.md", table_text(given.results, names))


def _run(folder: Path, scenario: Scenario, place: int, effect: float, n_jobs: int) -> None:
    path = folder / f"{scenario.name}-{place}.json"
    if path.exists():
        return
    start = start_of(scenario)
    settings = Settings(
        n_campaign=CAMPAIGNS[scenario.name],
        most_pulls=scenario.most_pulls,
        pulls_a_day=PULLS_A_DAY,
        seed=SEED + place,
        true_effect=effect,
    )
    begun = time.perf_counter()
    (found,) = sweep(
        start, [Task(policy=policy_of(ALTERNATED, start), settings=settings)], n_jobs=n_jobs
    )
    result = {
        "scenario": scenario.name,
        "share_of_band": LANDMARKS[place],
        "true_effect": round(effect, 5),
        "furthest_from_it": round(float(np.abs(found.effect - effect).max()), 5),
        "most_pulls": found.most_pulls,
        "settled_at": found.settled_at.tolist(),
        "finding": found.finding.tolist(),
        "not_known": int(np.sum(found.unknown_at > 0)),
        "seconds": round(time.perf_counter() - begun, 1),
    }
    write_atomically(path, json.dumps(result) + "\n")
    log.info("%s, %+.1f of the band: %s s", scenario.name, LANDMARKS[place], result["seconds"])


if __name__ == "__main__":
    end_with(main)
