"""Whole runs come onto the page, and nothing else does."""

import pytest

from model.base.errors import InputError
from model.calibration.results_page import HEADINGS, main, with_section
from model.calibration.run import run_campaigns
from model.calibration.scenario import (
    COMPARISONS,
    HOLLOW_SOUND,
    PLANS,
    comparisons_plan,
    write_plan,
)
from model.calibration.tables import TABLES

COMMIT = "abc1234"


@pytest.fixture
def page(tmp_path):
    path = tmp_path / "RESULTS.md"
    path.write_text("# Results\n\nSaid before.\n", encoding="utf-8")
    return path


@pytest.fixture
def run(tmp_path, make_knowing_engine):
    """Plan four campaigns of comparisons and run the first so many of them."""

    def make(count, **engine):
        folder = tmp_path / "results" / COMPARISONS
        plan = comparisons_plan(4)
        write_plan(plan, folder)
        run_campaigns(plan.scenarios[:count], folder, lambda: make_knowing_engine(**engine))

    return make


def test_every_table_has_a_heading_that_tells_its_seeds():
    assert set(HEADINGS) == set(TABLES)
    for table, heading in HEADINGS.items():
        first = PLANS[table]().scenarios[0]
        assert f"{first.seed - first.number} + k" in heading.seeds or table == HOLLOW_SOUND


def write(page):
    main(["--commit", COMMIT, "--page", str(page), "--results", str(page.parent / "results")])
    return page.read_text(encoding="utf-8")


def test_a_whole_run_is_written_with_where_it_comes_from(page, run):
    run(4)
    text = write(page)
    assert text.startswith("# Results\n\nSaid before.\n")
    assert "4 of 4 planned campaigns" in text
    assert f"commit {COMMIT}" in text
    assert "campaign k has seed 20260000 + k" in text
    assert "--table comparisons --results tests/calibration/results/comparisons" in text
    assert HOLLOW_SOUND not in text


def test_every_planned_table_can_be_written_and_has_a_heading():
    assert set(PLANS) == set(TABLES) == set(HEADINGS)


def test_an_unfinished_run_leaves_the_page_as_it_was(page, run):
    before = page.read_text(encoding="utf-8")
    run(3)
    assert write(page) == before
    run(4)
    assert write(page) != before


def test_writing_twice_replaces_the_section(page, run):
    run(4)
    once = write(page)
    page.write_text(once.replace("4 of 4", "3 of 4") + "\nSaid after.\n", encoding="utf-8")
    assert write(page) == once + "\nSaid after.\n"


def test_broken_marks_are_not_guessed_at():
    whole = with_section("page", "comparisons", "figures")
    with pytest.raises(InputError, match="not a pair"):
        with_section(whole.replace("<!-- end of table comparisons -->", ""), "comparisons", "new")
    with pytest.raises(InputError, match="not a pair"):
        with_section(whole + whole, "comparisons", "new")
