"""``kedgewise check``: what it prints, its object, and its exit codes."""

import pytest

from app.checks_words import unknown_words
from app.commands.checks import _made_words
from model.questions.ask import answer as real_answer
from model.service.checks import KEPT_FILE
from model.store.store import Store

NAMES = [
    "fit", "shares", "influence", "uniformity", "sensitivity", "doubled_prior", "priors",
]  # fmt: skip


@pytest.fixture(autouse=True)
def real_answers(kedgewise, monkeypatch):
    del kedgewise  # which puts stand-ins in their place
    from model.questions import ask

    monkeypatch.setattr(ask, "answer", real_answer)


def test_the_verdict_is_first_and_every_check_has_its_reason(fitted):
    found = fitted("check")
    assert found.code == 0
    assert found.out.startswith("Can this be trusted? ")
    assert max(len(line) for line in found.out.splitlines()) <= 80
    for title in ("did the sampler do its work?", "does an answer hang on one pull?"):
        assert title in found.out
    words = " ".join(found.out.split())
    assert "What these pulls cannot say" in words
    assert "no design holding power" in words
    assert "The pulls of this campaign are invented." in words
    assert "nan" not in found.out.casefold().replace("finance", "")


def test_the_object_has_status_and_reason_of_each(fitted):
    found = fitted("check", "--json")
    assert found.code == 0
    assert found.err == ""
    made = found.json
    assert [one["name"] for one in made["checks"]] == NAMES
    for one in made["checks"]:
        assert one["status"] in {"passed", "look", "failed", "not_checked"}
        assert one["reason"]
        assert one["figures"]
        assert bool(one["remedy"]) is (one["status"] in {"look", "failed"})
    assert made["status"] in {"passed", "look", "failed"}
    assert made["posterior"]["fit_check"] == "passed"
    assert made["cannot_say"]
    assert made["questions_not_checked"] == []


def test_before_the_first_fit(kedgewise, campaign_file, log_file):
    assert kedgewise("new", str(campaign_file)).code == 0
    assert kedgewise("import", str(log_file)).code == 0
    found = kedgewise("check", "--json")
    assert found.code == 1
    assert "nothing was fitted" in found.json["error"]


def test_a_newer_fit_that_failed_ends_with_3_and_is_told_all_the_same(fitted, tmp_path):
    store = Store.open(tmp_path / "store")
    store.begin_attempt("newer")
    store.end_attempt("newer", "failed", ["12 divergent draws"])
    found = fitted("check", "--json")
    assert found.code == 3
    assert found.json["status"] == "failed"
    assert "12 divergent draws" in found.json["checks"][0]["reason"]
    assert fitted("check").code == 3


def test_where_no_fit_passed_it_ends_with_3(kedgewise, campaign_file, log_file, fitter):
    assert kedgewise("new", str(campaign_file)).code == 0
    assert kedgewise("import", str(log_file)).code == 0
    fitter.status = "failed"
    assert kedgewise("fit").code == 3
    found = kedgewise("check", "--json")
    assert found.code == 3
    assert "divergences" in found.json["error"]


def test_questions_that_were_not_checked_are_named():
    assert unknown_words(()) == ""
    assert "does not know all that they ask about: new (the anchor Q1)." in unknown_words(
        ("new (the anchor Q1)",)
    )


def test_fits_without_single_pulls_are_made_on_wish_only(fitted, fitter, tmp_path):
    before = len(fitter.calls)
    asks = fitted("check", "--json").json["checks"][2]["figures"]["asks_for_refit"]
    assert len(fitter.calls) == before
    found = fitted("check", "--refit", "--json")
    assert found.code == 0
    made = len(fitter.calls) - before
    assert made == min(len(asks), 5)
    assert f"{made} fit" in found.err if made else "No pull asks for a fit" in found.err
    assert _made_words(0) == "No pull asks for a fit without it: none was made."
    assert _made_words(1).startswith("1 fit made")
    assert len(found.json["checks"][2]["figures"]["refitted"]) == made
    assert (tmp_path / "store" / KEPT_FILE).exists()
