"""What the worker tells of itself, and when it is taken for dead."""

import datetime as dt
import json
import threading

import pytest

from model.service import heartbeat, worker_state
from model.service.heartbeat import Heartbeat
from model.service.stores import describe, state_of
from model.service.worker_state import FILE_NAME, STALE_AFTER_S, WorkerState

NOW = dt.datetime(2026, 5, 4, 12, 0, tzinfo=dt.UTC)


class Hands:
    """A clock that is set by hand."""

    def __init__(self):
        self.at = NOW

    def __call__(self):
        return self.at

    def pass_by(self, seconds):
        self.at += dt.timedelta(seconds=seconds)


@pytest.fixture
def clock():
    return Hands()


@pytest.fixture
def heart(tmp_path, clock):
    """One that beats when it is told to."""
    return Heartbeat(tmp_path, clock=clock)


@pytest.fixture
def state(tmp_path, clock):
    return lambda: worker_state.worker_state(tmp_path, clock=clock)


def _words(**what):
    found = {"pid": 1, "started_at": NOW, "beat_at": NOW, "doing": "idle"} | what
    return WorkerState(**found).words


def test_words():
    assert _words() == "waiting for new pulls"
    assert _words(reasons=("12 divergences",)) == "waiting for changed or new pulls"
    assert _words(doing="starting") == "starting to look for new pulls"
    assert _words(doing="waiting", detail="another fit") == "waiting: another fit"
    fitting = {"doing": "fitting", "pulls": 93, "share": 0.404}
    assert _words(**fitting) == "fitting 93 pulls, 40 %"
    assert (
        _words(**fitting, tries=2, detail="sampling") == "fitting 93 pulls, 40 %, try 2 (sampling)"
    )
    assert _words(doing="fitting", pulls=1) == "fitting 1 pull, 0 %"


def test_before_and_after_nobody_is_at_work(tmp_path):
    assert worker_state.worker_state(tmp_path) is None
    with Heartbeat(tmp_path) as heart:
        assert worker_state.worker_state(tmp_path).doing == "starting"
        heart.say("fitting", pulls=3)
        assert worker_state.worker_state(tmp_path).doing == "fitting"
    assert worker_state.worker_state(tmp_path) is None
    assert list(tmp_path.iterdir()) == []


def test_it_beats_by_itself_while_work_goes_on(tmp_path, monkeypatch):
    monkeypatch.setattr(heartbeat, "BEAT_EVERY_S", 0.01)
    beaten = threading.Event()
    monkeypatch.setattr(heartbeat, "beat", lambda *_: beaten.set())
    with Heartbeat(tmp_path):
        assert beaten.wait(20)


@pytest.mark.parametrize("is_judged", [True, False])
def test_a_beat_that_is_old_is_no_sign_of_life(is_judged, heart, state, clock, monkeypatch):
    heart.say("fitting", pulls=3)
    clock.pass_by(STALE_AFTER_S - 1)
    assert state() is not None
    if not is_judged:
        monkeypatch.setattr(worker_state, "STALE_AFTER_S", 1e9)
    clock.pass_by(2)
    assert (state() is None) is is_judged
    clock.pass_by(-3600)  # the clock was set back
    assert (state() is None) is is_judged


def test_a_beat_makes_it_live_on(heart, state, clock):
    heart.say("fitting", pulls=3)
    clock.pass_by(STALE_AFTER_S + 1)
    heart.beat()
    assert state().beat_at == clock.at
    assert state().started_at == NOW


def test_progress_is_written_with_the_beat_and_other_work_at_once(heart, state, monkeypatch):
    written, real = [], heartbeat.write_state
    monkeypatch.setattr(heartbeat, "write_state", lambda *a: written.append(a) or real(*a))
    heart.say("fitting", pulls=3)
    for done in range(100):
        heart.say("fitting", pulls=3, share=done / 100)
    assert (len(written), state().share) == (1, 0.0)
    heart.beat()
    heart.beat()
    assert (len(written), state().share) == (2, 0.99)
    heart.say("idle")
    assert (len(written), state().doing) == (3, "idle")


@pytest.mark.parametrize("is_touched", [True, False])
def test_on_a_full_disk_it_is_alive_all_the_same(
    is_touched, heart, state, clock, monkeypatch, caplog
):
    def full(*_):
        raise OSError(28, "No space left on device")

    heart.say("fitting", pulls=3)
    monkeypatch.setattr(heartbeat, "write_state", full)
    if not is_touched:
        monkeypatch.setattr(heartbeat, "beat", full)
    for _ in range(3):
        clock.pass_by(10)
        heart.say("waiting", detail="no room left; trying again")
        heart.beat()
    assert (state() is not None) is is_touched
    assert caplog.text.count("No space left") == 1
    monkeypatch.undo()
    heart.beat()
    assert state().doing == "waiting"


@pytest.mark.parametrize(
    "content", ["", "{", "[]", '{"pid": "x"}', '{"doing": "dancing"}', "\x00" * 200_000]
)
def test_a_file_that_is_none_of_ours_is_nobody_at_work(content, tmp_path, caplog):
    (tmp_path / FILE_NAME).write_text(content)
    assert worker_state.worker_state(tmp_path) is None
    assert "cannot be read" in caplog.text


def test_the_file_is_plain_json(heart, tmp_path):
    heart.say("fitting", pulls=3, share=0.5, detail="sampling")
    found = json.loads((tmp_path / FILE_NAME).read_text())
    assert {"pid", "started_at", "beat_at", "doing", "pulls", "share", "tries"} <= set(found)


def test_stores_say_who_is_at_work(filled):
    assert "no worker" in str(describe(filled.folder))
    assert not state_of(filled).has_worker
    with Heartbeat(filled.folder) as heart:
        heart.say("fitting", pulls=7, share=0.4)
        assert "worker fitting 7 pulls, 40 %" in str(describe(filled.folder))
        assert state_of(filled).has_worker


def test_a_file_that_cannot_be_removed_ends_nothing(tmp_path, monkeypatch, caplog):
    def kept(_):
        raise PermissionError("in use")

    monkeypatch.setattr(heartbeat, "clear_state", kept)
    with Heartbeat(tmp_path):
        pass
    assert "cannot say that no worker runs" in caplog.text
