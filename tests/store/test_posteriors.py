import dataclasses
import hashlib
import os
import pickle
import subprocess
import sys
import time

import numpy as np
import pytest

from model.base.errors import DrawsGone, InputError, PosteriorInvalid, StoreError
from model.store import kept_answers, kept_trail, posterior_files
from model.store.entries import TrailPoint
from model.store.store import Store

KILLED_IN_THE_MIDDLE = """
import os, pathlib, pickle, sys, time
folder, mark, pickled = sys.argv[1:]

def hang(source, target):
    pathlib.Path(mark).touch()
    time.sleep(120)

os.replace = hang
from model.store.store import Store
Store.open(pathlib.Path(folder)).save_posterior(pickle.loads(pathlib.Path(pickled).read_bytes()))
"""


@pytest.fixture
def first(made_up_posterior, small_campaign, small_pulls):
    return made_up_posterior(small_campaign, small_pulls[:8], n_draws=50, identity="first")


@pytest.fixture
def second(made_up_posterior, small_campaign, small_pulls):
    return made_up_posterior(small_campaign, small_pulls, n_draws=50, seed=1, identity="second")


def _files(store):
    return sorted(path.name for path in (store.folder / "posteriors").iterdir())


def test_a_posterior_comes_back_to_the_last_digit(full_store, first):
    assert full_store.newest_posterior() is None
    full_store.save_posterior(first)

    back = Store.open(full_store.folder).newest_posterior()
    assert back is not None
    assert back.draws.identical(first.draws)
    assert (back.campaign, back.provenance, back.fit_check) == (
        first.campaign,
        first.provenance,
        first.fit_check,
    )
    stored = full_store.newest_stored()
    assert (stored.id, stored.pulls) == ("first", 7)


def test_a_campaign_without_treatments(store, made_up_posterior, small_campaign, small_pulls):
    bare = small_campaign.model_copy(
        update={"treatments": (), "questions": (), "main_question": None}
    )
    posterior = made_up_posterior(bare, small_pulls, n_draws=50)
    store.save_posterior(posterior)
    assert store.newest_posterior().draws.identical(posterior.draws)


def test_the_newest_takes_over_and_only_the_newest_draws_are_kept(
    full_store, made_up_posterior, small_campaign, small_pulls
):
    for number in range(4):
        full_store.save_posterior(
            made_up_posterior(
                small_campaign, small_pulls, n_draws=20, seed=number, identity=f"fit{number}"
            )
        )
        assert full_store.newest_posterior().provenance.id == f"fit{number}"
    assert [name[:4] for name in _files(full_store)] == ["fit2", "fit3"]


def test_the_draws_of_one_fit_are_read_whatever_came_after_it(full_store, first, second):
    full_store.save_posterior(first)
    full_store.save_posterior(second)
    assert full_store.posterior("first").draws.identical(first.draws)


def test_draws_that_were_given_up_while_they_were_read_are_gone_and_not_damaged(
    full_store, first, second, monkeypatch, made_up_posterior, small_campaign, small_pulls
):
    full_store.save_posterior(first)
    third = made_up_posterior(small_campaign, small_pulls, n_draws=20, seed=3, identity="third")
    real, due = posterior_files.read, [second, third]

    def read(*arguments):
        while due:
            full_store.save_posterior(due.pop(0))
        return real(*arguments)

    monkeypatch.setattr(posterior_files, "read", read)
    with pytest.raises(DrawsGone, match="first are gone"):
        full_store.posterior("first")
    with pytest.raises(DrawsGone):
        full_store.posterior("never there")


def test_the_newest_draws_are_those_of_whatever_fit_ended_meanwhile(
    full_store, first, second, monkeypatch, made_up_posterior, small_campaign, small_pulls
):
    full_store.save_posterior(first)
    third = made_up_posterior(small_campaign, small_pulls, n_draws=20, seed=3, identity="third")
    real, due = posterior_files.read, [second, third]

    def read(*arguments):
        while due:
            full_store.save_posterior(due.pop(0))
        return real(*arguments)

    monkeypatch.setattr(posterior_files, "read", read)
    assert full_store.newest_posterior().provenance.id == "third"


def test_facts_changed_and_changed_back(full_store, first, second):
    for posterior in (first, second, first):
        full_store.save_posterior(posterior)
    assert full_store.newest_posterior().provenance.id == "first"


def test_a_failed_fit_never_becomes_the_newest(
    full_store, first, made_up_posterior, small_campaign, small_pulls
):
    full_store.save_posterior(first)
    failed = made_up_posterior(small_campaign, small_pulls, n_draws=50, status="failed")
    with pytest.raises(InputError, match="failed its fit check"):
        full_store.save_posterior(failed)
    assert full_store.newest_posterior().provenance.id == "first"


def test_draws_without_the_schema_are_refused_at_the_door(full_store, first):
    broken = dataclasses.replace(first, draws=first.draws.drop_vars("mode_gap"))
    with pytest.raises(PosteriorInvalid, match="mode_gap is missing"):
        full_store.save_posterior(broken)
    assert full_store.newest_posterior() is None


@pytest.mark.parametrize("damage", ["truncated", "changed", "missing"])
def test_a_damaged_file_is_refused(full_store, first, damage):
    full_store.save_posterior(first)
    path = full_store.folder / "posteriors" / _files(full_store)[0]
    content = bytearray(path.read_bytes())
    if damage == "truncated":
        path.write_bytes(content[: len(content) // 2])
    elif damage == "changed":
        content[len(content) // 2] ^= 1
        path.write_bytes(content)
    else:
        path.unlink()

    with pytest.raises(StoreError, match=r"is not what was stored|cannot be read") as caught:
        full_store.newest_posterior()
    assert "kedgewise fit" in caught.value.hint


def test_without_the_hash_a_changed_figure_would_pass(full_store, first, tmp_path):
    """The schema alone does not see one changed draw: the hash does."""
    full_store.save_posterior(first)
    changed = first.draws.copy(deep=True)
    changed["load_base"][0] += 1.0
    name, sha256 = posterior_files.write(
        tmp_path, dataclasses.replace(first, draws=changed), mark="t"
    )
    assert float(posterior_files.read(tmp_path, name, sha256).draws["load_base"][0]) == (
        float(first.draws["load_base"][0]) + 1.0
    )
    stored_name = _files(full_store)[0]
    (full_store.folder / "posteriors" / stored_name).write_bytes(
        (tmp_path / "posteriors" / name).read_bytes()
    )
    with pytest.raises(StoreError, match="other hash"):
        full_store.newest_posterior()


def test_a_file_of_something_else_with_a_true_hash(tmp_path):
    (tmp_path / "posteriors").mkdir()
    (tmp_path / "posteriors" / "x.nc").write_bytes(b"no draws")
    with pytest.raises(PosteriorInvalid, match="holds no posterior"):
        posterior_files.read(tmp_path, "x.nc", hashlib.sha256(b"no draws").hexdigest())


def test_missing_numbers_are_seen_on_the_way_back(first, tmp_path, monkeypatch):
    broken = first.draws.copy(deep=True)
    broken["load_base"][3] = np.nan
    monkeypatch.setattr(posterior_files, "_require_schema", lambda _: None)
    name, sha256 = posterior_files.write(
        tmp_path, dataclasses.replace(first, draws=broken), mark="t"
    )
    monkeypatch.undo()
    with pytest.raises(PosteriorInvalid, match="load_base holds values that are not numbers"):
        posterior_files.read(tmp_path, name, sha256)


def test_stopped_between_writing_and_swapping(full_store, first, second, monkeypatch):
    full_store.save_posterior(first)

    def cut(*_):
        raise OSError("no room left on the device")

    monkeypatch.setattr(os, "replace", cut)
    with pytest.raises(StoreError, match="could not be written") as caught:
        full_store.save_posterior(second)
    assert "previous posterior stands" in caught.value.hint
    assert full_store.newest_posterior().provenance.id == "first"
    # Half a file would keep a full disk full.
    assert not [name for name in _files(full_store) if name.endswith(".part")]

    monkeypatch.undo()
    full_store.save_posterior(second)
    assert full_store.newest_posterior().provenance.id == "second"
    assert not [name for name in _files(full_store) if name.endswith(".part")]


def test_stopped_between_the_swap_and_the_row(full_store, first, second, monkeypatch):
    full_store.save_posterior(first)

    def cut(*_):
        raise RuntimeError("cut off")

    monkeypatch.setattr(Store, "_put_posterior", cut)
    with pytest.raises(RuntimeError, match="cut off"):
        full_store.save_posterior(second)
    assert full_store.newest_posterior().provenance.id == "first"


def test_a_process_killed_in_the_middle(full_store, first, second, tmp_path):
    full_store.save_posterior(first)
    mark, pickled = tmp_path / "reached", tmp_path / "second.pickle"
    pickled.write_bytes(pickle.dumps(second))
    process = subprocess.Popen(
        [sys.executable, "-c", KILLED_IN_THE_MIDDLE, str(full_store.folder), mark, pickled]
    )
    deadline = time.monotonic() + 60
    while not mark.exists() and process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.05)
    process.kill()
    process.wait()

    assert mark.exists()
    assert [name for name in _files(full_store) if name.endswith(".part")]
    again = Store.open(full_store.folder)
    assert again.newest_posterior().provenance.id == "first"
    assert len(again.pulls()) == 16
    again.save_posterior(second)
    assert again.newest_posterior().provenance.id == "second"
    assert len(_files(again)) == 2


def test_attempts_count_tries_and_keep_reasons(store):
    assert store.newest_attempt() is None
    store.begin_attempt("one")
    assert store.attempt("one").state == "started"
    store.end_attempt("one", "failed", ["12 divergences"])
    store.begin_attempt("two")
    store.end_attempt("two", "passed")
    store.begin_attempt("one")

    assert store.newest_attempt().fingerprint == "one"
    assert (store.attempt("one").tries, store.attempt("two").tries) == (2, 1)
    store.end_attempt("one", "failed", ["R-hat 1.4"])
    assert store.attempt("one").reasons == ("R-hat 1.4",)
    assert store.attempt("three") is None


def test_answers_are_kept_in_order_and_name_a_stored_posterior(
    full_store, first, second, summary, small_campaign
):
    question = small_campaign.questions[0]
    full_store.save_posterior(first)
    full_store.add_answers([(question, summary)], posterior_id="first")
    full_store.save_posterior(second)
    later = summary.model_copy(update={"p_higher": 0.99})
    full_store.add_answers([(question, later)], posterior_id="second")

    kept = full_store.stored_answers()
    assert [answer.question for answer in kept] == [question, question]
    assert [answer.summary for answer in kept] == [summary, later]
    assert kept[0].answered_at < kept[1].answered_at
    assert kept[0].answered_at.tzinfo is not None


def test_two_programs_that_keep_an_answer_of_one_fit_keep_it_once(
    full_store, first, summary, small_campaign
):
    full_store.save_posterior(first)
    one, other = small_campaign.questions[:2]
    full_store.add_answers([(one, summary)], posterior_id="first")
    again = summary.model_copy(update={"p_higher": 0.99})
    full_store.add_answers([(one, again), (other, summary)], posterior_id="first")
    assert [(kept.question, kept.summary) for kept in full_store.stored_answers()] == [
        (one, summary),
        (other, summary),
    ]


def test_of_many_answers_only_those_asked_for_are_read(
    full_store, first, second, summary, small_campaign, monkeypatch
):
    asked = small_campaign.questions
    for posterior in (first, second):
        full_store.save_posterior(posterior)
        name = posterior.provenance.id
        full_store.add_answers([(one, summary) for one in asked], posterior_id=name)
    read, real = [], kept_answers.stored_answer_from
    monkeypatch.setattr(
        kept_answers, "stored_answer_from", lambda row: read.append(row.number) or real(row)
    )
    assert full_store.answer_count() == 8
    found = full_store.stored_answers(lambda one: one == asked[1])
    assert [answer.question for answer in found] == [asked[1]] * 2
    assert read == [2, 6]
    read.clear()
    found = full_store.stored_answers(posterior_id="second")
    assert [answer.question for answer in found] == list(asked)
    assert read == [5, 6, 7, 8]


def test_of_a_long_trail_only_what_is_asked_for_is_read(store, small_campaign, monkeypatch):
    asked = small_campaign.questions
    store.add_trail(
        [
            TrailPoint(
                fingerprint=str(number),
                question=question,
                fit="first",
                state="withheld",
                pulls=number,
                last_pull="day 1/1",
                summary=None,
            )
            for number in range(700)
            for question in asked[:2]
        ]
    )
    read, real = [], kept_trail.trail_point_from
    monkeypatch.setattr(
        kept_trail, "trail_point_from", lambda row: read.append(row.number) or real(row)
    )
    found = store.trail(["5", "3"], [asked[1]])
    assert [(point.pulls, point.question) for point in found] == [(3, asked[1]), (5, asked[1])]
    assert len(read) == 2
    every = [str(number) for number in reversed(range(700))]  # more than are named at once
    assert [point.pulls for point in store.trail(every, [asked[0]])] == list(range(700))


def test_an_answer_without_its_posterior_is_refused(full_store, summary, small_campaign):
    with pytest.raises(StoreError, match="FOREIGN KEY"):
        full_store.add_answers([(small_campaign.questions[0], summary)], posterior_id="none")
    assert full_store.stored_answers() == ()
