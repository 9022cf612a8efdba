"""Web app and worker as people run them: real processes, the real sampler, a real kill."""

import os
import signal
import subprocess
import sys
import time

import pytest

from app.serving import require_free
from model.service import fits
from model.service.worker_state import worker_state
from model.store.store import Store

WAIT_S = 200


def _until(what, process, log):
    deadline = time.monotonic() + WAIT_S
    while not (found := what()):
        assert process.poll() is None, log.read_text()
        assert time.monotonic() < deadline, log.read_text()
        time.sleep(0.1)
    return found


@pytest.mark.fit
@pytest.mark.skipif(os.name == "nt", reason="needs to kill and to interrupt one process alone")
def test_a_killed_worker_is_started_again_and_catches_up(
    tmp_path, small_campaign, small_pulls, free_port
):
    store = Store.create(tmp_path / "store", small_campaign)
    store.add_pulls(small_pulls[:8], "day-1.csv")
    log = tmp_path / "log"
    with log.open("w") as output:
        process = subprocess.Popen(
            [
                *(sys.executable, "-c", "from app.cli import main; main()", "serve"),
                *("--store", str(store.folder), "--port", str(free_port)),
            ],
            stdout=output,
            stderr=output,
        )

    def state():
        return worker_state(store.folder)

    def fitted():
        newest = store.newest_stored()
        return 0 if newest is None else newest.pulls

    try:
        _until(lambda: fitted() == 7, process, log)
        store.add_pulls(small_pulls[8:], "day-2.csv")
        killed = _until(
            lambda: (found := state()) and found.doing == "fitting" and found.pulls == 15 and found,
            process,
            log,
        )
        os.kill(killed.pid, signal.SIGKILL)
        _until(lambda: fitted() == 15, process, log)
        attempt = store.newest_attempt()
        assert attempt.tries == 2
        again = _until(lambda: (found := state()) and found.doing == "idle" and found, process, log)
        assert again.pid != killed.pid
        assert not fits.is_fit_wanted(store)
        assert len(store.pulls()) == 16
    finally:
        process.terminate()
        code = process.wait(60)
    said = log.read_text()
    assert code == 0, said
    assert said.count("it is started again") == 1
    assert said.rstrip().endswith("Stopped.")
    assert "Traceback" not in said
    assert state() is None
    require_free(free_port)
    assert not (store.folder / "worker.json").exists()
