"""A run on a Dask cluster: two workers of this machine, each a process of its own."""

import os
import time
from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path

import pytest
from distributed import LocalCluster

from model.base.errors import FitFailed, InputError
from model.calibration import run
from model.calibration.engine import Engine
from model.calibration.result import read_result
from model.calibration.run import run_campaigns
from model.calibration.scenario import comparisons_plan

SCENARIOS = comparisons_plan().scenarios[:6]


@pytest.fixture(scope="module")
def scheduler() -> Iterator[str]:
    with LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address=None,
        death_timeout=300,  # seconds: a busy machine is slow to start two
    ) as cluster:
        cluster.wait_for_workers(2)
        yield cluster.scheduler_address


def _telling_maker():
    """Makes a stand-in that fits nothing, and says in which process it did not."""

    def make() -> Engine:  # inside a function, so that it travels whole
        def fit(*_: object) -> None:
            time.sleep(0.3)
            raise FitFailed(f"process {os.getpid()}")

        return Engine(fit=fit, answer=None)  # type: ignore[arg-type]

    return make


def _processes(folder: Path) -> set[str]:
    results = [read_result(folder, scenario) for scenario in SCENARIOS]
    assert all(result is not None and result.scenario in SCENARIOS for result in results)
    return {result.refusal for result in results if result is not None}


def test_every_worker_takes_part_and_results_are_kept_here(scheduler: str, tmp_path: Path) -> None:
    assert run_campaigns(SCENARIOS, tmp_path, _telling_maker(), scheduler=scheduler) == 6
    assert len(_processes(tmp_path)) == 2
    assert f"process {os.getpid()}" not in _processes(tmp_path)
    assert run_campaigns(SCENARIOS, tmp_path, _telling_maker(), scheduler=scheduler) == 0


def test_without_the_cluster_all_is_done_here(
    scheduler: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the test above would see if the scheduler were passed over."""
    monkeypatch.setattr(run, "_workers", lambda *_: nullcontext())
    run_campaigns(SCENARIOS, tmp_path, _telling_maker(), scheduler=scheduler)
    assert _processes(tmp_path) == {f"process {os.getpid()}"}


def test_what_breaks_on_a_worker_is_told_and_what_was_done_stays(
    scheduler: str, tmp_path: Path
) -> None:
    def make() -> Engine:
        def fit(campaign: object, pulls: object, seed: int) -> None:
            if seed == SCENARIOS[-1].seed:
                while len(list(tmp_path.glob("campaigns/*.json"))) < len(SCENARIOS) - 1:
                    time.sleep(0.1)
                raise ZeroDivisionError("a fault of the program")
            raise FitFailed("never fits")

        return Engine(fit=fit, answer=None)  # type: ignore[arg-type]

    with pytest.raises(ZeroDivisionError, match="a fault of the program"):
        run_campaigns(SCENARIOS, tmp_path, make, scheduler=scheduler)
    assert len(list((tmp_path / "campaigns").iterdir())) == len(SCENARIOS) - 1


def test_a_scheduler_that_is_not_there_is_one_clear_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run, "SCHEDULER_WAIT_S", 1)
    with pytest.raises(InputError, match=r"no Dask scheduler answers at tcp://127\.0\.0\.1:9"):
        run_campaigns(SCENARIOS, tmp_path, _telling_maker(), scheduler="tcp://127.0.0.1:9")
