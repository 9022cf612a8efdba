"""Running the command line inside the test, with a fitter that never samples."""

import json
import shutil
import socket
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from app.cli import run

SMALL = Path(__file__).parent.parent / "service" / "data" / "small.toml"


@dataclass(frozen=True)
class Outcome:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Standard output, which must be one JSON object and nothing else."""
        return json.loads(self.out)


@pytest.fixture
def kedgewise(capsys, monkeypatch, tmp_path, fitter, made_up_answer) -> Callable[..., Outcome]:
    """Run one command in an empty folder, on the store ``./store`` unless told otherwise."""
    from model.questions import ask
    from model.service import fits

    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("KEDGEWISE_STORE", "./store")
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(fits, "sampler", lambda: fitter)
    monkeypatch.setattr(ask, "answer", made_up_answer)

    def call(*arguments: str) -> Outcome:
        capsys.readouterr()
        code = run(arguments)
        said = capsys.readouterr()
        return Outcome(code, said.out, said.err)

    return call


@pytest.fixture
def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def campaign_file(tmp_path) -> Path:
    return Path(shutil.copy(SMALL, tmp_path / "campaign.toml"))


@pytest.fixture
def log_file(tmp_path, small_campaign, small_pulls) -> Path:
    from model.ingest.log_writer import write_log

    write_log(small_pulls, small_campaign, tmp_path / "pulls.csv")
    return tmp_path / "pulls.csv"


@pytest.fixture
def fitted(kedgewise, campaign_file, log_file):
    """The command line on a store with a fit."""
    for arguments in (("new", str(campaign_file)), ("import", str(log_file)), ("fit",)):
        assert kedgewise(*arguments).code == 0
    return kedgewise
