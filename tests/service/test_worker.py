"""The worker on a store of its own, with a fitter that never samples and time that never passes."""

import math
import sqlite3
from contextlib import closing, nullcontext, suppress

import pytest
from filelock import FileLock

from model.base.errors import StoreBusy, StoreError, StoreTooNew
from model.questions import ask
from model.records.question import Question, SetUp
from model.service import fits, worker
from model.service.trail import trail_of
from model.service.worker import LOOK_AGAIN_S, POLL_S, RETRY_S, work, worker_lock
from model.service.worker_state import worker_state
from model.store import posterior_files
from model.store.database import DATABASE_NAME
from model.store.kept_fits import KeptFits
from model.store.store import Store

A_LOOK = math.ceil(LOOK_AGAIN_S / POLL_S)


class Killed(BaseException):
    """Ends a fit as a kill does: nothing is put in order."""


class Night:
    """Time that passes at once: what happens at which spell of sleep, until it is over."""

    def __init__(self, spells=A_LOOK, events=None):
        self.spells, self.events, self.slept = spells, events or {}, []

    def __call__(self, seconds):
        self.slept.append(seconds)
        self.events.get(len(self.slept), lambda: None)()
        if len(self.slept) >= self.spells:
            raise KeyboardInterrupt


@pytest.fixture
def rest(small_pulls):
    return [pull for pull in small_pulls if pull.outing == "day 2"]


@pytest.fixture
def at_work(filled, fitter, ticking_clock):
    """Let the worker work through some spells of sleep; gives the night it had."""

    def run(spells=A_LOOK, events=None, **options):
        night = Night(spells, events)
        options.setdefault("background", (worker.keep_standing,))
        with pytest.raises(KeyboardInterrupt):
            work(filled.folder, fitter=fitter, sleep=night, clock=ticking_clock, **options)
        return night

    return run


def _without(monkeypatch, name, other, place=worker):
    monkeypatch.setattr(place, name, other)


def test_what_is_there_is_fitted_and_answered_once(at_work, filled, fitter):
    at_work(3 * A_LOOK)
    assert fitter.calls == [8]
    assert filled.newest_stored().pulls == 7
    assert len(filled.stored_answers()) == 4


def test_new_pulls_are_fitted_within_a_poll(at_work, filled, fitter, rest):
    seen = []
    at_work(
        5,
        {
            2: lambda: filled.add_pulls(rest, "day-2.csv"),
            3: lambda: seen.append(filled.newest_stored().pulls),
        },
    )
    assert fitter.calls == [8, 16]
    assert seen == [15]


@pytest.fixture
def pulls_during_the_fit(filled, fitter, rest, monkeypatch):
    """The rest of the pulls comes in while the first fit runs; what had been stored after it."""
    real, stored = fitter.fit, []

    def fit(campaign, pulls, *, progress=None):
        if len(fitter.calls) == 0:
            filled.add_pulls(rest, "day-2.csv")
        else:
            stored.append(filled.newest_stored().pulls)
        return real(campaign, pulls, progress=progress)

    monkeypatch.setattr(fitter, "fit", fit)
    return stored


def test_pulls_during_a_fit_wait_for_it_and_are_fitted_next(
    at_work, filled, fitter, pulls_during_the_fit
):
    night = at_work()
    assert fitter.calls == [8, 16]
    assert pulls_during_the_fit == [7]  # the fit of stale facts was kept as it was
    assert filled.newest_stored().pulls == 15
    assert len(night.slept) == A_LOOK  # both before the first sleep


def test_a_worker_that_is_told_and_does_not_look_would_miss_them(
    at_work, filled, fitter, pulls_during_the_fit, monkeypatch
):
    told = iter([True])
    _without(monkeypatch, "is_fit_wanted", lambda _: next(told, False))
    at_work(3 * A_LOOK)
    assert fitter.calls == [8]
    assert filled.newest_stored().pulls == 7


def _kill(at, filled, fitter, times):
    fitter.error = Killed()
    for _ in range(times):
        with pytest.raises(Killed):
            work(filled.folder, fitter=fitter, sleep=Night(), clock=at)
    fitter.error = None


def test_a_fit_that_was_killed_is_tried_again(at_work, filled, fitter, ticking_clock):
    _kill(ticking_clock, filled, fitter, 2)
    at_work()
    assert filled.newest_stored().pulls == 7
    assert (filled.newest_attempt().state, filled.newest_attempt().tries) == ("passed", 3)


def test_three_kills_count_as_a_failed_fit_until_facts_change(
    at_work, filled, fitter, rest, ticking_clock
):
    _kill(ticking_clock, filled, fitter, 3)
    seen = []
    at_work(
        6,
        {
            2: lambda: seen.append(worker_state(filled.folder, clock=lambda: _beat(filled))),
            3: lambda: filled.add_pulls(rest, "day-2.csv"),
        },
    )
    assert fitter.calls == [8, 8, 8, 16]
    reasons = filled.attempt(fits.wanted_fingerprint(filled.campaign(), _day_1(filled))).reasons
    assert "stopped 3 times before it ended; the last time it was killed" in reasons[0]
    assert seen[0].reasons == reasons
    assert seen[0].words == "waiting for changed or new pulls"
    assert filled.newest_stored().pulls == 15


def _day_1(store):
    return [pull for pull in store.pulls() if pull.outing == "day 1"]


def _beat(store):
    import datetime as dt

    from model.service.worker_state import FILE_NAME

    return dt.datetime.fromtimestamp((store.folder / FILE_NAME).stat().st_mtime, dt.UTC)


def test_without_the_count_a_killed_fit_would_go_round(
    at_work, filled, fitter, ticking_clock, monkeypatch
):
    _without(monkeypatch, "MOST_TRIES", None)
    _kill(ticking_clock, filled, fitter, 5)
    assert fitter.calls == [8] * 5


def test_by_hand_a_fit_that_was_stopped_too_often_is_tried(at_work, filled, fitter, ticking_clock):
    _kill(ticking_clock, filled, fitter, 3)
    at_work()
    assert fits.fit(filled, fitter=fitter).state == "fitted"


def test_passes_do_not_use_up_tries(at_work, filled, fitter, rest, ticking_clock):
    from model.store.revisions import Reason

    reason = Reason(who="M", why="tried")
    at_work()
    for _ in range(3):  # the same facts come, go and come again: the same fit passes each time
        filled.remove_pulls(["day 1/3"], reason)
        at_work()
        filled.put_back_pulls(["day 1/3"], reason)
        at_work()
    assert filled.newest_attempt().tries == 1


@pytest.mark.parametrize("how", ["refused", "raised"])
def test_a_failed_fit_does_not_go_round(how, at_work, filled, fitter, caplog):
    if how == "refused":
        fitter.status = "failed"
    else:
        fitter.fail()
    night = at_work(3 * A_LOOK)
    assert fitter.calls == [8]
    assert set(night.slept) == {POLL_S}
    assert filled.newest_attempt().state == "failed"
    assert "12 divergences" in caplog.text or "no usable draw" in caplog.text


def test_without_the_look_at_attempts_it_would(at_work, fitter, monkeypatch):
    fitter.status = "failed"
    real = fitter.fit

    def at_most_five(campaign, pulls, *, progress=None):
        if len(fitter.calls) == 5:
            raise KeyboardInterrupt
        return real(campaign, pulls, progress=progress)

    monkeypatch.setattr(fitter, "fit", at_most_five)
    _without(monkeypatch, "is_fit_wanted", lambda _: True)
    at_work()
    assert fitter.calls == [8] * 5


def test_a_second_worker_is_refused(filled, fitter):
    with worker_lock(filled.folder), pytest.raises(StoreBusy, match="another worker is at") as said:
        work(filled.folder, fitter=fitter, sleep=Night())
    assert "One is enough" in said.value.hint
    assert fitter.calls == []


def test_a_patient_one_takes_over_when_the_first_ends(at_work, filled, fitter):
    first = worker_lock(filled.folder)
    at_work(A_LOOK, {3: first.lock.release, 4: lambda: None}, is_patient=True)
    assert fitter.calls == [8]


def test_without_the_lock_both_would_work(at_work, filled, fitter, monkeypatch):
    with worker_lock(filled.folder):
        _without(monkeypatch, "worker_lock", lambda _: nullcontext())
        at_work()
    assert fitter.calls == [8]


def test_another_fit_is_waited_for_and_costs_no_try(at_work, filled, fitter):
    other, seen = FileLock(filled.folder / fits.LOCK_NAME).acquire(), []
    at_work(
        8,
        {
            2: lambda: seen.append(worker_state(filled.folder, clock=lambda: _beat(filled))),
            4: other.lock.release,
        },
    )
    assert "another fit" in seen[0].words
    assert fitter.calls == [8]
    assert filled.newest_attempt().tries == 1


def _full(times):
    """A disk that is full for the first so many posteriors."""
    real, left = posterior_files.write, [None] * times

    def write(*arguments, **named):
        if left:
            left.pop()
            raise StoreError("no room left for the posterior", hint="Make room.")
        return real(*arguments, **named)

    return write


@pytest.mark.parametrize("what", ["memory", "disk"])
def test_a_trouble_that_passes_is_waited_out(what, at_work, filled, fitter, monkeypatch):
    if what == "memory":
        fitter.error = MemoryError()
    else:
        monkeypatch.setattr(posterior_files, "write", _full(1))
    seen, said = [], []

    def look():
        seen.append(filled.newest_attempt())
        said.append(worker_state(filled.folder, clock=lambda: _beat(filled)).words)
        fitter.error = None

    at_work(RETRY_S[0] + 2, {5: look})
    assert (seen[0].state, seen[0].tries) == ("started", 1)
    assert "trying again" in said[0]
    assert fitter.calls == [8, 8]
    assert filled.newest_stored().pulls == 7
    assert filled.newest_attempt().tries == 2


@pytest.mark.parametrize("what", ["memory", "disk"])
def test_a_trouble_that_stays_ends_as_a_failed_fit(what, at_work, filled, fitter, monkeypatch):
    if what == "memory":
        fitter.error = MemoryError()
    else:
        monkeypatch.setattr(posterior_files, "write", _full(9))
    at_work(sum(RETRY_S) + 3 * LOOK_AGAIN_S)
    assert fitter.calls == [8] * 3
    attempt = filled.newest_attempt()
    assert attempt.state == "failed"
    why = "memory ran out" if what == "memory" else "no room left for the posterior"
    assert attempt.reasons == (f"it was stopped 3 times before it ended; the last time {why}",)
    assert list(filled.folder.glob("posteriors/*.part")) == []


@pytest.mark.parametrize("error", [MemoryError(), ValueError("a fault of the program")])
def test_without_the_wait_the_worker_would_end(error, filled, fitter, monkeypatch):
    def end(_, found):
        raise found

    _without(monkeypatch, "_trouble", end, worker._Watch)
    fitter.error = error
    with pytest.raises(Exception, match=r"memory|fault"):
        work(filled.folder, fitter=fitter, sleep=Night())


def test_what_nobody_foresaw_is_logged_and_tried_again(at_work, filled, fitter, caplog):
    fitter.error = ValueError("a fault of the program")
    at_work(RETRY_S[0] + 1, {1: lambda: setattr(fitter, "error", None)})
    assert "Traceback" in caplog.text
    assert "a fault of the program" in caplog.text
    assert filled.newest_stored().pulls == 7


def test_new_facts_end_a_wait(at_work, filled, fitter, rest):
    fitter.error = MemoryError()

    def correct():
        fitter.error = None
        filled.add_pulls(rest, "day-2.csv")

    at_work(4, {2: correct})
    assert fitter.calls == [8, 16]


def test_a_store_that_cannot_be_written_is_waited_for(at_work, filled, fitter, monkeypatch):
    real = KeptFits.begin_attempt

    def full(*_):
        raise StoreError("no room left for the store", hint="Make room.")

    monkeypatch.setattr(KeptFits, "begin_attempt", full)
    at_work(
        sum(RETRY_S) + 20,
        {sum(RETRY_S) + 5: lambda: monkeypatch.setattr(KeptFits, "begin_attempt", real)},
    )
    assert fitter.calls == []  # nothing is sampled that could not be kept
    at_work(A_LOOK)
    assert fitter.calls == [8]


def test_a_stop_on_purpose_loses_no_try_and_leaves_nothing(at_work, filled, fitter, ticking_clock):
    _kill(ticking_clock, filled, fitter, 1)
    before = filled.newest_attempt()
    fitter.error = KeyboardInterrupt()
    at_work()
    assert filled.newest_attempt() == before
    assert worker_state(filled.folder) is None
    assert not (filled.folder / "worker.json").exists()
    with worker_lock(filled.folder):
        pass


def test_without_the_withdrawal_three_stops_would_fail_the_fit(
    at_work, filled, fitter, monkeypatch
):
    monkeypatch.setattr(KeptFits, "withdraw_attempt", lambda *_: None)
    fitter.error = KeyboardInterrupt()
    for _ in range(3):
        at_work()
    fitter.error = None
    at_work()
    assert filled.newest_attempt().state == "failed"


def test_a_damaged_posterior_is_fitted_anew(at_work, filled, fitter):
    at_work()
    [path] = filled.folder.glob("posteriors/*.nc")
    path.write_bytes(path.read_bytes()[:100])
    at_work()
    assert fitter.calls == [8, 8]
    filled.verify_newest_posterior()


def _ask_more(store):
    campaign = store.campaign()
    more = Question(name="P9 or S6", a=SetUp(anchor="P9"), b=SetUp(anchor="S6"))
    store.replace_campaign(campaign.model_copy(update={"questions": (*campaign.questions, more)}))


def test_a_new_standing_question_is_answered_without_a_fit(at_work, filled, fitter):
    at_work(3, {1: lambda: _ask_more(filled)})
    assert fitter.calls == [8]
    assert len(filled.stored_answers()) == 5


def test_without_background_work_it_would_wait_for_the_next_fit(at_work, filled):
    at_work(3, {1: lambda: _ask_more(filled)}, background=())
    assert len(filled.stored_answers()) == 4


def test_background_work_goes_on_until_there_is_none_and_facts_come_first(
    at_work, filled, fitter, rest
):
    done = []

    def step(store, *_):
        done.append(store.newest_stored().pulls)
        if len(done) == 2:
            store.add_pulls(rest, "day-2.csv")
        return len(done) < 4

    at_work(background=(step,))
    assert done == [7, 7, 15, 15]


def test_a_background_step_that_fails_keeps_no_fit_from_being_done(at_work, filled, fitter, rest):
    def broken(*_):
        raise StoreError("something about an old posterior")

    at_work(5, {3: lambda: filled.add_pulls(rest, "day-2.csv")}, background=(broken,))
    assert fitter.calls == [8, 16]


def _not_yet(store):
    return [trail_of(store, question).not_yet for question in store.campaign().questions]


def test_while_nothing_is_to_be_fitted_it_works_out_how_answers_moved(at_work, filled, rest):
    filled.add_pulls(rest, "day-2.csv")
    at_work()
    assert min(_not_yet(filled)) > 0
    at_work(background=worker.BACKGROUND)
    assert max(_not_yet(filled)) == 0


@pytest.mark.parametrize("stop", ["memory", "kill"])
def test_fits_for_the_trail_have_their_limit_too(
    stop, at_work, filled, fitter, rest, ticking_clock
):
    """A night of trouble: three tries at all pulls, and three at the first day's end."""
    filled.add_pulls(rest, "day-2.csv")
    fitter.error = MemoryError() if stop == "memory" else Killed()
    options = {"sleep": Night(3000), "clock": ticking_clock, "background": worker.BACKGROUND}
    with suppress(KeyboardInterrupt):
        for _ in range(12):
            with suppress(Killed):
                work(filled.folder, fitter=fitter, **options)
    assert fitter.calls == [16] * 3 + [7] * 3
    assert max(_not_yet(filled)) == 0
    assert filled.newest_attempt().state == "failed"


def _migrate_by_a_newer_program(store):
    with closing(sqlite3.connect(store.folder / DATABASE_NAME)) as database, database:
        database.execute("UPDATE schema_version SET version = version + 1")


@pytest.mark.parametrize("is_looked_at", [True, False])
def test_a_store_that_a_newer_program_migrated_is_left_alone(
    is_looked_at, filled, fitter, rest, monkeypatch
):
    def migrate():
        _migrate_by_a_newer_program(filled)
        filled.add_pulls(rest, "day-2.csv")

    if not is_looked_at:
        monkeypatch.setattr(Store, "require_known_version", lambda _: None)
    ends = pytest.raises(StoreTooNew, match="has schema version") if is_looked_at else None
    with ends or pytest.raises(KeyboardInterrupt):
        work(filled.folder, fitter=fitter, background=(), sleep=Night(9, {2: migrate}))
    assert fitter.calls == ([8] if is_looked_at else [8, 16])
    assert worker_state(filled.folder) is None


def _replace(filled, small_campaign, small_pulls):
    filled.folder.rename(filled.folder.with_name("before"))
    Store.create(filled.folder, small_campaign).add_pulls(small_pulls[:4], "other.csv")


def _refused(folder):
    with suppress(StoreBusy):
        worker_lock(folder).lock.release()
        return False
    return True


@pytest.mark.parametrize("is_watched", [True, False])
def test_a_store_in_its_place_has_one_worker_too(
    is_watched, at_work, filled, fitter, small_campaign, small_pulls, monkeypatch
):
    if not is_watched:
        _without(monkeypatch, "_identity", lambda _: (1, 1))
    seen = []
    at_work(
        A_LOOK,
        {
            3: lambda: _replace(filled, small_campaign, small_pulls),
            6: lambda: seen.append(_refused(filled.folder)),
        },
    )
    assert fitter.calls == [8, 4]
    assert seen == [is_watched]


def test_a_store_that_is_taken_away_is_not_made_anew(at_work, filled, fitter):
    away = filled.folder.with_name("away")
    at_work(
        A_LOOK,
        {
            2: lambda: filled.folder.rename(away),
            9: lambda: away.rename(filled.folder),
        },
    )
    assert fitter.calls == [8]
    assert not away.exists()


def test_answers_are_those_of_the_fit_that_was_stored(at_work, filled, monkeypatch):
    """Killed between the posterior and its answers: the next worker keeps them."""

    def cut(*_, **__):
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr(ask, "answer", cut)
        with pytest.raises(Killed):
            at_work()
    assert filled.stored_answers() == ()
    at_work()
    assert len(filled.stored_answers()) == 4
