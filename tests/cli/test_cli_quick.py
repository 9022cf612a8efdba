"""Quick answers on the command line: what moved after an import, and in ``ask``."""

import re

import pytest

from model.ingest.log_writer import write_log
from model.questions import ask
from model.questions.ask import answer as real_answer


@pytest.fixture
def on_two_days(kedgewise, campaign_file, tmp_path, small_campaign, small_pulls, fitter,
                monkeypatch):  # fmt: skip
    """The command line on a store fitted to all but one pull, and the log with that one."""
    monkeypatch.setattr(ask, "answer", real_answer)
    fitter.draws = 4000
    never = next(pull for pull in small_pulls if not pull.has_set and not pull.is_void)
    more = never.model_copy(update={"outing": "day 2", "code": "31"})
    write_log(small_pulls, small_campaign, tmp_path / "pulls.csv")
    write_log((*small_pulls, more), small_campaign, tmp_path / "more.csv")
    for arguments in (("new", str(campaign_file)), ("import", "pulls.csv"), ("fit",)):
        assert kedgewise(*arguments).code == 0
    return kedgewise


def require_moves(out, campaign):
    """Each question has a line of its own, or is one of those that are counted."""
    _, _, told = out.partition("What moved (chance that A is higher):\n")
    moved = [line.strip() for line in told.splitlines() if "→" in line]
    others = re.findall(r"(\d+) others? as before", told)
    assert moved
    assert len(moved) + sum(map(int, others)) == len(campaign.questions)
    for line in moved:
        name, _, figures = line.partition(": ")
        assert name in {question.name for question in campaign.questions}
        before, after = figures.removesuffix(", quick").split(" → ")
        assert line.endswith(", quick")
        assert before != after


def test_an_import_ends_with_what_moved(on_two_days, small_campaign):
    found = on_two_days("import", "more.csv")
    assert found.code == 0
    require_moves(found.out, small_campaign)


def test_the_same_as_json(on_two_days):
    found = on_two_days("import", "more.csv", "--json").json
    first = found["moved"][0]
    assert first["before"]["posterior"]["state"] == "full"
    assert first["after"]["posterior"]["state"] == "quick"
    assert first["after"]["posterior"]["pulls"] == 16
    assert first["waits_because"] is None


@pytest.fixture
def their_package(on_two_days):
    """The same pulls and one more, as a package of another tester's store."""
    for arguments in (("new", "campaign.toml"), ("import", "more.csv"), ("export", "theirs.zip")):
        store = ("--store", "./theirs")
        assert on_two_days(*arguments, *store).code == 0
    return "theirs.zip"


def test_a_package_ends_with_what_moved_too(on_two_days, their_package, small_campaign):
    found = on_two_days("import", their_package)
    assert found.code == 0
    assert "theirs.zip: 1 pull added, 16 skipped as known." in found.out
    assert "full answers still rest on 15: run `kedgewise fit`." in found.out
    require_moves(found.out, small_campaign)
    assert "What moved" not in on_two_days("import", their_package).out


def test_a_package_as_json_too(on_two_days, their_package):
    found = on_two_days("import", their_package, "--json").json
    assert (found["added"], found["skipped"], found["taken_out_before"]) == (1, 16, 0)
    assert found["moved"][0]["after"]["posterior"]["state"] == "quick"


def test_nothing_new_moves_nothing(on_two_days):
    assert "What moved" not in on_two_days("import", "pulls.csv").out


def test_ask_says_quick_and_names_the_pull(on_two_days, small_campaign):
    on_two_days("import", "more.csv")
    assert "quick" in on_two_days("ask").out
    question = small_campaign.questions[0].name
    found = on_two_days("ask", question)
    assert "day 2/31" in " ".join(found.out.split())
    posterior = on_two_days("ask", question, "--json").json["posterior"]
    assert (posterior["state"], posterior["pulls"], len(posterior)) == ("quick", 16, 4)
    assert "kedgewise fit" in found.err


def test_fit_takes_its_place_and_fills_the_trail_on_wish(on_two_days, fitter):
    on_two_days("import", "more.csv")
    assert on_two_days("fit", "--trail").code == 0
    assert fitter.calls == [16, 17, 7]  # all with the void one, all and one, the first day's
    assert on_two_days("ask", "--json").json["answers"][0]["posterior"]["state"] == "full"
