"""``ask NAME --at``: a kept answer as it was, whatever has come to the store since."""

import pytest

from model.service import past_answers, stores
from model.store.revisions import Reason

NAME = "leader on S6"


@pytest.fixture
def twice(fitted):
    """Two fits with a correction and a pull taken out between; gives the first one's answer."""
    before = fitted("ask", NAME, "--json").json
    store = stores.open_store("./store")
    changed = store.pulls()[0].model_copy(update={"anchor": "P9"})
    why = Reason(who="M", why="read off the video")
    store.correct_pulls([changed], "by hand", why)
    store.remove_pulls([store.pulls()[-1].id], why)
    assert fitted("fit").code == 0
    return before


def kept_ids(kedgewise):
    found = kedgewise("ask", NAME, "--at", "list", "--json").json["kept"]
    return [one["answer"]["posterior"]["id"] for one in found]


def test_a_past_answer_is_shown_as_it_was(fitted, twice):
    first, second = kept_ids(fitted)
    assert first != second
    found = fitted("ask", NAME, "--at", first[:8], "--json").json
    assert found["answer"] == twice
    assert found["answered_at"].endswith("+00:00")
    store = stores.open_store("./store")
    [removed] = store.removed_pulls()
    assert found["changed_since"] == ["day 1/1", removed.pull.id]
    assert fitted("ask", NAME, "--at", second, "--json").json["changed_since"] == []


def test_it_is_told_in_words(fitted, twice):
    said = " ".join(fitted("ask", NAME, "--at", kept_ids(fitted)[0]).out.split())
    assert " ".join(twice["sentence"].split()) in said
    for flag in twice["flags"]:
        assert " ".join(flag["text"].split()) in said
    for word in ("Answered", " UTC", "A higher", "A against B", "Band", "Pulls", "Posterior"):
        assert word in said
    assert "2 of the 16 pulls known then corrected or taken out: day 1/1" in said
    assert "invented" in said
    assert "Caution" in said


def test_answers_of_now_would_be_seen(fitted, twice, monkeypatch):
    """Were the facts of now taken for those of then, nothing would have changed since."""
    from model.store.store import Store

    monkeypatch.setattr(Store, "facts_behind", lambda self, _: self.facts())
    first = kept_ids(fitted)[0]
    assert fitted("ask", NAME, "--at", first, "--json").json["changed_since"] == []


def test_what_is_kept_is_listed(fitted, twice):
    first, second = kept_ids(fitted)
    said = fitted("ask", NAME, "--at", "list")
    assert said.code == 0
    assert first[:8] in said.out
    assert second[:8] in said.out
    assert max(map(len, said.out.splitlines())) <= 80


@pytest.mark.parametrize("at", ["nothing", "", " "])
def test_of_an_unknown_posterior_it_says_which_there_are(at, fitted):
    [known] = kept_ids(fitted)
    found = fitted("ask", NAME, "--at", at)
    assert found.code == 2
    assert "no answer to it rests on a posterior" in found.err
    assert known in found.err
    assert past_answers.HOW_TO_LIST in found.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("ask", "--at", "list"), "no name beside it"),
        (("ask", NAME, "--at", "list", "--details"), "--details beside it"),
        (("ask", NAME, "--at", "list", "--measure", "best"), "--measure beside it"),
        (("ask", "nothing", "--at", "list"), "no answer is kept of a question 'nothing'"),
    ],
)
def test_what_does_not_go_with_it(arguments, words, fitted):
    found = fitted(*arguments)
    assert (found.code, words in found.err) == (2, True)


def test_before_the_first_fit_there_is_none(kedgewise, campaign_file):
    kedgewise("new", str(campaign_file))
    found = kedgewise("ask", NAME, "--at", "list")
    assert (found.code, "There was no fit yet." in found.err) == (2, True)
