"""How many pulls a question needs by each way to choose them, in rehearsed campaigns.

``python -m model.calibration.pulls_to_settle --results tests/calibration/results/pulls_to_settle``

One result file for each scenario and policy; run again it goes on where it stopped. The table is
written beside them.
"""

import argparse
import json
import logging
import time
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.calibration.command import at_least_one, end_with
from model.calibration.files import read_whole, write_atomically
from model.calibration.rehearsal_scenarios import (
    ALTERNATED,
    CAMPAIGNS,
    CHOSEN,
    PULLS_A_DAY,
    ROTATED,
    SCENARIOS,
    SEED,
    Scenario,
    policy_of,
    start_of,
)
from model.planning.rehearsal import Settings, rehearse
from model.planning.rehearsed import Rehearsed
from model.planning.start import Start

log = logging.getLogger("model.calibration.pulls_to_settle")  # also when run as a command

Array = NDArray[np.float64]

RESAMPLES: Final = 2000
MOST_RATIO: Final = {ROTATED: 0.75, ALTERNATED: 1.05}
"""Median pulls of the chosen against those of the other, at most."""


def main(arguments: list[str] | None = None) -> None:
    """Rehearse what is missing, then write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--results", type=Path, required=True)
    parser.add_argument("--campaigns", type=at_least_one, default=CAMPAIGNS)
    names = [scenario.name for scenario in SCENARIOS]
    parser.add_argument("--only", choices=names, default="", help="this scenario only")
    given = parser.parse_args(arguments)
    logging.basicConfig(format="%(message)s", level=logging.INFO)
    given.results.mkdir(parents=True, exist_ok=True)
    for scenario in SCENARIOS:
        if given.only in {"", scenario.name}:
            _run(scenario, given.results, given.campaigns)
    write_atomically(given.results / "table.md", table_text(given.results))


def _run(scenario: Scenario, folder: Path, n_campaign: int) -> None:
    for name in scenario.policies:
        if _file(folder, scenario, name).exists():
            continue
        start = _start(scenario)
        settings = Settings(
            n_campaign=n_campaign,
            most_pulls=scenario.most_pulls,
            pulls_a_day=PULLS_A_DAY,
            seed=SEED,
        )
        begun = time.perf_counter()
        found = rehearse(start, policy_of(name, start), settings)
        result = _result(found, time.perf_counter() - begun)
        write_atomically(_file(folder, scenario, name), json.dumps(result, indent=1) + "\n")
        log.info("%s %s: %s s", scenario.name, name, result["seconds"])


@cache
def _start(scenario: Scenario) -> Start:
    return start_of(scenario)


def _file(folder: Path, scenario: Scenario, policy: str) -> Path:
    return folder / f"{scenario.name}-{policy}.json"


def _result(found: Rehearsed, seconds: float) -> dict[str, object]:
    median = found.pulls_to_settle()
    return {
        "campaigns": found.n_campaign,
        "most_pulls": found.most_pulls,
        "median": None if np.isinf(median) else median,
        "settled_at": found.settled_at.tolist(),
        "finding": found.finding.tolist(),
        "region": found.region.tolist(),
        "not_known": int(np.sum(found.unknown_at > 0)),
        "lowest_worth": round(float(found.lowest_worth.min()), 1),
        "moves": int(found.n_moves.sum()),
        "hours": round(float(np.mean(found.minutes)) / 60, 2),
        "seconds": round(seconds, 1),
    }


HEAD: Final = (
    "| scenario | chosen by | campaigns | settled | half settled after | pulls, against the "
    "other way | wrong of settled | not known | lowest worth, draws |\n"
    "|---|---|---:|---:|---:|---:|---:|---:|---:|"
)


def table_text(folder: Path) -> str:
    """The table of all results that are there."""
    lines = [HEAD]
    for scenario in SCENARIOS:
        for name in scenario.policies:
            path = _file(folder, scenario, name)
            if path.exists():
                lines.append(_line(scenario, name, folder))
    return "\n".join(lines) + "\n"


def _line(scenario: Scenario, name: str, folder: Path) -> str:
    found = read_whole(_file(folder, scenario, name), json.loads)
    finding, region = np.array(found["finding"]), np.array(found["region"])
    is_settled = finding >= 0
    wrong = int(np.sum(is_settled & (finding != region)))
    share = wrong / max(int(is_settled.sum()), 1)
    median = "–" if found["median"] is None else f"{found['median']:.0f}"
    return (
        f"| {scenario.name} | {name} | {found['campaigns']} | {is_settled.mean():.1%} | {median} | "
        f"{_against(scenario, name, folder)} | {wrong} ({share:.1%}) | {found['not_known']} | "
        f"{found['lowest_worth']:.0f} |"
    )


def _against(scenario: Scenario, name: str, folder: Path) -> str:
    """Ratio of pulls of the chosen to those of the other, where both have settled as many."""
    other = scenario.policies[-1]
    if name != CHOSEN or not _file(folder, scenario, other).exists():
        return ""
    mine, theirs = (
        _pulls(read_whole(_file(folder, scenario, one), json.loads)) for one in (name, other)
    )
    share = min(0.5, *(float(np.mean(np.isfinite(pulls))) for pulls in (mine, theirs)))
    if share == 0:
        return "–"
    ratio = _ratio(mine, theirs, share)
    low, high = _limits(mine, theirs, share)
    at = "" if share >= 0.5 else f" at {share:.0%} settled"
    verdict = "" if ratio <= MOST_RATIO[other] else ", not met"
    return f"{ratio:.2f} ({low:.2f} to {high:.2f}){at}; at most {MOST_RATIO[other]}{verdict}"


def _pulls(found: dict[str, object]) -> Array:
    """Pulls to settle of every campaign; infinite where it was not."""
    settled = np.array(found["settled_at"], dtype=float)
    return np.where(np.array(found["finding"]) >= 0, settled, np.inf)


def _ratio(mine: Array, theirs: Array, share: float) -> float:
    ends = [np.quantile(pulls, share, method="inverted_cdf") for pulls in (mine, theirs)]
    return float(ends[0] / ends[1]) if np.isfinite(ends).all() else float("nan")


def _limits(mine: Array, theirs: Array, share: float) -> tuple[float, float]:
    """Limits of the ratio at 95 %, by campaigns drawn again (percentile bootstrap)."""
    rng = np.random.default_rng(SEED)
    again = [
        _ratio(rng.choice(mine, mine.size), rng.choice(theirs, theirs.size), share)
        for _ in range(RESAMPLES)
    ]
    low, high = np.nanquantile(again, (0.025, 0.975))
    return float(low), float(high)


if __name__ == "__main__":
    end_with(main)
