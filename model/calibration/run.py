"""Run what is missing of a table, and write the table.

``python -m model.calibration.run --table comparisons --results DIR --jobs 2``

Each campaign's result is a file of its own, so a run that was killed goes on
where it stopped: the same command again. With ``--scheduler ADDRESS`` the
campaigns run on the workers of a Dask cluster, which need this program and no
folder in common: results come back and are kept here.
"""

import argparse
import logging
import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any, Final

from joblib import Parallel, delayed, parallel_config

from model.base.errors import InputError
from model.calibration.command import at_least_one, end_with
from model.calibration.engine import Engine, EngineMaker
from model.calibration.result import Result, read_result_as, write_result
from model.calibration.scenario import PLANS, Scenario, read_plan
from model.calibration.tables import TABLES, write_table

log = logging.getLogger("model.calibration.run")  # also when run as a command

SCHEDULER_WAIT_S: Final = 10
ADDRESS: Final = re.compile(r"[a-z]+://\S+:\d+")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the missing campaigns of a planned table, then write its table."""
    parser = argparse.ArgumentParser(description="Run a calibration table; goes on where it was.")
    parser.add_argument("--table", choices=sorted(PLANS), required=True)
    parser.add_argument("--results", type=Path, required=True)
    parser.add_argument("--jobs", type=at_least_one, default=os.cpu_count() or 1)
    parser.add_argument("--scheduler", help="of a Dask cluster to run on, as tcp://10.0.0.1:8786")
    parser.add_argument(
        "--first", type=at_least_one, default=None, help="only the first so many campaigns"
    )
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
        run_campaigns(
            scenarios, given.results, make_engine, jobs=given.jobs, scheduler=given.scheduler
        )
    log.info("table in %s", write_table(given.results))


def run_campaigns(
    scenarios: Sequence[Scenario],
    folder: Path,
    make_engine: EngineMaker,
    *,
    jobs: int = 1,
    scheduler: str | None = None,
) -> int:
    """Run every scenario that has no result yet.

    Parameters
    ----------
    make_engine : callable
        Called once in each process; its engine is kept, machine code and all.
    jobs : int
        Processes on this machine.
    scheduler : str or None
        Address of a Dask scheduler; its workers, all of them, are then used instead.

    Returns
    -------
    int
        How many were run.

    Raises
    ------
    InputError
        If Dask is not installed, or no scheduler answers.
    """
    missing = [
        scenario
        for scenario in scenarios
        if read_result_as(TABLES[scenario.table].kind, folder, scenario) is None
    ]
    log.info("%d of %d campaigns to run", len(missing), len(scenarios))
    with _workers(jobs, scheduler):
        runs = Parallel(batch_size=1, return_as="generator_unordered")(
            delayed(run_campaign)(scenario, make_engine) for scenario in missing
        )
        for done, result in enumerate(runs, start=1):
            write_result(folder, result)
            number, seconds = result.scenario.number, result.fit_seconds
            log.info("campaign %d in %.1f s, %d of %d done", number, seconds, done, len(missing))
    return len(missing)


@contextmanager
def _workers(jobs: int, scheduler: str | None) -> Iterator[None]:
    """Where the campaigns run: in processes of this machine, or on a cluster."""
    if scheduler is None:
        with parallel_config(n_jobs=jobs):
            yield
        return
    if not ADDRESS.fullmatch(scheduler):  # else it is waited for, and said in many lines
        raise InputError(
            f"{scheduler!r} is no address of a Dask scheduler",
            hint="Name it as `dask scheduler` prints it, like tcp://10.0.0.1:8786.",
        )
    try:
        from distributed import Client
    except ImportError as error:
        raise InputError(
            "a scheduler was named, and Dask is not installed",
            hint="Install the extra: uv sync --extra cluster.",
        ) from error
    try:
        connect: Any = Client  # it ships only some types
        client = connect(scheduler, timeout=SCHEDULER_WAIT_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise InputError(
            f"no Dask scheduler answers at {scheduler}",
            hint="Start one with `dask scheduler`, and name the address that it prints.",
        ) from error
    with client, parallel_config(backend="dask", client=client, n_jobs=-1):
        yield


def run_campaign(scenario: Scenario, make_engine: EngineMaker) -> Result:
    """Run one scenario, on whatever machine."""
    return TABLES[scenario.table].judge(scenario, _engine(make_engine))


@cache
def _engine(make_engine: EngineMaker) -> Engine:
    """One engine a process: compiling is what takes long."""
    return make_engine()


if __name__ == "__main__":
    # By its own name: what worker processes are handed must not live in __main__.
    from model.calibration.run import main as run_main

    end_with(run_main)
