"""A run goes on where it stopped, however it was stopped."""

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from model.base.errors import FitFailed, InputError
from model.calibration.engine import Engine
from model.calibration.files import write_atomically
from model.calibration.result import read_result, result_path
from model.calibration.run import run_campaigns
from model.calibration.scenario import Scenario, comparisons_plan, write_plan

MakeEngine = Callable[..., Engine]

SLOW_RUN = """
import sys, time
from pathlib import Path
from model.base.errors import FitFailed
from model.calibration.engine import Engine
from model.calibration.run import run_campaigns
from model.calibration.scenario import comparisons_plan

def slow():
    def fit(campaign, pulls, seed):
        time.sleep(0.2)
        raise FitFailed("a stand-in that never fits")
    return Engine(fit=fit, answer=None)

run_campaigns(comparisons_plan().scenarios[:40], Path(sys.argv[1]), slow)
"""


def _count(folder: Path) -> int:
    return len(list((folder / "campaigns").glob("*.json")))


def test_only_what_is_missing_is_run(
    tmp_path: Path, scenarios: tuple[Scenario, ...], make_knowing_engine: MakeEngine
) -> None:
    assert run_campaigns(scenarios[:2], tmp_path, make_knowing_engine) == 2
    kept = {path: path.stat().st_mtime_ns for path in (tmp_path / "campaigns").iterdir()}
    assert run_campaigns(scenarios, tmp_path, make_knowing_engine) == 4
    assert {path: path.stat().st_mtime_ns for path in kept} == kept
    assert run_campaigns(scenarios, tmp_path, make_knowing_engine) == 0


def test_a_result_is_read_back_as_it_was(
    tmp_path: Path, scenarios: tuple[Scenario, ...], make_knowing_engine: MakeEngine
) -> None:
    run_campaigns(scenarios[:1], tmp_path, make_knowing_engine)
    result = read_result(tmp_path, scenarios[0])
    assert result is not None
    assert result.scenario == scenarios[0]
    assert len(result.comparisons) == 8
    assert result.refusal == ""


def test_a_run_killed_halfway_goes_on(tmp_path: Path, make_knowing_engine: MakeEngine) -> None:
    script = tmp_path / "slow_run.py"
    script.write_text(SLOW_RUN, encoding="utf-8")
    folder = tmp_path / "results"
    process = subprocess.Popen([sys.executable, str(script), str(folder)])
    deadline = time.monotonic() + 180
    while _count(folder) < 2 and time.monotonic() < deadline:
        time.sleep(0.05)
    process.kill()
    process.wait()
    done = _count(folder)
    assert 2 <= done < 40
    scenarios = comparisons_plan().scenarios[: done + 2]
    kept = [read_result(folder, scenario) for scenario in scenarios]
    assert sum(result is not None for result in kept) == done
    assert run_campaigns(scenarios, folder, make_knowing_engine) == 2
    assert all(read_result(folder, scenario) for scenario in scenarios)


def test_a_write_that_breaks_off_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "result.json"
    write_atomically(path, "old")

    def no_disk(_: int) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(os, "fsync", no_disk)
    with pytest.raises(OSError, match="no space"):
        write_atomically(path, "new")
    assert path.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_fit_that_fails_is_a_result(tmp_path: Path, scenarios: tuple[Scenario, ...]) -> None:
    def never_fits() -> Engine:
        def fit(*_: object) -> None:
            raise FitFailed("12 divergences")

        return Engine(fit=fit, answer=None)  # type: ignore[arg-type]

    run_campaigns(scenarios[:1], tmp_path, never_fits)
    result = read_result(tmp_path, scenarios[0])
    assert result is not None
    assert result.refusal == "12 divergences"
    assert run_campaigns(scenarios[:1], tmp_path, never_fits) == 0


def test_a_result_of_another_scenario_is_refused(
    tmp_path: Path, scenarios: tuple[Scenario, ...], make_knowing_engine: MakeEngine
) -> None:
    write_plan(comparisons_plan(6), tmp_path)
    run_campaigns(scenarios[:1], tmp_path, make_knowing_engine)
    result_path(tmp_path, scenarios[0]).rename(result_path(tmp_path, scenarios[1]))
    with pytest.raises(InputError, match="another scenario"):
        read_result(tmp_path, scenarios[1])
