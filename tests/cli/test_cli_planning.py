import json
import re
from pathlib import Path

import pytest

from model.records.question import Question, SetUp
from model.service.day_plans import SEEDS_FILE
from model.store.store import Store

RANKED_KEYS = {
    "first",
    "second",
    "information_nats",
    "information_nats_per_pull",
    "information_nats_per_hour",
    "share_of_doubt",
    "minutes",
    "p_held",
    "is_untried",
    "reason",
}
FEW = ("--campaigns", "10", "--pulls", "4", "--hours", "2")


@pytest.fixture
def planned(fitted, small_rehearsals):
    """The command line on a store with a fit, for planning with few draws."""
    del small_rehearsals
    return fitted


def words_of(text):
    return re.sub(r"\s+", " ", text)


def test_next_says_it_in_words_first(planned):
    found = planned("next", "--hours", "2")
    words = words_of(found.out)
    assert found.code == 0
    assert words.startswith("Pull next, both on one day: ")
    assert max(len(line) for line in found.out.splitlines()) <= 80
    for heading in ("Two on one day", "One pull", "Doubt", "An hour", "Holds", "Minutes"):
        assert heading in words
    assert "ladder steps, 0.5 kN to 4.6 kN in 8 steps" in words
    assert "by 4 pulls (a day)" in words
    assert "of 10 rehearsed campaigns" in words or "none was settled" in words
    assert "full, 15 pulls, fit check passed" in words
    assert "no design holding power" in words
    assert "The pulls of this campaign are invented." in words


def test_next_as_one_object(planned):
    found = planned("next", "--hours", "2", "--most", "2", "--json").json
    assert [len(found[kind]) for kind in ("pairs", "singles")] == [2, 2]
    for one in (*found["pairs"], *found["singles"]):
        assert set(one) == RANKED_KEYS
    assert found["singles"][0]["second"] is None
    assert found["questions"][0]["name"] == "leader on S6"
    assert found["posterior"]["state"] == "full"
    outlook = found["outlook"]
    assert [one["pulls"] for one in outlook["p_settled"]] == [2, 4, 8]
    assert sum(outlook["ends"].values()) == pytest.approx(1)
    assert outlook["campaigns"] == 10


def test_next_without_the_outlook(planned):
    assert planned("next", "--no-outlook", "--json").json["outlook"] is None
    assert "rehearsed" not in planned("next", "--no-outlook").out


def test_next_for_several_questions_with_weights(planned):
    asked = ("leader on S6", "leader and upright", "--weight", "3", "--weight", "1")
    found = planned("next", *asked, "--no-outlook", "--json").json
    assert [one["weight"] for one in found["questions"]] == [0.75, 0.25]
    words = words_of(planned("next", *asked, "--no-outlook").out)
    assert "Questions leader on S6 (75 %), leader and upright (25 %)" in words.replace("\xa0", " ")


def test_next_before_the_first_pull(kedgewise, campaign_file, small_rehearsals):
    assert kedgewise("new", str(campaign_file)).code == 0
    found = kedgewise("next", "--no-outlook")
    assert found.code == 0
    assert "before the first pull, from what the model believes beforehand" in words_of(found.out)
    assert kedgewise("next", "--no-outlook", "--json").json["posterior"] is None


def test_pulls_without_a_fit_end_with_what_to_do(kedgewise, campaign_file, log_file):
    for arguments in (("new", str(campaign_file)), ("import", str(log_file))):
        assert kedgewise(*arguments).code == 0
    for command in ("next", "day", "rehearse"):
        found = kedgewise(command)
        assert (found.code, found.out) == (1, "")
        assert "kedgewise fit" in found.err


@pytest.mark.parametrize(
    "arguments",
    [
        ("next", "keel"),
        ("next", "--without", "anchor=Q1"),
        ("next", "--without", "anchor=S6", "--without", "anchor=P9"),
        ("next", "leader on S6", "--weight", "1", "--weight", "2"),
        ("next", "--hours", "0"),
        ("next", "--most", "0"),
        ("next", "--scope", "-1"),
        ("next", "--today", "day 9"),
        ("next", "--seed", "-1"),
        ("day", "--hours", "99"),
        ("day", "--seed", "x"),
        ("day", "-o", "pulls.csv"),
        ("rehearse", "--campaigns", "1"),
        ("rehearse", "--pulls", "1"),
        ("rehearse", "--jobs", "0"),
    ],
)
def test_bad_input_gets_one_error_and_nothing_else(planned, arguments):
    found = planned(*arguments)
    assert (found.code, found.out) == (2, "")
    assert found.err.count("error:") == 1
    assert "error" in planned(*arguments, "--json").json
    assert not (Path("store") / SEEDS_FILE).exists()


def test_a_log_is_not_overwritten_by_a_page(planned):
    before = Path("pulls.csv").read_bytes()
    assert planned("day", "--hours", "1", "-o", "pulls.csv").code == 2
    assert Path("pulls.csv").read_bytes() == before


def test_a_question_about_the_next_anchor_cannot_be_planned_for(planned):
    store = Store.open(Path("store"))
    campaign, general = store.campaign(), SetUp(levels={"leader": "wire 2 m"})
    question = Question(name="one more", a=general, b=SetUp(), over="next")
    questions = (*campaign.questions, question)
    store.replace_campaign(campaign.model_copy(update={"questions": questions}))
    found = planned("next", "one more")
    assert found.code == 2
    assert "one more pull or anchor" in words_of(found.err)


def test_a_day_in_its_order(planned):
    found = planned("day", "--hours", "3")
    words = words_of(found.out)
    assert found.code == 0
    assert max(len(line) for line in found.out.splitlines()) <= 80
    assert re.match(r"\d+ pulls in \d+ blocks?, \d:\d\d h of 3:00 h: the chance", words)
    assert "make ready" in words
    assert "no two in one furrow" in words
    seed = json.loads((Path("store") / SEEDS_FILE).read_text("utf-8"))[
        "new day after 2 outings / leader on S6"
    ]
    assert f"Seed {seed}, kept for this day" in words
    again = planned("day", "--hours", "3", "--json").json
    assert again["seed"] == seed
    assert [one["number"] for one in again["pulls"]] == list(range(1, len(again["pulls"]) + 1))


def test_a_page_to_print_stands_alone_with_names_as_text(planned, campaign_file):
    text = campaign_file.read_text("utf-8")
    text = text.replace('"leader on S6"', '"<b>x</b> & S6"')
    campaign_file.write_text(text, "utf-8")
    assert planned("new", str(campaign_file)).code == 0
    found = planned("day", "--hours", "3", "-o", "day.html")
    assert found.code == 0
    page = Path("day.html").read_text("utf-8")
    assert "<b>x</b>" not in page
    assert "&lt;b&gt;x&lt;/b&gt; &amp; S6" in page
    assert page.startswith("<!doctype html>")
    assert "@media print" in page
    assert "Stand clear." in page
    assert not re.search(r"(src|href|url\()", page)
    assert page.count("<tr>") == 1 + len(planned("day", "--hours", "3", "--json").json["pulls"])
    assert list(Path().glob("*.part")) == []


def test_a_page_that_cannot_be_written_leaves_nothing(planned):
    found = planned("day", "--hours", "1", "-o", "nowhere/day.html")
    assert (found.code, found.out) == (2, "")
    assert "there is no folder" in found.err  # before anything is worked out
    assert not Path("nowhere").exists()


def test_a_page_stays_as_it_was_where_the_disk_is_full(planned, monkeypatch):
    Path("day.html").write_text("before", "utf-8")

    def full(*_):
        raise OSError("No space left on device")

    monkeypatch.setattr("model.store.files.swap_in", full)
    assert planned("day", "--hours", "1", "-o", "day.html").code == 1
    assert Path("day.html").read_text("utf-8") == "before"
    assert list(Path().glob("*.part")) == []


def test_hours_for_not_one_pair_say_so_and_print_nothing(planned):
    assert "Not one pair of pulls fits into 0.5 h" in words_of(planned("day", "--hours", "0.5").out)
    found = planned("day", "--hours", "0.5", "-o", "day.html")
    assert found.code == 2
    assert not Path("day.html").exists()


def test_a_rehearsal_by_ways_to_choose_and_by_true_effect(planned):
    found = planned("rehearse", *FEW)
    words = words_of(found.out).replace("\xa0", " ")
    assert found.code == 0
    assert max(len(line) for line in found.out.splitlines()) <= 80
    assert "of 10 rehearsed campaigns" in words
    assert "two arms in turn" in words
    assert "True effect" in words


def test_a_rehearsal_as_one_object(planned):
    found = planned("rehearse", "leader and upright", *FEW, "--json").json
    assert len(found["by_policy"]) == 4
    effects = [one["true_effect"] for one in found["by_effect"]]
    assert {one["kind"] for one in effects} == {"difference"}
    values = [one["value"] for one in effects]
    assert values == sorted(values)
    assert {round(value, 2) for value in values} <= {-0.15, -0.1, -0.05, 0.0, 0.05, 0.1, 0.15}
    assert 0.0 in values
    for one in (*found["by_policy"], *found["by_effect"]):
        assert one["settled"] + round(10 * one["ends"]["not settled"]) == 10
