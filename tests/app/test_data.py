"""The pages' data from a real store with a made-up posterior."""

import datetime as dt

import pytest
import streamlit as st

from app import data
from app.shown import Look
from model.checks.influence import Refit
from model.questions.answer import Answer
from model.records.answer import Finding, NotYet
from model.service import answers, corrections
from model.service.heartbeat import Heartbeat
from model.store.revisions import Reason
from model.store.store import Store

AT = dt.datetime(2026, 5, 4, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def store(tmp_path, small_campaign, small_pulls, monkeypatch):
    """A store with pulls and no fit; KEDGEWISE_STORE names it."""
    st.cache_data.clear()
    st.cache_resource.clear()
    folder = tmp_path / "trials"
    made = Store.create(folder, small_campaign, clock=lambda: AT)
    made.add_pulls(small_pulls, "made up")
    monkeypatch.setenv("KEDGEWISE_STORE", str(folder))
    return made


@pytest.fixture
def fitted(store, small_campaign, small_pulls, made_up_posterior):
    """The same with a made-up posterior and its standing answers."""
    posterior = made_up_posterior(small_campaign, small_pulls)
    store.save_posterior(posterior)
    answers.record_standing(store)
    return store


def test_before_a_fit_there_are_pulls_and_no_answer(store, small_campaign):
    found = data.overview()
    assert (found.used_pulls, found.void_pulls, found.posterior) == (15, 1, None)
    assert isinstance(data.ask(small_campaign.questions[0]), NotYet)
    assert data.moved(small_campaign.questions[0]).looks == ()
    assert len(data.pulls()) == 16


def test_after_a_fit_questions_have_answers(fitted, small_campaign):
    found = data.overview()
    assert found.posterior is not None
    assert found.posterior.pulls == 15
    assert isinstance(data.ask(small_campaign.questions[0]), Answer)


def test_a_campaign_that_is_not_the_one_of_the_fit_is_said(fitted, small_campaign):
    assert not data.overview().has_changed
    fitted.replace_campaign(small_campaign.model_copy(update={"usual_scope": 9.0}))
    assert data.overview().has_changed


def test_an_answer_is_worked_out_once_for_each_state(fitted, small_campaign, monkeypatch):
    asked = []
    real = answers.ask
    monkeypatch.setattr(
        answers, "ask", lambda store, question: asked.append(question) or real(store, question)
    )
    question = small_campaign.questions[0]
    data.ask(question)
    data.ask(question)
    assert len(asked) == 1
    data.ask(small_campaign.questions[1])
    assert len(asked) == 2


def test_a_new_posterior_is_another_state(
    fitted, small_campaign, small_pulls, made_up_posterior, monkeypatch
):
    question = small_campaign.questions[0]
    first = data.ask(question)
    newer = made_up_posterior(small_campaign, small_pulls, seed=7, identity="newer")
    fitted.save_posterior(newer)
    second = data.ask(question)
    assert isinstance(first, Answer)
    assert isinstance(second, Answer)
    assert first.summary.posterior.id != "newer"
    assert second.summary.posterior.id == "newer"


def test_draws_are_read_once_for_all_cards(fitted, small_campaign, monkeypatch):
    reads = []
    real = Store.posterior
    monkeypatch.setattr(
        Store, "posterior", lambda self, name: reads.append(name) or real(self, name)
    )
    for question in small_campaign.questions:
        data.ask(question)
    assert len(reads) == 1


def test_draws_are_remembered_under_the_name_of_their_own_fit(
    fitted, small_campaign, small_pulls, made_up_posterior
):
    """A fit that ends between the look at what is newest and the draws must not take its name."""
    before = fitted.newest_stored().id
    fitted.save_posterior(made_up_posterior(small_campaign, small_pulls, seed=7, identity="newer"))
    remembering = data._RememberingStore(fitted.folder)
    assert remembering.posterior(before).provenance.id == before
    assert remembering.newest_posterior().provenance.id == "newer"


def test_looks_are_kept_answers_one_for_each_set_of_pulls(
    fitted, small_campaign, small_pulls, made_up_posterior
):
    earlier = made_up_posterior(small_campaign, small_pulls[:8], seed=2)
    fitted.save_posterior(earlier)
    answers.record_standing(fitted)
    found = data.moved(small_campaign.questions[0]).looks
    assert all(isinstance(look, Look) for look in found)
    assert len(found) == 2
    assert {look.at for look in found} == {AT}
    assert all(look.finding in Finding for look in found)


def test_without_a_store_it_says_which_one_is_missing(tmp_path, monkeypatch):
    monkeypatch.setenv("KEDGEWISE_STORE", str(tmp_path / "nothing"))
    with pytest.raises(Exception, match="nothing"):
        data.overview()


def test_news_are_facts_fits_and_failures_and_not_that_one_began(
    fitted, small_campaign, small_pulls, made_up_posterior
):
    seen = [data.news()]
    fitted.begin_attempt("f")
    assert data.news() == seen[0]
    fitted.end_attempt("f", "failed", ["12 divergences"])
    seen.append(data.news())
    fitted.save_posterior(made_up_posterior(small_campaign, small_pulls, identity="newer"))
    seen.append(data.news())
    fitted.remove_pulls(["day 1/1"], Reason(who="M", why="tried"))
    seen.append(data.news())
    assert len(set(seen)) == 4
    assert data.overview().news == seen[-1]


def test_asking_for_news_makes_no_store(fitted):
    (fitted.folder / "kedgewise.sqlite").unlink()
    with pytest.raises(Exception, match="is missing in"):
        data.news()
    assert not (fitted.folder / "kedgewise.sqlite").exists()


def test_the_worker_is_the_one_of_the_store(fitted):
    assert data.worker() is None
    with Heartbeat(fitted.folder):
        assert data.worker().doing == "starting"


def test_nobody_is_told_to_run_a_fit_that_the_worker_runs(store, small_campaign):
    def hints():
        return {data.ask(small_campaign.questions[0]).hint, data.modes().hint}

    assert hints() == {data.RUN_A_FIT}
    with Heartbeat(store.folder):
        assert hints() == {data.AT_IT}
    assert hints() == {data.RUN_A_FIT}


def test_what_a_correction_moved_is_given_as_that_of_an_upload_is(fitted, small_campaign):
    """The fit rests on the pull as it was: every answer waits for the next, and says so."""
    found = data.preview_cells(["day 1/1"], {"anchor": "P9"})
    changes = (
        lambda: data.correct(found, found.seen, "read off the video", "M"),
        lambda: data.remove(["day 1/2"], "fouled", "M"),
        lambda: data.put_back(["day 1/2"], "not fouled", "M"),
    )
    names = {question.name for question in small_campaign.questions}
    assert {one.question.name for one in changes[0]()} == names
    assert all(one.waits_because for one in changes[1]())
    assert changes[2]() is not None


def test_a_note_moves_nothing(fitted):
    found = data.preview_cells(["day 1/1"], {"notes": "wet"})
    assert data.correct(found, found.seen, "from the log book", "M") == ()
    assert fitted.revisions("day 1/1")[-1].why == "from the log book"


def test_a_pull_is_stored_by_hand(fitted):
    [row] = corrections.log_rows(fitted, ["day 1/1"])
    name, moves = data.add_row(row | {"pull": "77"})
    assert name == "day 1/77"
    assert moves


def test_checks_are_worked_out_once_and_anew_after_a_fit_without_a_pull(fitted, monkeypatch):
    from model.service import checks

    asked = []
    real = checks.run_checks
    monkeypatch.setattr(checks, "run_checks", lambda *given: asked.append(1) or real(*given))
    found = data.checks()
    assert not isinstance(found, NotYet)
    assert data.checks().found == found.found
    assert len(asked) == 1
    first = found.campaign.questions[0]
    refit = Refit(
        pull="day 1/1", question=first, higher=0.4, above=0.2, inside=0.4, below=0.4, mean=-0.1
    )
    checks.add_refits(fitted, found.posterior.id, [refit])
    assert data.checks().found.influences.refitted == ("day 1/1",)
    assert len(asked) == 2


def test_before_a_fit_there_is_nothing_to_check(store):
    assert isinstance(data.checks(), NotYet)
