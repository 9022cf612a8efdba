"""Checks as a use case: what is kept, what makes it be done anew, and fits without single pulls."""

import json

import pytest

from model.base.errors import FitFailed, InputError, StoreBusy
from model.base.names import DRAW, PULL
from model.checks.check import Status
from model.posterior.posterior import LOG_LIKELIHOOD
from model.questions import ask
from model.records.answer import NotYet
from model.records.question import SetUp
from model.service import checks, fits
from model.service.checks import KEPT_FILE, check, kept_of, standing_questions
from model.service.evidence import Evidence
from model.service.refits import _without, refit
from model.store.revisions import Reason

REAL_ANSWER = ask.answer
"""Taken before anything stands in for it."""


@pytest.fixture(autouse=True)
def real_answers(monkeypatch):
    """In the place of stand-ins: checks work on the effect of every draw."""
    monkeypatch.setattr(ask, "answer", REAL_ANSWER)


@pytest.fixture
def asking(fitter, monkeypatch):
    """A fitter whose draws ask for a fit without one pull: its chance hangs on the effect."""
    make = fitter.fit

    def fit(campaign, pulls, **more):
        posterior = make(campaign, pulls, **more)
        effect = posterior.draws["treatment_load"].to_numpy()[:, 0]
        z = (effect - effect.mean()) / effect.std()
        if "day 1/4" in posterior.draws[PULL]:
            posterior.draws[LOG_LIKELIHOOD].loc[{PULL: "day 1/4"}] = -4 * z**2
        assert posterior.draws.sizes[DRAW] == len(z)
        return posterior

    monkeypatch.setattr(fitter, "fit", fit)
    fitter.draws = 400
    return fitter


@pytest.fixture
def fitted(store, small_pulls, asking):
    store.add_pulls(small_pulls, "pulls.csv")
    fits.fit(store, fitter=asking)
    return store


def test_before_the_first_fit_it_says_what_to_do(filled):
    found = check(filled)
    assert isinstance(found, NotYet)
    assert "kedgewise fit" in found.hint


def test_the_fit_check_is_first_and_the_gravest_the_verdict(fitted):
    found = check(fitted)
    assert found.checks[0].name == "fit"
    assert len(found.checks) == 7
    assert found.verdict.status in {one.status for one in found.checks}


def test_what_was_found_is_kept_and_not_worked_out_again(fitted, monkeypatch):
    first = check(fitted)
    assert (fitted.folder / KEPT_FILE).exists()
    monkeypatch.setattr(checks, "run_checks", None)
    assert check(fitted).found == first.found


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"posterior": 3}', "{half"])
def test_a_damaged_file_is_done_anew(fitted, text):
    first = check(fitted)
    (fitted.folder / KEPT_FILE).write_text(text, "utf-8")
    assert check(fitted).found == first.found


def test_what_is_kept_of_another_fit_or_version_is_not_taken(fitted):
    check(fitted)
    path = fitted.folder / KEPT_FILE
    kept = json.loads(path.read_text("utf-8"))
    stored = fitted.newest_stored()
    for change in ({"posterior": "another"}, {"version": -1}):
        path.write_text(json.dumps(kept | change), "utf-8")
        assert kept_of(fitted.folder, stored.id).checks is None


def test_fits_that_another_version_kept_are_taken_all_the_same(fitted, asking):
    refit(fitted, fitter=asking)
    path, stored = fitted.folder / KEPT_FILE, fitted.newest_stored()
    kept = json.loads(path.read_text("utf-8"))
    path.write_text(json.dumps(kept | {"version": -1, "checks": {"of": "another shape"}}), "utf-8")
    found = kept_of(fitted.folder, stored.id)
    assert found.checks is None
    assert {one.pull for one in found.refits} == {"day 1/4"}


def test_another_question_is_checked_anew(fitted, small_campaign):
    before = check(fitted).found
    fewer = small_campaign.model_copy(update={"questions": small_campaign.questions[:2]})
    fitted.replace_campaign(fewer)
    after = check(fitted).found
    assert len(before.doubled.rows) == 4
    assert len(after.doubled.rows) == 2


def test_a_newer_fit_that_failed_fails_the_first_check(fitted):
    fitted.begin_attempt("newer")
    fitted.end_attempt("newer", "failed", ["12 divergent draws"])
    found = check(fitted)
    assert found.fit.status is Status.FAILED
    assert "12 divergent draws" in found.fit.reason
    assert found.verdict.status is Status.FAILED


def test_where_no_fit_passed_it_is_refused(filled):
    filled.begin_attempt("one")
    filled.end_attempt("one", "failed", ["12 divergent draws"])
    with pytest.raises(FitFailed, match="12 divergent"):
        check(filled)


def test_a_pull_that_asks_for_it_is_fitted_without_and_kept(fitted, asking):
    before = check(fitted)
    assert before.found.influences.asks_for_refit == ("day 1/4",)
    answers = fitted.answer_count()
    calls = len(asking.calls)
    said = []
    assert refit(fitted, fitter=asking, progress=lambda _, text: said.append(text)) == 1
    assert asking.calls[calls:] == [asking.calls[0] - 1]
    assert said[0].startswith("without pull day 1/4")
    after = check(fitted)
    assert after.found.influences.asks_for_refit == ()
    assert after.found.influences.refitted == ("day 1/4",)
    states = {row.state for row in after.found.influences.rows if row.pull == "day 1/4"}
    assert states == {"refitted"}
    assert fitted.answer_count() == answers, "a fit without a pull is no look at a question"
    assert fitted.newest_stored().id == before.posterior.id
    assert refit(fitted, fitter=asking) == 0


def test_a_fit_without_a_pull_that_failed_is_said_to_have(fitted, asking):
    asking.status = "failed"
    assert refit(fitted, fitter=asking) == 1
    rows = [row for row in check(fitted).found.influences.rows if row.pull == "day 1/4"]
    assert {row.state for row in rows} == {"failed"}


def test_without_the_only_pull_there_is_nothing_to_fit(fitted, asking, small_pulls):
    evidence = Evidence(fitted, fitted.newest_stored(), fitted.facts())
    asked, calls = standing_questions(evidence), len(asking.calls)
    found = _without(evidence.full.posterior, small_pulls[:1], small_pulls[0].id, asked, asking,
                     lambda *_: None)  # fmt: skip
    assert len(asking.calls) == calls
    assert {one.trouble for one in found} == {"no pull is left to fit"}


def test_a_fit_that_is_refused_for_another_reason_is_said_to_be(fitted, asking, monkeypatch):
    def refuse(*_, **__):
        raise InputError("no load to learn from")

    monkeypatch.setattr(asking, "fit", refuse)
    assert refit(fitted, fitter=asking) == 1
    kept = kept_of(fitted.folder, fitted.newest_stored().id)
    assert {one.trouble for one in kept.refits} == {"no load to learn from"}


def test_a_fit_that_is_stored_while_checks_are_made_is_not_lost(fitted, asking, monkeypatch):
    real = checks.run_checks

    def slow(*given):
        found = real(*given)
        assert refit(fitted, fitter=asking) == 1
        return found

    monkeypatch.setattr(checks, "run_checks", slow)
    check(fitted)
    monkeypatch.setattr(checks, "run_checks", real)
    assert kept_of(fitted.folder, fitted.newest_stored().id).refits
    assert check(fitted).found.influences.refitted == ("day 1/4",)


def test_of_a_posterior_that_is_not_the_newest_nothing_is_kept(fitted, asking, monkeypatch):
    real, older = checks.run_checks, fitted.newest_stored().id

    def slow(*given):
        fitted.remove_pulls(["day 1/2"], Reason(who="M", why="read off the video"))
        fits.fit(fitted, fitter=asking)
        return real(*given)

    monkeypatch.setattr(checks, "run_checks", slow)
    check(fitted)
    assert fitted.newest_stored().id != older
    assert kept_of(fitted.folder, older).checks is None


def test_a_question_that_the_fit_does_not_know_is_named(fitted, small_campaign):
    assert check(fitted).unknown == ()
    newer = small_campaign.anchors[0].model_copy(update={"code": "Q1"})
    asked = small_campaign.questions[0].model_copy(
        update={"name": "the new one", "a": SetUp(anchor="Q1"), "b": SetUp(anchor="S6")}
    )
    fitted.replace_campaign(
        small_campaign.model_copy(
            update={
                "anchors": (*small_campaign.anchors, newer),
                "questions": (*small_campaign.questions, asked),
            }
        )
    )
    assert check(fitted).unknown == ("the new one (the anchor Q1)",)


def test_at_most_so_many_fits_are_made(fitted, asking):
    assert refit(fitted, fitter=asking, most=0) == 0
    assert check(fitted).found.influences.asks_for_refit == ("day 1/4",)


def test_while_another_fit_runs_none_is_made(fitted, asking):
    with fits.fit_lock(fitted.folder, wait_s=0), pytest.raises(StoreBusy):
        refit(fitted, fitter=asking)


def test_a_fit_of_another_version_is_not_compared_with_fits_of_this_one(
    fitted, asking, monkeypatch
):
    monkeypatch.setattr(fits, "wanted_fingerprint", lambda *_: "another")
    with pytest.raises(InputError, match="another version"):
        refit(fitted, fitter=asking)


def test_a_store_that_may_only_be_read_is_checked_all_the_same(fitted, monkeypatch):
    def full(_):
        raise OSError("no room")

    monkeypatch.setattr(checks, "written_whole", full)
    assert check(fitted).found == check(fitted).found
    assert not (fitted.folder / KEPT_FILE).exists()
