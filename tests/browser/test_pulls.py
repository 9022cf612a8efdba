"""A person's way through the pulls: a correction, an upload, on a wide screen and on a phone."""

import re

import pytest
from playwright.sync_api import expect

from model.ingest.log_writer import log_text
from model.store.store import Store

pytestmark = pytest.mark.browser

SCREENS = {"wide": (1280, 800), "phone": (390, 844)}


@pytest.fixture
def store(tmp_path, small_campaign, small_pulls):
    made = Store.create(tmp_path / "to change", small_campaign)
    made.add_pulls(small_pulls, "made up")
    return made


def choose(tab, label, option):
    box = tab.page.get_by_role("combobox", name=label, exact=True)
    wanted = tab.page.get_by_role("option", name=option, exact=True)
    box.scroll_into_view_if_needed()
    box.click()
    tab.page.wait_for_timeout(1000)
    if wanted.count() == 0:  # a page that still moves closes what was opened
        box.click()
    if wanted.count() == 0:  # a long list holds what is in sight alone: as a person, type it
        box.fill(option)
    wanted.click()


@pytest.mark.parametrize("screen", SCREENS)
def test_a_correction_from_the_table_to_the_history(screen, store, servers, visit, pictures):
    tab = visit(servers.start(store.folder), *SCREENS[screen])
    tab.open("pulls", "Pulls")
    expect(tab.page.locator("[data-testid=stDataFrame]").first).to_be_visible()
    choose(tab, "To correct, or to see its history", "day 1/1")
    tab.page.keyboard.press("Escape")
    expect(tab.page.get_by_text("stored from made up")).to_be_visible()
    choose(tab, "Column", "anchor")
    value = tab.page.get_by_label("New value, as in a log; empty takes it out").first
    value.fill("P9")
    value.press("Enter")
    expect(tab.page.get_by_text("S6 → P9")).to_be_visible()
    why = tab.page.get_by_label("Why (stays with the pull)").first
    why.fill("read off the video")
    why.press("Enter")
    tab.page.wait_for_timeout(800)
    assert tab.overflow_px() <= 0
    assert tab.cut_off() == []
    tab.photograph(pictures, f"pulls-correcting-{screen}")
    tab.page.get_by_role("button", name="Store the correction of 1 pull").click()
    expect(tab.page.get_by_text(re.compile("Corrected:.? 1 pull"))).to_be_visible()
    assert store.revisions("day 1/1")[-1].why == "read off the video"
    expect(tab.page.get_by_text("read off the video").first).to_be_visible()
    assert tab.errors == []
    assert tab.outside() == []


def test_an_upload_on_a_phone(store, servers, visit, pictures, small_campaign, small_pulls):
    more = small_pulls[0].model_copy(update={"code": "77"})
    tab = visit(servers.start(store.folder), *SCREENS["phone"])
    tab.open("pulls", "Pulls")
    tab.unfold("Upload a log")
    log = {"name": "pulls.csv", "mimeType": "text/csv"}
    content = log_text([*small_pulls, more], small_campaign).encode()
    tab.page.locator("input[type=file]").set_input_files({**log, "buffer": content})
    expect(tab.page.get_by_text("1 pull would be added, 16 known already.")).to_be_visible()
    assert tab.overflow_px() <= 0
    assert tab.cut_off() == []
    tab.photograph(pictures, "pulls-upload-phone")
    assert len(store.pulls()) == 16
    tab.page.get_by_role("button", name="Store 1 new pull").click()
    expect(tab.page.get_by_text("1 pull added").first).to_be_visible()
    tab.settle("Pulls")
    assert len(store.pulls()) == 17
    assert tab.errors == []
    assert tab.outside() == []


NUMBER = "Pull (its number)"
ELSEWHERE_MS = 15_000
"""The head looks for news every two seconds, on a busy machine later."""


def test_pull_after_pull_typed_on_a_phone(store, servers, visit, pictures, small_pulls):
    """Enter stores nothing, the next form is empty and open, and a refusal outlives news."""
    tab = visit(servers.start(store.folder), *SCREENS["phone"])
    tab.open("pulls", "Pulls")
    tab.unfold("Add one")
    number = tab.page.get_by_label(NUMBER)
    number.fill("77")
    choose(tab, "How it ended", "never set")
    number.press("Enter")
    tab.page.wait_for_timeout(2000)
    assert len(store.pulls()) == 16
    button = tab.page.get_by_role("button", name="Store this pull")
    button.click()
    expect(tab.page.get_by_text("Stored:")).to_be_visible()
    assert len(store.pulls()) == 17
    expect(number).to_have_value("")
    expect(tab.page.get_by_role("combobox", name="How it ended", exact=True)).to_have_value("")
    expect(button).to_be_visible()  # still unfolded
    number.fill("77")
    tab.page.get_by_label("Or a peak, kN").fill("much")
    choose(tab, "How it ended", "released")
    button.click()
    refused = tab.page.get_by_text("is not a number")
    expect(refused).to_be_visible()
    store.add_pulls([small_pulls[0].model_copy(update={"code": "99"})], "from the deck")
    head = tab.page.locator(".st-key-standing")
    expect(head).to_contain_text("17 pulls", timeout=ELSEWHERE_MS)
    tab.page.wait_for_timeout(1000)
    expect(refused).to_be_visible()
    assert tab.page.get_by_label("Or a peak, kN").input_value() == "much"
    widths = {round(box.bounding_box()["width"]) for box in fields(tab)}
    assert len(widths) == 1
    assert tab.overflow_px() <= 0
    assert tab.cut_off() == []
    tab.photograph(pictures, "pulls-typed-phone")
    assert tab.errors == []


def fields(tab):
    form = "[data-testid=stForm] :is([data-testid=stSelectbox], [data-testid=stTextInput])"
    found = tab.page.locator(form).all()
    assert len(found) > 10
    return found
