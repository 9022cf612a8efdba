"""A person's way through trust, on a wide screen and on a phone."""

import pytest
from playwright.sync_api import TimeoutError, expect  # noqa: A004 - its own, not Python's

pytestmark = pytest.mark.browser

SCREENS = {"wide": (1280, 800), "phone": (390, 844)}


def choose(tab, box, option):
    """Choose from a list; on a busy machine what still moves shuts it once or twice."""
    wanted = tab.page.get_by_role("option", name=option, exact=True)
    for _ in range(4):
        tab.page.get_by_role("combobox", name=box, exact=True).click()
        try:
            wanted.click(timeout=6000)
        except TimeoutError:
            tab.page.keyboard.press("Escape")
        else:
            return
    pytest.fail(f"{box} could not be opened to choose {option}")


@pytest.mark.parametrize("screen", SCREENS)
def test_from_the_verdict_to_one_pull(screen, trials, visit, pictures):
    tab = visit(trials, *SCREENS[screen])
    tab.open("", "Questions")
    tab.page.get_by_role("link", name="Trust", exact=True).click()
    tab.settle("Trust")
    assert tab.page.title() == "Trust – kedgewise"
    # The first look takes seconds, and what moves as pictures come in shuts what was opened.
    last = tab.page.get_by_role("heading", name="What the pulls cannot say")
    expect(last).to_be_visible(timeout=60_000)
    charts = tab.page.locator("[data-testid=stVegaLiteChart]")
    expect(charts.locator("canvas, svg.marks")).to_have_count(2, timeout=60_000)
    tab.settle("Trust")
    tab.page.wait_for_timeout(2000)
    expect(tab.page.get_by_role("heading", name="Can this be trusted?")).to_be_visible()
    choose(tab, "Question", "leader and upright")
    tab.settle("Trust")
    expect(tab.page.get_by_text("with all pulls. Without")).to_be_visible()
    choose(tab, "Anchor", "P9")
    tab.settle("Trust")
    tab.unfold("Table: every count of every anchor")
    expect(tab.page.locator("details[open] [data-testid=stDataFrame]").first).to_be_visible()
    tab.page.wait_for_timeout(800)
    assert tab.overflow_px() <= 0
    assert tab.cut_off() == []
    expect(charts).to_have_count(2)
    assert "Share of each ending of P9" in charts.first.evaluate("one => one.outerHTML")
    tab.photograph(pictures, f"trust-{screen}")
    assert tab.errors == []
    assert tab.outside() == []
