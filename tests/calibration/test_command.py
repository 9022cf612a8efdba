"""How long runs' commands end where their input is wrong; each way of it fails once."""

import argparse
import json
import shutil

import pytest

from model.base.errors import InputError
from model.calibration import plan, run
from model.calibration.command import at_least_one, end_with
from model.calibration.engine import Engine
from model.calibration.findings_table import truth_rows
from model.calibration.result import read_result_as, result_path
from model.calibration.results_page import HEADINGS, RESULTS, section_text
from model.calibration.run import run_campaigns
from model.calibration.scenario import PLAN_FILE, comparisons_plan, read_plan
from model.calibration.tables import TABLES


@pytest.fixture
def copied(tmp_path):
    """The kept results of a table, to be spoilt."""
    return shutil.copytree(RESULTS / "comparisons", tmp_path / "comparisons")


def ended(main, capsys):
    """Exit code of a command, and what it said of an error."""
    with pytest.raises(SystemExit) as found:
        end_with(main)
    return found.value.code, capsys.readouterr().err


def test_what_is_wrong_is_one_message_and_a_code(tmp_path, capsys):
    def no_plan():
        run.main(["--table", "comparisons", "--results", str(tmp_path)])

    code, said = ended(no_plan, capsys)
    assert code == 2
    assert said.startswith(f"error: no plan in {tmp_path}")

    (tmp_path / "file").write_text("no folder")

    def in_a_file():
        plan.main(["--table", "comparisons", "--results", str(tmp_path / "file")])

    code, said = ended(in_a_file, capsys)
    assert code == 2
    assert str(tmp_path / "file") in said
    assert ended(lambda: None, capsys) == (0, "")


def test_a_fault_of_the_program_stays_one():
    def broken():
        raise ZeroDivisionError("a fault of the program")

    with pytest.raises(ZeroDivisionError):
        end_with(broken)


@pytest.mark.parametrize("text", ["0", "-1", "1.5", "", "many", "-0"])
def test_numbers_of_nothing_are_refused(text):
    with pytest.raises(argparse.ArgumentTypeError, match="no whole number from 1 on"):
        at_least_one(text)


def test_a_whole_number_is_taken():
    assert at_least_one("3") == 3


@pytest.mark.parametrize("text", ["", "{", "[]", '{"scenario": 3}'])
def test_a_damaged_result_is_named(copied, text):
    scenario = read_plan(copied).scenarios[3]
    path = result_path(copied, scenario)
    path.write_text(text)
    with pytest.raises(InputError, match=r"0003\.json is damaged") as found:
        read_result_as(TABLES["comparisons"].kind, copied, scenario)
    assert "\n" not in found.value.message
    assert path.read_text() == text  # left as it is found


def test_a_damaged_plan_is_named(copied):
    (copied / PLAN_FILE).write_text((copied / PLAN_FILE).read_text()[:200])
    with pytest.raises(InputError, match=f"{PLAN_FILE} is damaged"):
        read_plan(copied)


@pytest.mark.parametrize("text", ["{", "{}", "[]"])
def test_a_damaged_truth_is_named(tmp_path, text):
    kept = next((RESULTS / "findings").glob("*-0.json"))
    name = json.loads(kept.read_text())["scenario"]
    (tmp_path / kept.name).write_text(text)
    with pytest.raises(InputError, match=f"{kept.name} is damaged"):
        truth_rows(tmp_path, [name])


def test_no_table_stands_under_the_heading_of_another(copied):
    assert "hollow_sound" in HEADINGS
    with pytest.raises(InputError, match="holds the table comparisons, not hollow_sound"):
        section_text("hollow_sound", copied, "0000000")


@pytest.mark.parametrize("scheduler", ["", "nonsense", "tcp://", "tcp://127.0.0.1"])
def test_what_is_no_address_is_not_waited_for(scheduler, tmp_path):
    def make():
        return Engine(fit=None, answer=None)

    with pytest.raises(InputError, match="is no address of a Dask scheduler"):
        run_campaigns(comparisons_plan().scenarios[:1], tmp_path, make, scheduler=scheduler)
