"""A person's way through how it sets, on a wide screen and on a phone."""

import pytest
from playwright.sync_api import expect

from model.store.store import Store

pytestmark = pytest.mark.browser

SCREENS = {"wide": (1280, 800), "phone": (390, 844)}


@pytest.mark.parametrize("screen", SCREENS)
def test_from_the_menu_to_one_pull(screen, trials, visit, pictures):
    tab = visit(trials, *SCREENS[screen])
    tab.open("", "Questions")
    tab.page.get_by_role("link", name="How it sets", exact=True).click()
    tab.settle("How it sets")
    assert tab.page.title() == "How it sets – kedgewise"
    expect(tab.page.get_by_role("heading", name="S6 on firm sand")).to_be_visible()
    tab.page.get_by_role("combobox", name="Anchor").click()
    tab.page.get_by_role("option", name="S6").click()
    tab.settle("How it sets")
    expect(tab.page.get_by_role("heading", name="P9 on firm sand")).to_have_count(0)
    tab.page.get_by_text("Predict set-ups never pulled, too").click()
    expect(tab.page.get_by_text("Hollow and grey: never pulled").first).to_be_visible()
    tab.page.get_by_text("Each pull of S6 on firm sand").click()
    expect(tab.page.get_by_text("from its set-up").first).to_be_visible()
    expect(tab.page.get_by_text("Pull day 2/1, bite 2").first).to_be_visible()
    tab.page.get_by_text("every set-up of S6 on firm sand").click()
    expect(tab.page.locator("[data-testid=stDataFrame]").first).to_be_visible()
    tab.page.wait_for_timeout(800)
    assert tab.overflow_px() <= 0
    assert tab.cut_off() == []
    charts = tab.page.locator("[data-testid=stVegaLiteChart]")
    expect(charts).to_have_count(2)
    assert "Chance that S6 sets upright on firm sand" in charts.first.evaluate(
        "one => one.outerHTML"
    )
    tab.photograph(pictures, f"how-it-sets-open-{screen}")
    assert tab.errors == []
    assert tab.outside() == []


def test_before_the_first_fit_it_says_what_to_do(
    tmp_path, small_campaign, small_pulls, servers, visit, pictures
):
    store = Store.create(tmp_path / "unfitted", small_campaign)
    store.add_pulls(small_pulls, "made up")
    tab = visit(servers.start(store.folder), *SCREENS["phone"])
    tab.open("how_it_sets", "How it sets")
    expect(tab.page.get_by_text("Not yet:")).to_be_visible()
    expect(tab.page.get_by_text("kedgewise fit").first).to_be_visible()
    assert tab.page.locator("[data-testid=stVegaLiteChart]").count() == 0
    tab.photograph(pictures, "how-it-sets-unfitted-phone")
    assert tab.errors == []


def test_after_a_failed_fit_it_says_so(tmp_path, small_campaign, small_pulls, servers, visit):
    store = Store.create(tmp_path / "failed", small_campaign)
    store.add_pulls(small_pulls, "made up")
    store.begin_attempt("one")
    store.end_attempt("one", "failed", ["12 divergences"])
    tab = visit(servers.start(store.folder), *SCREENS["phone"])
    tab.open("how_it_sets", "How it sets")
    expect(tab.page.get_by_text("Failed:").first).to_be_visible()
    expect(tab.page.get_by_text("12 divergences").first).to_be_visible()
    assert tab.page.locator("[data-testid=stVegaLiteChart]").count() == 0
    assert tab.errors == []
