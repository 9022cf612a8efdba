"""A person's way through trust, on a wide screen and on a phone."""

import time

import pytest
from playwright.sync_api import TimeoutError, expect  # noqa: A004 - its own, not Python's

pytestmark = pytest.mark.browser

WAIT_MS = 180_000
"""At most: on a busy machine the first checks take a minute, and each choice some seconds."""
SCREENS = {"wide": (1280, 800), "phone": (390, 844)}


def choose(tab, box, option):
    """Choose from a list, until it is what is shown as chosen."""
    field = tab.page.get_by_role("combobox", name=box, exact=True)
    wanted = tab.page.get_by_role("option", name=option, exact=True)

    def chosen():
        # While the page is still being drawn a list may shut, or not open, on a busy machine.
        if not wanted.is_visible():
            field.click(timeout=WAIT_MS)
        wanted.click(timeout=5_000)
        expect(field).to_have_value(option, timeout=5_000)

    until(chosen)


def until(step):
    """Repeat a step while what it waits for is not there, until it must be."""
    deadline = time.monotonic() + WAIT_MS / 1000
    while True:
        try:
            return step()
        except (AssertionError, TimeoutError):
            if time.monotonic() > deadline:
                raise


def at_rest(tab):
    """Wait until the script has ended, and nothing on the page is of a run before it."""
    status = tab.page.locator("[data-testid=stStatusWidget]")
    expect(status).to_be_hidden(timeout=WAIT_MS)
    expect(tab.page.locator("[data-stale=true]")).to_have_count(0, timeout=WAIT_MS)


@pytest.mark.parametrize("screen", SCREENS)
def test_from_the_verdict_to_one_pull(screen, trials, visit, pictures):
    tab = visit(trials, *SCREENS[screen])
    page = tab.page
    page.set_default_timeout(WAIT_MS)
    page.goto(f"{trials}/trust")
    last = page.get_by_role("heading", name="What the pulls cannot say")
    expect(last).to_be_visible(timeout=WAIT_MS)
    expect(page).to_have_title("Trust – kedgewise", timeout=WAIT_MS)
    charts = page.locator("[data-testid=stVegaLiteChart]")
    drawn = charts.locator("canvas, svg.marks")
    expect(drawn).to_have_count(2, timeout=WAIT_MS)
    expect(page.get_by_role("heading", name="Can this be trusted?")).to_be_visible()
    at_rest(tab)
    choose(tab, "Question", "leader and upright")
    at_rest(tab)
    expect(page.get_by_text("with all pulls. Without")).to_be_visible(timeout=WAIT_MS)
    choose(tab, "Anchor", "P9")
    at_rest(tab)
    # The picture says in words what it shows: once it is drawn anew, of the anchor chosen.
    until(lambda: _shows(charts.first, "Share of each ending of P9"))
    expect(drawn).to_have_count(2, timeout=WAIT_MS)
    tab.unfold("Table: every count of every anchor")
    table = page.locator("details[open] [data-testid=stDataFrame]").first
    expect(table).to_be_visible(timeout=WAIT_MS)
    until(lambda: _fits(tab))
    tab.photograph(pictures, f"trust-{screen}")
    assert tab.errors == []
    assert tab.outside() == []


def _shows(chart, words):
    assert words in chart.evaluate("one => one.outerHTML", timeout=5_000)


def _fits(tab):
    """Nothing is cut off once what was unfolded has come to rest."""
    assert tab.overflow_px() <= 0
    assert tab.cut_off() == []
