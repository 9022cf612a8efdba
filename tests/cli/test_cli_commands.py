import contextlib
import json
import re
import shutil
import sqlite3

import pytest

from model.base.errors import FitFailed, InputError
from model.questions import ask
from model.records.answer import AnswerSummary
from model.service import demo as demo_module
from model.service import stores
from model.store.store import Store

ALL_NEW = {"added": 16, "skipped": 0, "taken_out_before": 0, "corrected": []}


def test_from_campaign_to_answer(kedgewise, campaign_file, log_file):
    made = kedgewise("new", str(campaign_file))
    assert (made.code, "A new store for Small trials" in made.out) == (0, True)

    imported = kedgewise("import", str(log_file))
    assert "pulls.csv: 16 pulls added, 0 skipped as known." in imported.err
    assert "15 pulls and 1 void; nothing was fitted yet: run `kedgewise fit`." in imported.out

    assert "Fitted: 15 pulls, fit check passed." in kedgewise("fit").out
    assert "Nothing has changed since the fit" in kedgewise("fit").out
    assert "leader on S6" in kedgewise("ask").out


def test_new_again_shows_what_changed(fitted, campaign_file):
    assert "Nothing has changed" in fitted("new", str(campaign_file)).out
    with campaign_file.open("a") as file:
        file.write('[[anchors]]\ncode = "C7"\nmass_kg = 7.5\n')
    changed = fitted("new", str(campaign_file), "--json").json
    assert (changed["is_new"], changed["changes"]) == (False, ["anchor C7 added"])


def test_import_as_json(kedgewise, campaign_file, log_file):
    kedgewise("new", str(campaign_file))
    found = kedgewise("import", str(log_file), "--json").json
    assert found["files"] == [ALL_NEW | {"file": "pulls.csv"}]
    assert (found["pulls"], found["pulls_behind_answers"]) == ({"used": 15, "void": 1}, 0)
    assert kedgewise("import", str(log_file), "--json").json["files"][0]["skipped"] == 16


def _with_another_anchor(log_file):
    """The log, with one anchor changed on its first line."""
    head, first, *rest = log_file.read_text("utf-8").splitlines(keepends=True)
    assert ",S6," in first
    log_file.write_text("".join([head, first.replace(",S6,", ",P9,"), *rest]), "utf-8")


def test_a_changed_log_is_refused_and_with_a_reason_corrects(fitted, log_file):
    _with_another_anchor(log_file)
    refused = fitted("import", str(log_file))
    assert (refused.code, "anchor: S6 → P9" in refused.err) == (2, True)
    assert '--revise "WHY"' in refused.err
    done = fitted("import", str(log_file), "--revise", "read off the video", "--by", "M")
    assert "pulls.csv: 0 pulls added, 1 corrected, 15 skipped as known." in done.err
    assert "day 1/1: anchor: S6 → P9" in done.err
    assert "what was fitted has changed since: run `kedgewise fit`." in done.out
    _, newest = stores.open_store("./store").revisions("day 1/1")
    assert (newest.who, newest.why) == ("M", "read off the video")


def test_a_correction_as_json(fitted, log_file):
    _with_another_anchor(log_file)
    found = fitted("import", str(log_file), "--revise", "read off the video", "--json").json
    [of_file] = found["files"]
    assert of_file["corrected"] == [{"pull": "day 1/1", "changes": ["anchor: S6 → P9"]}]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--revise", " "), "must say why"),
        (("--revise", "\u200b"), "must say why"),
        (("--revise", "--by"), "--revise says"),
        (("--by", "M"), "there is no reason"),
    ],
)
def test_a_correction_without_its_reason(options, words, fitted, log_file):
    found = fitted("import", str(log_file), *options)
    assert (found.code, words in found.err) == (2, True)


def test_a_copy_and_back_again(fitted, tmp_path):
    saved = fitted("backup", "safe.zip")
    assert (saved.code, "is copied to safe.zip" in saved.out) == (0, True)
    again = fitted("restore", "safe.zip", "--store", "./other")
    assert f"Small trials with 16 pulls is in {tmp_path / 'other'}" in again.out
    assert fitted("ask", "--store", "./other").out == fitted("ask").out


def test_a_copy_as_json(fitted, tmp_path):
    found = fitted("backup", "safe.zip", "--json").json
    assert (found["file"], found["posteriors"], found["left_out"]) == ("safe.zip", 1, [])
    back = fitted("restore", "safe.zip", "--replace", "--json").json
    assert (back["campaign"], back["pulls"]) == ("Small trials", 16)
    assert back["before"].startswith(str(tmp_path / "store" / "copies" / "replaced-"))


def test_a_package_out_and_in_again(fitted, tmp_path):
    done = fitted("export", "trials.zip", "--json").json
    assert (done["file"], done["pulls"], done["revisions"]) == ("trials.zip", 16, 16)
    into = fitted("import", "trials.zip", "--store", "./other")
    assert f"a new store with 16 pulls is in {tmp_path / 'other'}" in into.out
    again = fitted("import", "trials.zip", "--store", "./other", "--json").json
    assert (again["is_new"], again["added"], again["skipped"]) == (False, 0, 16)
    assert "16 pulls in 16 versions" in fitted("export", "more.zip").out
    refused = fitted("import", "trials.zip", "--revise", "why")
    assert (refused.code, "--revise is for logs" in refused.err) == (2, True)


def test_where_to_restore_must_be_named(fitted, monkeypatch):
    fitted("backup", "safe.zip")
    monkeypatch.delenv("KEDGEWISE_STORE")
    found = fitted("restore", "safe.zip")
    assert (found.code, "Name it with --store." in found.err) == (2, True)


def test_fit_as_json(fitted):
    found = fitted("fit", "--json").json
    assert found["state"] == "unchanged"
    assert found["posterior"]["pulls"] == 15
    assert found["fit_check"]["status"] == "passed"


def test_bare_ask_lists_every_standing_question_in_80_columns(fitted, small_campaign):
    found = fitted("ask")
    words = re.sub(r"\s+", " ", found.out)
    assert all(question.name.split()[0] in words for question in small_campaign.questions)
    assert "not settled" in words
    assert "In brackets: 90 % equal-tailed interval." in words
    assert "→: since the look before." in words
    assert "no design holding power" in words
    assert "invented" in words
    assert max(len(line) for line in found.out.splitlines()) <= 80


def test_bare_ask_as_json(fitted):
    found = fitted("ask", "--json").json
    assert [one["question"]["name"] for one in found["answers"]] == [
        "leader on S6",
        "leader in general",
        "S6 or P9 at 3 kN",
        "leader and upright",
    ]
    assert list(found) == ["answers"]


def test_a_question_that_fails_is_said_beside_the_others(
    kedgewise, campaign_file, log_file, monkeypatch, made_up_answer
):
    def sometimes(question, *arguments, **named):
        if question.name == "leader in general":
            raise InputError("cannot be asked", hint="Ask another.")
        return made_up_answer(question, *arguments, **named)

    monkeypatch.setattr(ask, "answer", sometimes)
    for arguments in (("new", str(campaign_file)), ("import", str(log_file)), ("fit",)):
        assert kedgewise(*arguments).code == 0
    found = kedgewise("ask", "--json")
    assert (found.code, len(found.json["answers"])) == (0, 3)
    assert found.json["failed"] == [
        {
            "question": "leader in general",
            "reason": "cannot be asked",
            "hint": "Ask another.",
            "exit_code": 2,
        }
    ]
    assert "failed: cannot" in kedgewise("ask").out


def test_one_answer_as_json_is_its_summary_and_nothing_else(fitted):
    found = fitted("ask", "leader on S6", "--json").json
    summary = AnswerSummary.model_validate(found)
    assert set(found) == set(AnswerSummary.model_fields)
    assert summary.p_above_band + summary.p_inside_band + summary.p_below_band == pytest.approx(1)
    assert summary.effect.interval.kind == "equal-tailed"
    assert summary.posterior.fit_check == "passed"


def test_details_as_json(fitted):
    found = fitted("ask", "leader on S6", "--json", "--details").json
    details = found["details"]
    sides = {"a", "b", "split", "measures", "multiples", "chances_in_ten"}
    assert set(details) == sides | {"alone", "not_alone", "together"}
    assert details["a"]["load_upright"]["interval"]["prob"] == 0.9
    assert details["measures"][0]["measure"] == "typical"


def test_details_of_every_standing_question_as_json(fitted):
    found = fitted("ask", "--json", "--details").json
    assert len(found["answers"]) == 4
    assert all("split" in answer["details"] for answer in found["answers"])


def test_one_answer_in_words(fitted):
    found = fitted("ask", "leader on S6", "--details")
    assert found.out.startswith("Made up: not settled.")
    words = re.sub(r"\s+", " ", found.out)
    for part in (
        "A higher over 99 %, virtually certain",
        "no practical difference: 0.87 to 1.15 ×",
        "1.20 × (90 % equal-tailed interval 0.05 to 1.50 ×)",
        "both modes alike: 1.10 ×",
        "once upright only: 1.10 ×",
        "how often it sets upright: 1.10 ×",
        "upright 3.60 kN (2.88 to 4.32), on its side 2.40 kN",
        "upright 60 %",
        "A ≥ 2 × B 2 %; four times B: under 1 %",
        "Nothing was fitted.",
        "full, 15 pulls, fit check passed",
        "stand clear",
        "3.00 kN (2.40",
    ):
        assert part in words
    assert re.search(r"Pulls A \d+ \(.*held.*\); B \d+ \(.*held.*\); 2 shared outings", words)
    assert max(len(line) for line in found.out.splitlines()) <= 80


def test_a_treatment_in_general(fitted):
    found = fitted("ask", "leader", "--json").json
    assert found["question"]["name"] == "leader: wire 2 m against chain only"


def test_two_set_ups(fitted):
    found = fitted(
        "ask", "--a", "anchor=S6, leader=wire 2 m", "--b", "anchor=S6, leader=chain only",
        "--seabed", "firm sand", "--hold", "3.0", "--json",
    ).json  # fmt: skip
    assert found["question"]["measure"] == "hold"
    assert found["question"]["seabed"] == "firm sand"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("ask", "--a", "anchor=S6"), "both --a and --b"),
        (("ask", "leader", "--a", "anchor=S6", "--b", "anchor=P9"), "no question's name"),
        (("ask", "--next-anchor"), "--next-anchor belongs to one question"),
        (("ask", "--hold", "3", "--seabed", "firm sand"), "--seabed, --hold belong to one"),
        (("ask", "--a", "S6", "--b", "P9"), "Did you mean anchor=S6?"),
        (("ask", "leader on S6", "--measure", "hold"), "as --hold 2.6"),
        (("ask", "lieder on S6"), "no standing question"),
        (("ask", "--a", "anchor=S6", "--b", "anchor=P9", "--hold", "much"), "--hold"),
        (("ask", "leader", "--hold", "1e308"), "--hold 1e+308 is no load"),
        (("ask", "leader", "--hold", "-3"), "--hold -3 is no load"),
        (("ask", "leader", "--hold", "nan"), "--hold nan is no load"),
        (("ask", "leader on S6", "--seabed", "porridge"), "--seabed 'porridge'"),
        (("import", "absent.csv"), "absent.csv"),
        (("new", "absent.toml"), "absent.toml"),
        (("sail",), "sail"),
        (("serve", "--address", "192.168.1.2"), "has no password"),
    ],
)
def test_bad_input_is_exit_2_and_one_json_object(fitted, arguments, words):
    found = fitted(*arguments, "--json")
    assert found.code == 2
    assert set(found.json) == {"error", "hint", "faults"}
    assert words in f"{found.json['error']} {found.json['hint']}"

    plain = fitted(*arguments)
    assert (plain.code, plain.out) == (2, "")
    assert "error: " in plain.err


def test_faults_of_a_file_one_by_one(fitted, log_file):
    text = log_file.read_text("utf-8").replace("S6", "Q1", 1)
    log_file.write_text(text, "utf-8")
    found = fitted("import", str(log_file), "--json")
    assert found.code == 2
    [fault] = found.json["faults"]
    assert (fault["source"], fault["line"]) == ("pulls.csv", 2)
    assert "Q1" in fault["found"]


@pytest.mark.parametrize("arguments", [("ask",), ("fit",), ("stores", "--store", "./absent")])
def test_no_store_where_one_is_named_is_bad_input(kedgewise, arguments):
    found = kedgewise(*arguments, "--json")
    assert found.code == 2
    assert "there is no store" in found.json["error"]
    assert "kedgewise demo" in found.json["hint"]


def test_nothing_fitted_yet_is_exit_1(kedgewise, campaign_file, log_file):
    kedgewise("new", str(campaign_file))
    kedgewise("import", str(log_file))
    for arguments in (("ask",), ("ask", "leader")):
        found = kedgewise(*arguments, "--json")
        assert (found.code, found.json["hint"]) == (1, "Run `kedgewise fit`.")


def test_a_fit_that_fails_its_check_is_exit_3(kedgewise, campaign_file, log_file, fitter):
    kedgewise("new", str(campaign_file))
    kedgewise("import", str(log_file))
    fitter.status = "failed"
    found = kedgewise("fit", "--json")
    assert found.code == FitFailed.exit_code == 3
    assert "12 divergences" in found.json["error"]
    for arguments in (("ask",), ("ask", "leader")):
        asked = kedgewise(*arguments, "--json")
        assert (asked.code, "12 divergences" in asked.json["error"]) == (3, True)


def test_answers_say_that_the_newest_fit_failed(fitted, log_file, fitter, small_pulls, tmp_path):
    more = small_pulls[0].model_copy(update={"code": "77"})
    Store.open(tmp_path / "store").add_pulls([more], "more.csv")
    fitter.status = "failed"
    assert fitted("fit").code == 3
    found = fitted("ask", "leader")
    assert found.code == 0
    assert "rest on 15 of 16 pulls" in found.err
    assert "fit failed: 12 divergences" in found.err


def test_an_unforeseen_error_is_one_line_and_exit_1(fitted, fitter, log_file, monkeypatch):
    def break_down(*_):
        raise ZeroDivisionError("in the works")

    monkeypatch.setattr(Store, "pulls", break_down)
    found = fitted("fit", "--json")
    assert (found.code, found.json["error"]) == (1, "ZeroDivisionError: in the works")
    assert "Traceback" not in found.err

    monkeypatch.setenv("KEDGEWISE_DEBUG", "1")
    assert "break_down" in fitted("fit").err


def test_ctrl_c_while_fitting(fitted, fitter, small_pulls, tmp_path):
    more = small_pulls[0].model_copy(update={"code": "77"})
    Store.open(tmp_path / "store").add_pulls([more], "more.csv")
    fitter.error = KeyboardInterrupt()
    assert fitted("fit").code == 130
    assert fitted("ask", "leader").code == 0


def test_a_library_that_prints_does_not_spoil_the_json(fitted, fitter, small_pulls, tmp_path):
    more = small_pulls[0].model_copy(update={"code": "77"})
    Store.open(tmp_path / "store").add_pulls([more], "more.csv")
    make = fitter.fit

    def chatter(*arguments, **named):
        print("sampling...")
        return make(*arguments, **named)

    fitter.fit = chatter
    assert fitted("fit", "--json").json["state"] == "fitted"


def test_demo(kedgewise, campaign_file, log_file, tmp_path, monkeypatch):
    data = tmp_path / "data"
    data.mkdir()
    shutil.copy(campaign_file, data / demo_module.CAMPAIGN_FILE)
    shutil.copy(log_file, data / demo_module.LOG_FILE)
    monkeypatch.setattr(demo_module, "demo_data", lambda: data)

    found = kedgewise("demo", "--json").json
    assert set(found) == {"store", "posterior", "answers", "next"}
    assert found["store"] == str(tmp_path / "store")
    assert found["posterior"]["pulls"] == 15
    assert found["posterior"]["fit_check"] == "passed"
    assert found["answers"][0]["finding"] == "higher"
    assert [one["second"]["levels"]["leader"] for one in found["next"]] == ["chain only"] * 3

    again = kedgewise("demo")
    assert "kedgewise serve --store" in again.out
    assert "settled: wire" in again.out
    _, _, ending = again.out.partition("What to pull next for leader on S6:")
    assert ending.count("against") == 3


def test_names_with_markup_stay_words(fitted, campaign_file):
    text = campaign_file.read_text("utf-8").replace('"leader in general"', '"[bold]x[/bold] ü"')
    campaign_file.write_text(text, "utf-8")
    assert fitted("new", str(campaign_file)).code == 0
    assert "[bold]x[/bold]" in fitted("ask", "[bold]x[/bold] ü").out


def test_stores(kedgewise, campaign_file, tmp_path, monkeypatch):
    monkeypatch.setattr(stores, "data_folder", lambda: tmp_path / "user")
    assert "No stores in" in kedgewise("stores").out
    kedgewise("new", str(campaign_file), "--store", "trials")
    assert kedgewise("stores").out.startswith("trials: Small trials, 0 pulls, not fitted, ")
    [found] = kedgewise("stores", "--json").json["stores"]
    assert (found["name"], found["folder"]) == ("trials", str(tmp_path / "user" / "trials"))
    assert kedgewise("stores", "--store", "trials", "--json").json["stores"] == [found]


def test_a_damaged_store_among_others_is_listed_and_exit_1(
    kedgewise, campaign_file, tmp_path, monkeypatch
):
    monkeypatch.setattr(stores, "data_folder", lambda: tmp_path / "user")
    for name in ("one", "two", "three"):
        kedgewise("new", str(campaign_file), "--store", name)
    (tmp_path / "user" / "one" / "kedgewise.sqlite").write_text("no database " * 200)

    plain = kedgewise("stores")
    assert [line.split(":")[0] for line in plain.out.splitlines()] == ["one", "three", "two"]
    assert "error: cannot be read: one\nPut back a safe copy with `kedgewise rest" in plain.err
    found = kedgewise("stores", "--json")
    assert [store["trouble"] is None for store in found.json["stores"]] == [False, True, True]
    assert found.json["stores"][0]["hint"] in plain.err
    alone = kedgewise("stores", "--store", "one")
    assert (plain.code, found.code, alone.code) == (1, 1, 1)
    assert kedgewise("stores", "--store", "two").code == 0


def test_a_damaged_pull_is_said_beside_no_kept_answer(fitted, tmp_path):
    with contextlib.closing(sqlite3.connect(tmp_path / "store" / "kedgewise.sqlite")) as database:
        database.execute("UPDATE pull SET record = '{}' WHERE id = 3")
        database.commit()
    for arguments in (("ask",), ("ask", "leader")):
        plain, found = fitted(*arguments), fitted(*arguments, "--json")
        assert (plain.code, found.code, plain.out) == (1, 1, "")
        assert set(found.json) == {"error", "hint", "faults"}
        assert found.json["error"] in plain.err


def test_json_is_plain_ascii(fitted):
    found = fitted("ask", "leader on S6", "--json")
    assert found.out.isascii()
    assert json.loads(found.out)["effect"]["unit"] == "×"


def test_stores_count_pulls_as_the_other_places_do(fitted):
    assert (
        ": Small trials, 15 pulls and 1 void, 15 in the fit, "
        in fitted("stores", "--store", "./store").out
    )
    [found] = fitted("stores", "--store", "./store", "--json").json["stores"]
    assert (found["pulls"], found["void_pulls"]) == (16, 1)


def test_next_steps_name_the_store_that_was_named(kedgewise, campaign_file, log_file):
    at = ("--store", "./my trials")
    said = 'kedgewise {} --store "./my trials"'
    assert said.format("import FILE") in kedgewise("new", str(campaign_file), *at).out
    assert said.format("fit") in kedgewise("import", str(log_file), *at).out
    assert said.format("fit") in kedgewise("ask", "leader", *at).err
    assert said.format("ask") in kedgewise("fit", *at).out


def test_where_no_store_was_named_next_steps_name_none(kedgewise, campaign_file, log_file):
    assert kedgewise("new", str(campaign_file)).out.endswith("Next: kedgewise import FILE\n")
    assert "run `kedgewise fit`." in kedgewise("import", str(log_file)).out


def test_without_a_bar_one_line_says_that_work_has_begun(kedgewise, campaign_file, log_file):
    kedgewise("new", str(campaign_file))
    kedgewise("import", str(log_file))
    line = "Fitting 15 pulls: about a minute the first time.\n"
    assert kedgewise("fit").err == line
    assert kedgewise("fit").err == ""  # nothing to do, nothing begun


def test_the_program_alone_shows_its_help_and_no_error(kedgewise):
    found = kedgewise()
    assert "Usage: kedgewise" in found.out
    assert found.err == ""


def test_a_standing_question_by_another_measure(fitted):
    found = fitted("ask", "leader on S6", "--measure", "best", "--band", "1.2", "--json").json
    assert found["question"]["name"] == "leader on S6 (best, 1.2)"
    assert (found["question"]["measure"], found["question"]["band"]["upper"]) == ("best", 1.2)
    treatment = fitted("ask", "leader", "--seabed", "firm sand", "--next-anchor", "--json").json
    assert treatment["question"]["seabed"] == "firm sand"


def test_help_lists_the_measures_that_are_answered():
    from app.commands.options import MEASURES
    from model.records.question import Measure

    assert re.findall(r"[a-z_]{3,}", MEASURES) == [str(measure) for measure in Measure]
