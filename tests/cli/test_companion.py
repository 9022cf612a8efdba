"""The worker beside the web app, with stand-ins that live as long as they are told to."""

import signal
import subprocess
import sys
import time

import pytest

from app import companion, serving, worker
from app.companion import RESTARTS, SHORT_LIFE_S, Companion
from app.worker import GIVEN_UP, READ_ONLY
from model.base.errors import NoStore, StoreBusy, StoreError, StoreReadOnly, StoreTooNew
from model.service.worker import worker_lock
from model.service.worker_state import worker_state
from model.store.store import Store

WAIT_S = 60


class Hands:
    """A clock that is set by hand."""

    at = 0.0

    def __call__(self):
        return self.at


@pytest.fixture
def clock():
    return Hands()


@pytest.fixture
def beside(tmp_path, clock, monkeypatch):
    """A companion that runs some lines of Python in the worker's place; they are counted."""
    made = []

    def make(lines):
        starts = []
        monkeypatch.setattr(
            companion, "command", lambda _: starts.append(1) or [sys.executable, "-c", lines]
        )
        made.append(Companion(tmp_path, environment={}, clock=clock))
        return made[-1], starts

    yield make
    for one in made:
        one.stop()


def _tend_until_quiet(one, lives, clock, each_s=0.0):
    for _ in range(lives):
        if one._process is not None:
            one._process.wait(WAIT_S)
        clock.at += each_s
        one.tend()


def test_one_that_dies_at_once_is_started_again_a_few_times(beside, clock, capsys):
    one, starts = beside("raise SystemExit(7)")
    one.start()
    _tend_until_quiet(one, 2 * RESTARTS + 4, clock)
    said = capsys.readouterr().err
    assert len(starts) == 1 + RESTARTS
    assert said.count("(code 7); it is started again") == RESTARTS
    assert said.count("is not started any more") == 1


def test_without_the_limit_it_would_go_round(beside, clock, monkeypatch):
    monkeypatch.setattr(companion, "RESTARTS", 1000)
    one, starts = beside("raise SystemExit(7)")
    one.start()
    _tend_until_quiet(one, 2 * RESTARTS + 4, clock)
    assert len(starts) == 1 + 2 * RESTARTS + 4


def test_one_that_lived_is_always_started_again(beside, clock):
    one, starts = beside("raise SystemExit(7)")
    one.start()
    _tend_until_quiet(one, 2 * RESTARTS, clock, each_s=SHORT_LIFE_S + 1)
    assert len(starts) == 1 + 2 * RESTARTS


def test_one_that_was_asked_to_stop_by_others_stays_so(beside, clock, capsys):
    one, starts = beside("raise SystemExit(0)")
    one.start()
    _tend_until_quiet(one, 3, clock)
    assert len(starts) == 1
    assert capsys.readouterr().err.count("was stopped") == 1


@pytest.mark.parametrize(
    ("code", "said"), [(READ_ONLY, "Read only: nothing is fitted in "), (GIVEN_UP, "not started")]
)
def test_one_that_gave_up_is_not_started_again(code, said, beside, clock, capsys, monkeypatch):
    one, starts = beside(f"raise SystemExit({code})")
    one.start()
    _tend_until_quiet(one, 3, clock)
    assert len(starts) == 1
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert said in err
    monkeypatch.setattr(companion, "READ_ONLY", None)
    monkeypatch.setattr(companion, "GIVEN_UP", None)
    one.start()
    _tend_until_quiet(one, 3, clock)
    assert len(starts) > 2  # without the look at the code


def _ends_with(error, is_tied, monkeypatch):
    def end(*_, **__):
        raise error

    monkeypatch.setattr(worker, "work", end)
    return worker.main([worker.UNTIL_STDIN_CLOSES] if is_tied else [])


def test_what_another_start_would_not_cure_is_told_apart(monkeypatch, capsys):
    """A crash ends with 1, and is worth another start; so is a store that is in use."""
    for error, codes in {
        StoreReadOnly("no lock"): (READ_ONLY, 1),
        StoreTooNew("schema version 99"): (GIVEN_UP, 1),
        NoStore("there is none"): (GIVEN_UP, 2),
        StoreBusy("in use"): (1, 1),
        StoreError("no room left"): (1, 1),
    }.items():
        found = tuple(_ends_with(error, is_tied, monkeypatch) for is_tied in (True, False))
        assert found == codes
        is_silent = isinstance(error, StoreReadOnly)  # where the companion says it
        assert capsys.readouterr().err.count(f"error: {error.message}") == 2 - is_silent


def test_it_is_asked_before_it_is_made_to(beside, tmp_path, monkeypatch):
    polite, _ = beside(f"input_ended = open(0).read(); open({str(tmp_path / 'bye')!r}, 'w')")
    polite.start()
    polite.stop()
    assert (tmp_path / "bye").exists()
    monkeypatch.setattr(companion, "STOP_WAIT_S", 0.2)
    deaf, _ = beside("import time; time.sleep(1000)")
    deaf.start()
    process = deaf._process
    deaf.stop()
    assert process.poll() is not None


@pytest.fixture
def empty_store(tmp_path, small_campaign):
    return Store.create(tmp_path / "store", small_campaign).folder


@pytest.mark.parametrize("is_tied", [True, False])
def test_a_worker_ends_with_whoever_started_it(is_tied, empty_store):
    """Its standard input closes when the other end dies, however it died."""
    command = worker.command(empty_store)
    process = subprocess.Popen(command if is_tied else command[:-1], stdin=subprocess.PIPE)
    try:
        deadline = time.monotonic() + WAIT_S
        while (found := worker_state(empty_store)) is None or found.doing != "idle":
            assert time.monotonic() < deadline
            time.sleep(0.1)
        assert found.pid == process.pid
        process.stdin.close()
        if is_tied:
            assert process.wait(WAIT_S) == 0
            assert list(empty_store.glob("worker.json")) == []
        else:
            with pytest.raises(subprocess.TimeoutExpired):
                process.wait(3)
    finally:
        process.kill()
        process.wait()


@pytest.fixture
def signals():
    """What the command does with signals is undone."""
    before = {one: signal.getsignal(one) for one in worker.STOPPING}
    yield
    for one, what in before.items():
        signal.signal(one, what)


@pytest.mark.usefixtures("signals")
def test_a_second_worker_says_so_in_one_error(kedgewise, empty_store):
    with worker_lock(empty_store):
        found = kedgewise("work", "--store", str(empty_store))
        as_json = kedgewise("work", "--json", "--store", str(empty_store))
    assert (found.code, found.out) == (1, "")
    assert f"another worker is at {empty_store}" in found.err
    assert as_json.json["error"] == f"another worker is at {empty_store}"


@pytest.mark.usefixtures("signals")
def test_work_says_where_and_that_it_stopped(kedgewise, empty_store, monkeypatch):
    from model.service import worker as service

    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(service._Watch, "keep", stop)
    found = kedgewise("work", "--store", str(empty_store))
    assert (found.code, found.err) == (0, "Stopped.\n")
    assert f"Fitting what comes into {empty_store}" in found.out
    assert kedgewise("work", "--json").json == {"store": str(empty_store)}
    assert kedgewise("work", "--store", "./nothing").code == 2


@pytest.mark.usefixtures("signals")
@pytest.mark.parametrize(("given", "has_worker"), [((), True), (("--no-worker",), False)])
def test_serve_may_run_without_a_worker(given, has_worker, kedgewise, empty_store, monkeypatch):
    seen = {}
    monkeypatch.setattr(serving, "serve", lambda folder, **options: seen.update(options))
    assert kedgewise("serve", "--store", str(empty_store), *given).code == 0
    assert seen["has_worker"] is has_worker
