"""A page that is left open while a fit runs: it says so, and has the new answers by itself."""

import pytest
from playwright.sync_api import expect

from model.service import answers
from model.service.heartbeat import Heartbeat
from model.store.store import Store

pytestmark = pytest.mark.browser

SCREENS = {"wide": (1280, 800), "phone": (390, 844)}
SOON_MS = 15_000


@pytest.mark.parametrize("screen", SCREENS)
def test_an_open_page_follows_the_worker(
    screen, tmp_path, small_campaign, small_pulls, made_up_posterior, servers, visit, pictures
):
    store = Store.create(tmp_path / "trials", small_campaign)
    store.add_pulls(small_pulls[:8], "made up")
    tab = visit(servers.start(store.folder), *SCREENS[screen])
    tab.open("", "Questions")
    head = tab.page.locator(".st-key-standing")
    expect(head).to_contain_text("no worker runs")
    with Heartbeat(store.folder) as heart:
        heart.say("fitting", pulls=7, share=0.4, detail="sampling")
        expect(head).to_contain_text("fitting 7 pulls, 40 % (sampling)", timeout=SOON_MS)
        tab.page.wait_for_timeout(800)
        assert tab.overflow_px() <= 0
        assert tab.cut_off() == []
        tab.photograph(pictures, f"worker-fitting-{screen}")
        store.save_posterior(made_up_posterior(small_campaign, small_pulls[:8], n_draws=400))
        answers.record_standing(store)
        heart.say("idle")
        expect(head).to_contain_text("answers rest on 7 pulls", timeout=SOON_MS)
        expect(head).to_contain_text("waiting for new pulls", timeout=SOON_MS)
        expect(tab.page.get_by_text("Look closer").first).to_be_visible(timeout=SOON_MS)
        store.add_pulls(small_pulls[8:], "from the deck")
        expect(head).to_contain_text("8 pulls since, in answers marked quick", timeout=SOON_MS)
    expect(head).to_contain_text("no worker runs", timeout=SOON_MS)
    assert tab.errors == []


@pytest.mark.parametrize("screen", SCREENS)
def test_what_is_being_typed_outlives_the_looks(
    screen, tmp_path, small_campaign, small_pulls, servers, visit
):
    store = Store.create(tmp_path / "trials", small_campaign)
    store.add_pulls(small_pulls[:8], "made up")
    tab = visit(servers.start(store.folder), *SCREENS[screen])
    tab.open("pulls", "Pulls")
    tab.page.get_by_text("Add one", exact=True).click()
    box = tab.page.get_by_label("Notes", exact=True).first
    box.fill("soft patch to the north")
    store.add_pulls(small_pulls[8:], "from the deck")
    expect(tab.page.locator(".st-key-standing")).to_contain_text("15 pulls", timeout=SOON_MS)
    tab.page.wait_for_timeout(3000)
    assert box.input_value() == "soft patch to the north"
