"""Coverage of the demo's standing questions over many seeds of its pulls.

``python -m model.calibration.demo_seeds --campaign FILE --results DIR --jobs 2``

The truth is the demo's own and stays; only the pulls are simulated anew. Each
seed's result is a small file of its own, so that a run goes on where it stopped.
"""

import argparse
import logging
import os
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Final

from joblib import Parallel, delayed

from model.base.errors import FitFailed
from model.calibration.engine import Engine, EngineMaker
from model.calibration.files import write_atomically
from model.calibration.limits import clustered_share
from model.ingest.campaign_file import read_campaign
from model.records.base import Record
from model.records.campaign import Campaign
from model.simulate.hollow_sound import hollow_sound_world, simulate_hollow_sound
from model.simulate.true_answer import true_effect

log = logging.getLogger("model.calibration.demo_seeds")

SEEDS: Final = tuple(range(1, 41))
"""Fixed before the first run; 1 is the seed of the published demo data."""

ERROR_RATE: Final = 0.01
"""Chance that any limit of the table misses 90 % by luck alone, split over its rows."""


class QuestionCoverage(Record):
    """One question's truth and its 90 % interval, as shown (ratio or difference)."""

    question: str
    truth: float
    lower: float
    upper: float

    @property
    def is_covered(self) -> bool:
        """Whether the interval holds the truth."""
        return self.lower <= self.truth <= self.upper


class SeedResult(Record):
    """What one seed gave; `refusal` says why there are no answers."""

    seed: int
    pulls: int
    divergences: int
    refusal: str = ""
    questions: tuple[QuestionCoverage, ...] = ()


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the missing seeds, then write the table."""
    parser = argparse.ArgumentParser(description="Coverage over seeds of the demo; goes on.")
    parser.add_argument("--campaign", type=Path, required=True)
    parser.add_argument("--results", type=Path, required=True)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--only-table", action="store_true", help="write the table and stop")
    given = parser.parse_args(arguments)
    if not given.only_table:
        from model.calibration.fitting import brief_engine  # a table alone needs no sampler

        run_seeds(given.campaign, given.results, brief_engine, jobs=given.jobs)
    table = table_text(read_results(given.results))
    write_atomically(given.results / "table.md", table)


def run_seeds(
    campaign_file: Path,
    folder: Path,
    make_engine: EngineMaker,
    *,
    seeds: Sequence[int] = SEEDS,
    jobs: int = 1,
) -> int:
    """Run every seed that has no result yet; returns how many those were."""
    folder.mkdir(parents=True, exist_ok=True)
    missing = [seed for seed in seeds if not _path(folder, seed).exists()]
    Parallel(n_jobs=jobs, batch_size=1)(
        delayed(run_seed)(campaign_file, folder, seed, make_engine) for seed in missing
    )
    return len(missing)


def run_seed(campaign_file: Path, folder: Path, seed: int, make_engine: EngineMaker) -> None:
    """Simulate, fit and ask one seed, and keep what it gave."""
    result = judge_seed(read_campaign(campaign_file), seed, _engine(make_engine))
    write_atomically(_path(folder, seed), result.model_dump_json(indent=1) + "\n")


@cache
def _engine(make_engine: EngineMaker) -> Engine:
    """One engine a process: compiling is what takes long."""
    return make_engine()


def judge_seed(campaign: Campaign, seed: int, engine: Engine) -> SeedResult:
    """One seed's intervals beside the truths."""
    pulls = simulate_hollow_sound(campaign, seed)
    world = hollow_sound_world(campaign)
    try:
        posterior = engine.fit(campaign, pulls, seed)
    except FitFailed as failure:
        return SeedResult(seed=seed, pulls=len(pulls), divergences=0, refusal=failure.message)
    check = posterior.fit_check
    found = []
    for question in campaign.questions if check.status == "passed" else ():
        interval = engine.answer(question, posterior, pulls).summary.effect.interval
        truth = true_effect(world, question)
        found.append(
            QuestionCoverage(
                question=question.name, truth=truth, lower=interval.lower, upper=interval.upper
            )
        )
    return SeedResult(
        seed=seed,
        pulls=len(pulls),
        divergences=check.divergences,
        refusal="; ".join(check.reasons),
        questions=tuple(found),
    )


def _path(folder: Path, seed: int) -> Path:
    return folder / f"seed_{seed:03d}.json"


def read_results(folder: Path) -> tuple[SeedResult, ...]:
    """Every kept result, by seed."""
    paths = sorted(folder.glob("seed_*.json"))
    return tuple(SeedResult.model_validate_json(path.read_text("utf-8")) for path in paths)


def table_text(results: Sequence[SeedResult]) -> str:
    """The table: coverage of each question and of all, refused fits counted as misses."""
    names = list(dict.fromkeys(one.question for result in results for one in result.questions))
    refused, divergent = (
        sum(bool(result.refusal) for result in results),
        sum(result.divergences for result in results),
    )
    head = (
        f"{len(results)} seeds; {refused} fits refused (counted as misses); {divergent} divergent "
        f"draws. Limits: exact (Clopper-Pearson), {ERROR_RATE:.0%} overall over the rows; all "
        "questions together clustered by seed.\n\n"
        "| question | truth | covered | 90 % interval covers | 90 % within the limits |\n"
        "|---|---:|---:|---:|---|"
    )
    return (
        "\n".join([head, *(_line(name, results, len(names) + 1) for name in [*names, ""])]) + "\n"
    )


def _line(name: str, results: Sequence[SeedResult], n_row: int) -> str:
    """One question's line; all of them together where it has no name."""
    hits: list[bool] = []
    clusters: list[int] = []
    truth = 0.0
    asked = max((len(result.questions) for result in results), default=1)
    for result in results:
        chosen = [one for one in result.questions if name in {"", one.question}]
        for one in chosen:
            truth = one.truth
        covered = [one.is_covered for one in chosen] or [False] * (1 if name else asked)
        hits += covered
        clusters += [result.seed] * len(covered)
    share = clustered_share(hits, clusters, level=1 - ERROR_RATE / n_row)
    if share is None:
        return f"| {name} | | 0 of 0 | | |"
    verdict = "yes" if share.lower <= 0.9 <= share.upper else "NO"
    return (
        f"| {name or 'all questions'} | {f'{truth:.3g}' if name else ''} | {sum(hits)} of "
        f"{len(hits)} | {share.value:.1%} ({share.lower:.1%}–{share.upper:.1%}) | {verdict} |"
    )


if __name__ == "__main__":
    # By its own name: what worker processes are handed must not live in __main__.
    from model.calibration.demo_seeds import main as run_main

    logging.basicConfig(level=logging.INFO, format="%(message)s")
    run_main()
