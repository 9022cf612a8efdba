"""`new --from-log` at the command line: what it says, asks, writes and refuses."""

import io
import sys

import pytest

from app.commands import drafting

LOG = """\
pull,anchor,seabed,ending,load_kn,leader
1,S6,ooze and more,released,2.6,chain
2,S6,ooze and more,held,4.6,wire
3,S6,ooze and more,never set,,wire
"""
SAID = {
    "usual_scope": "5", "top_thrust": "4.6", "ladder": "2.6 3.2 4.6", "dwell_s": "15",
    "final_hold_s": "60", "mass_kg.S6": "6", "baseline.leader": "chain",
}  # fmt: skip


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "old trials.csv"
    path.write_text(LOG, encoding="utf-8")
    return path


@pytest.fixture
def says(monkeypatch):
    """Lines typed at a terminal."""

    def type_in(*lines):
        terminal = io.StringIO("".join(f"{line}\n" for line in lines))
        terminal.isatty = lambda: True
        monkeypatch.setattr(sys, "stdin", terminal)

    return type_in


def options(said):
    return [part for key, answer in said.items() for part in ("--say", f"{key}={answer}")]


def test_a_draft_says_what_is_left_open_and_what_to_do(kedgewise, log):
    done = kedgewise("new", "--from-log", str(log))
    draft = log.with_suffix(".toml")
    assert done.code == 0
    assert f"A draft of the campaign file is in {draft}." in done.out
    assert "line 15: the seconds on a step (dwell_s)" in done.out
    assert f"kedgewise new '{draft}'" in done.out
    assert "note: Loads are in kN, by their heading." in done.err
    refused = kedgewise("new", str(draft))
    assert refused.code == 2
    assert "line 15, ladders.steps.dwell_s: still to be filled in" in refused.err


def test_answered_it_makes_a_store_that_takes_the_log(kedgewise, log):
    assert kedgewise("new", "--from-log", str(log), *options(SAID)).code == 0
    assert kedgewise("new", str(log.with_suffix(".toml"))).code == 0
    done = kedgewise("import", str(log))
    assert (done.code, "3 pulls added" in done.err) == (0, True)


def test_json(kedgewise, log):
    left = {key: answer for key, answer in SAID.items() if key != "dwell_s"}
    found = kedgewise("new", "--from-log", str(log), "--json", *options(left)).json
    assert [gap["key"] for gap in found["gaps"]] == ["dwell_s"]
    assert found["gaps"][0]["line"] == 15
    assert (found["draft"], found["faults_of_log"]) == (str(log.with_suffix(".toml")), [])
    again = kedgewise("new", "--from-log", str(log), "--json")
    assert (again.code, "is there already" in again.json["error"]) == (2, True)
    assert kedgewise("new", "--from-log", str(log), "--json", "--replace").code == 0


def test_at_a_terminal_it_asks(kedgewise, log, says):
    """A wrong answer is asked for again; an empty one takes the guess, or leaves a gap."""
    says("5", "much", "4.6", "", "15", "60", "6", "chain")
    done = kedgewise("new", "--from-log", str(log))
    assert "'much' is no number above 0" in done.err
    assert "Which is the baseline of 'leader': chain, wire" in done.err
    text = log.with_suffix(".toml").read_text("utf-8")
    assert "steps = [2.6, 4.6]" in text
    assert "TO FILL IN" not in text.partition("name = ")[2]
    assert "only you know" not in done.out


def test_an_unknown_ladder_has_no_seconds_to_ask_for(kedgewise, log, says):
    says("5", "4.6", "unknown", "6", "chain")
    done = kedgewise("new", "--from-log", str(log))
    assert done.code == 0
    assert "seconds" not in done.err
    assert 'ladder = "unknown"' in log.with_suffix(".toml").read_text("utf-8")


def test_stopped_while_it_asks_nothing_is_written(kedgewise, log, says):
    says("5")
    done = kedgewise("new", "--from-log", str(log))
    assert (done.code, "stopped before the end" in done.err) == (2, True)
    assert not log.with_suffix(".toml").exists()


@pytest.mark.parametrize(
    ("arguments", "found"),
    [
        ((), "one thing at a time"),
        (("a.toml", "--from-log", "b.csv"), "one thing at a time"),
        (("a.toml", "--say", "x=1"), "are for a draft"),
        (("--from-log", "nowhere.csv"), "cannot read"),
        (("--from-log", "{log}", "--say", "thrust"), "is no KEY=ANSWER"),
        (("--from-log", "{log}", "--output", "no/such/folder/x.toml"), "cannot write"),
    ],
)
def test_what_cannot_be_is_refused(arguments, found, kedgewise, log):
    done = kedgewise("new", *(part.replace("{log}", str(log)) for part in arguments))
    assert (done.code, found in done.err) == (2, True)


def test_faults_of_the_log_are_cut_short(kedgewise, log):
    rows = "".join(f"{i},S6,ooze and more,dragged,2.6,wire\n" for i in range(4, 21))
    log.write_text(LOG + rows, encoding="utf-8")
    done = kedgewise("new", "--from-log", str(log))
    assert done.code == 0
    assert "Before old trials.csv can be imported it has to be put right itself" in done.err
    assert done.err.count("is none of its words") == drafting.SHOWN_FAULTS
    assert "and 7 more" in done.err


def test_what_a_heading_means_is_said(kedgewise, log):
    """As the error itself shows how; also where the heading has a sign of equality."""
    log.write_text(LOG.replace("load_kn", "at a=b").replace("ending", "wie"), encoding="utf-8")
    refused = kedgewise("new", "--from-log", str(log))
    assert (refused.code, '--say "heading.at a=b=load"' in refused.err) == (2, True)
    done = kedgewise("new", "--from-log", str(log), "--say", "heading.at a=b=load_kn")
    assert done.code == 0
    assert '"at a=b" = "load_kn"' in log.with_suffix(".toml").read_text("utf-8")
