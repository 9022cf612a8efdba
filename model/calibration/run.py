"""Run what is missing of a table, and write the table.

``python -m model.calibration.run --table comparisons --results DIR --jobs 2``

Each campaign's result is a file of its own, so a run that was killed goes on
where it stopped: the same command again.
"""

import argparse
import logging
import os
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from joblib import Parallel, delayed

from model.base.errors import InputError
from model.calibration.engine import Engine, EngineMaker
from model.calibration.result import read_result_as, write_result
from model.calibration.scenario import PLANS, Scenario, read_plan
from model.calibration.tables import TABLES

log = logging.getLogger("model.calibration.run")  # also when run as a command


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the missing campaigns of a planned table, then write its table."""
    parser = argparse.ArgumentParser(description="Run a calibration table; goes on where it was.")
    parser.add_argument("--table", choices=sorted(PLANS), required=True)
    parser.add_argument("--results", type=Path, required=True)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--first", type=int, default=None, help="only the first so many campaigns")
    parser.add_argument("--only-table", action="store_true", help="write the table and stop")
    given = parser.parse_args(arguments)
    logging.basicConfig(format="%(message)s")
    logging.getLogger("model").setLevel(logging.INFO)
    plan = read_plan(given.results)
    if plan.table != given.table:
        raise InputError(f"{given.results} holds the table {plan.table}", hint="Name that table.")
    scenarios = plan.scenarios[: given.first]
    if not given.only_table:
        from model.calibration import fitting  # a table alone needs no sampler

        make_engine = getattr(fitting, TABLES[plan.table].engine)
        run_campaigns(scenarios, given.results, make_engine, jobs=given.jobs)
    log.info("table in %s", TABLES[plan.table].write(given.results))


def run_campaigns(
    scenarios: Sequence[Scenario], folder: Path, make_engine: EngineMaker, *, jobs: int = 1
) -> int:
    """Run every scenario that has no result yet.

    Parameters
    ----------
    make_engine : callable
        Called once in each process; its engine is kept, machine code and all.
    jobs : int
        Processes.

    Returns
    -------
    int
        How many were run.
    """
    missing = [
        scenario
        for scenario in scenarios
        if read_result_as(TABLES[scenario.table].kind, folder, scenario) is None
    ]
    log.info("%d of %d campaigns to run", len(missing), len(scenarios))
    runs = Parallel(n_jobs=jobs, batch_size=1, return_as="generator_unordered")(
        delayed(run_campaign)(scenario, folder, make_engine) for scenario in missing
    )
    for done, (number, seconds) in enumerate(runs, start=1):
        log.info("campaign %d in %.1f s, %d of %d done", number, seconds, done, len(missing))
    return len(missing)


def run_campaign(scenario: Scenario, folder: Path, make_engine: EngineMaker) -> tuple[int, float]:
    """Run one scenario and keep its result.

    Returns
    -------
    int, float
        Its number, and how many seconds its fits took.
    """
    result = TABLES[scenario.table].judge(scenario, _engine(make_engine))
    write_result(folder, result)
    return scenario.number, result.fit_seconds


@cache
def _engine(make_engine: EngineMaker) -> Engine:
    """One engine a process: compiling is what takes long."""
    return make_engine()


if __name__ == "__main__":
    # By its own name: what worker processes are handed must not live in __main__.
    from model.calibration.run import main as run_main

    run_main()
