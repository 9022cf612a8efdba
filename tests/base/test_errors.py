"""Errors say what was found, where, and what to do; all of them leave with their own code."""

import pytest

from model.base.errors import (
    PRINTED_FAULTS,
    Fault,
    FaultyFile,
    FitFailed,
    InputError,
    KedgewiseError,
    UnknownName,
)


def fault(line: int | None = 3, column: str | None = "load_kn") -> Fault:
    return Fault(source="log.csv", line=line, column=column, found="'abc'", remedy="Write 3.9")


@pytest.mark.parametrize(
    ("line", "column", "text"),
    [
        (3, "load_kn", "log.csv, line 3, load_kn: 'abc'. Write 3.9"),
        (3, None, "log.csv, line 3: 'abc'. Write 3.9"),
        (None, None, "log.csv: 'abc'. Write 3.9"),
    ],
)
def test_fault_as_text(line, column, text: str) -> None:
    assert str(fault(line, column)) == text


def test_one_fault_is_no_plural() -> None:
    assert FaultyFile([fault()]).message.startswith("1 fault:\n")


def test_as_many_as_are_printed_need_no_more() -> None:
    error = FaultyFile([fault(column=f"c{i}") for i in range(PRINTED_FAULTS)])
    assert " more" not in error.message
    assert error.message.count("\n") == PRINTED_FAULTS


def test_beyond_those_printed_they_are_counted() -> None:
    error = FaultyFile([fault(column=f"c{i}") for i in range(PRINTED_FAULTS + 7)])
    assert error.message.endswith("and 7 more")
    assert len(error.faults) == PRINTED_FAULTS + 7


def test_the_same_fault_on_many_lines_is_said_once() -> None:
    error = FaultyFile([*(fault(line) for line in range(2, 23)), fault(9, "held_s")])
    assert error.message.splitlines() == [
        "22 faults:",
        "  log.csv, line 2, load_kn: 'abc'. Write 3.9",
        "    and 20 more rows like this: lines 3, 4, 5, 6, 7 …",
        "  log.csv, line 9, held_s: 'abc'. Write 3.9",
    ]
    assert len(error.faults) == 22


def test_two_alike_name_the_second_line() -> None:
    assert FaultyFile([fault(3), fault(5)]).message.endswith("and 1 more row like this: line 5")


def test_exit_codes() -> None:
    codes = [kind("x").exit_code for kind in (KedgewiseError, InputError, UnknownName, FitFailed)]
    assert codes == [1, 2, 2, 3]


def test_hint_stands_below() -> None:
    assert str(InputError("no store", hint="Make one.")) == "no store\n  Make one."
    assert str(InputError("no store")) == "no store"
