"""What README shows is what the program takes: its commands, its campaign, its log, its words."""

import re
import shlex
from pathlib import Path
from typing import Final

import pytest

from app import asking
from app.cli import run
from model.base.errors import InputError
from model.ingest.campaign_file import read_campaign, read_campaign_text
from model.ingest.columns import COLUMNS
from model.ingest.log_file import read_log_text
from model.records.pull import Ending, ModeSeen, Reading, Start
from model.records.question import Measure
from model.service import stores
from model.service.campaigns import make
from model.service.demo import CAMPAIGN_FILE, demo_data
from model.store.store import Store

PAGE: Final = (Path(__file__).parents[2] / "README.md").read_text("utf-8")


def fenced(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)


def in_backticks() -> list[str]:
    prose = re.sub(r"^```.*?^```", "", PAGE, flags=re.DOTALL | re.MULTILINE)
    return re.findall(r"`([^`\n]+)`", prose)


def ask_examples(lines: list[str]) -> list[list[str]]:
    """Arguments of each line that asks something, the store left out."""
    asked = [line for line in lines if line.startswith("kedgewise ask")]
    return [without_store(shlex.split(line, comments=True)[1:]) for line in asked]


def without_store(arguments: list[str]) -> list[str]:
    if "--store" not in arguments:
        return arguments
    place = arguments.index("--store")
    return arguments[:place] + arguments[place + 2 :]


SHELL_LINES: Final = [line for block in fenced("sh") for line in block.splitlines()]


@pytest.fixture
def asks(tmp_path, monkeypatch):
    """Run an ``ask`` against a campaign up to the question; gives the questions that it found."""

    def ask(arguments, campaign):
        found = []
        store = Store.create(tmp_path / str(len(list(tmp_path.iterdir()))), campaign)
        monkeypatch.setattr(stores, "open_store", lambda _: store)
        monkeypatch.setattr(asking, "show_answers", lambda _, asked, **__: found.extend(asked))
        monkeypatch.setattr(
            asking, "show_standing", lambda *_, **__: found.extend(campaign.questions)
        )
        return run(arguments), found

    return ask


@pytest.fixture(scope="module")
def campaign_text():
    return fenced("toml")[0]


def test_the_sheet_of_ones_own_is_one_that_the_campaign_file_takes(campaign_text):
    [own] = fenced("toml")[1:]
    columns = read_campaign_text(f"{campaign_text}{own}", "README").campaign.columns
    assert columns.has_decimal_comma
    assert columns.headings


def test_every_question_asked_is_one_of_the_demo(asks):
    campaign = read_campaign(demo_data() / CAMPAIGN_FILE)
    examples = ask_examples([*SHELL_LINES, *in_backticks()])
    assert len(examples) > 4
    for arguments in examples:
        code, found = asks(arguments, campaign)
        assert (code, bool(found)) == (0, True), arguments


def test_a_question_that_the_demo_has_not_is_found_out(asks):
    campaign = read_campaign(demo_data() / CAMPAIGN_FILE)
    [wrong] = ask_examples(['kedgewise ask "leader on Q1" --store trials'])
    assert asks(wrong, campaign) == (2, [])


def test_the_campaign_makes_a_store(campaign_text, tmp_path):
    file = tmp_path / "campaign.toml"
    file.write_text(campaign_text, "utf-8")
    made = make(file, store=str(tmp_path / "store"))
    assert made.campaign.is_invented
    assert Store.open(made.folder).campaign() == made.campaign


def test_the_campaign_is_short(campaign_text):
    assert 25 <= len([line for line in campaign_text.splitlines() if line.strip()]) <= 36


def _without(text, number):
    return "".join(line for i, line in enumerate(text.splitlines(keepends=True)) if i != number)


def _is_read(text):
    try:
        read_campaign_text(text, "campaign.toml")
    except InputError:
        return False
    return True


def test_keys_marked_needed_are_needed_and_no_others(campaign_text):
    lines = campaign_text.splitlines()
    keys = [i for i, line in enumerate(lines) if re.match(r"\w+ = ", line)]
    assert keys
    for number in keys:
        comment = lines[number].partition("#")[2].strip()
        is_marked = comment.startswith("needed")
        names_a_second = not comment and lines[number].startswith(("name", "code", "mass"))
        is_needed = not _is_read(_without(campaign_text, number))
        assert is_needed == (is_marked or names_a_second), lines[number]


def test_the_log_is_read_under_that_campaign(campaign_text):
    campaign = read_campaign_text(campaign_text, "campaign.toml").campaign
    [log] = fenced("text")
    pulls = read_log_text(log, "pulls.csv", campaign).pulls
    assert [(pull.code, len(pull.bites)) for pull in pulls] == [("31", 2), ("32", 1)]


def test_own_campaigns_questions_are_those_asked_above_it(campaign_text, asks):
    campaign = read_campaign_text(campaign_text, "campaign.toml").campaign
    examples = ask_examples(SHELL_LINES)
    assert len(examples) == 3
    for arguments in examples:
        assert asks(arguments, campaign)[0] == 0, arguments


@pytest.mark.parametrize("kind", [Ending, Reading, Start, ModeSeen])
def test_every_word_of_a_choice_is_in_the_table(kind):
    words = {word.value if kind is ModeSeen else word.value.replace("_", " ") for word in kind}
    assert words - set(in_backticks()) == set()


def test_every_column_is_in_the_table():
    named = set(in_backticks())
    assert [column.name for column in COLUMNS if not named & set(column.headings)] == []


def test_every_measure_is_named():
    named = set(in_backticks())
    assert [measure for measure in Measure if measure not in named] == []


def test_every_option_of_ask_is_named():
    from typer.main import get_command

    from app.cli import app

    options = {name for option in get_command(app).commands["ask"].params for name in option.opts}
    named = {word for code in in_backticks() for word in code.split()}
    assert {option for option in options if option.startswith("--")} - named == set()
