"""Every name and note of a store written to do harm: on every page it stays text."""

import os
from pathlib import Path
from urllib.parse import quote

import pytest

from app.doors.rights import BOAT_VARIABLE
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.service import answers
from model.service.pairing_file import PairingFile
from model.store.revisions import Reason
from model.store.store import Store

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parents[2]
EVIL = "evil.example"
HARM = f' <img src=x onerror="hacked=1">[l](javascript:hacked=2)![p](//{EVIL}/p) :red[r] $x$'
TAMER = " <b>b[l](javascript:hacked)![p](x) :red[r] $x$"
"""For names that may hold none of = | , and /, as set-ups and pulls are written with those."""
TAMER_NAMES = {"day 1", "day 2", "leader", "chain", "marker under"}
NAMES = {
    *("Small trials", "firm sand", "soft mud", "north", "south", "S6", "P9"),
    *("chain only", "wire 2 m", "8 mm", "6 mm"),
    *("leader on S6", "leader in general", "S6 or P9 at 3 kN", "leader and upright"),
    *("workboat", "cell"),
}
MOST_FOLDED = 60
FOUND = f"""() => {{
    const is_harm = one => one.matches('img[src="x"], .katex')
        || /^javascript/i.test(one.protocol) || one.hostname === '{EVIL}'
        || String(one.src).includes('//{EVIL}');
    const found = [...document.querySelectorAll('a, img, .katex')].filter(is_harm)
        .map(one => one.outerHTML.slice(0, 120));
    if (window.hacked !== undefined) found.push('hacked ' + window.hacked);
    return found;
}}"""


def harmful(found):
    """The same records with every name turned into one that would do harm."""
    if isinstance(found, dict):
        return {harmful(key): harmful(value) for key, value in found.items()}
    if isinstance(found, list):
        return [harmful(value) for value in found]
    if found in NAMES:
        return found + HARM
    return found + TAMER if found in TAMER_NAMES else found


@pytest.fixture
def harmful_store(tmp_path_factory, small_campaign, small_pulls, made_up_posterior):
    campaign = Campaign.model_validate(harmful(small_campaign.model_dump(mode="json")))
    pulls = [
        Pull.model_validate(harmful(pull.model_dump(mode="json")) | {"notes": f"n{HARM}"})
        for pull in small_pulls
    ]
    store = Store.create(tmp_path_factory.mktemp("harm") / f"t{HARM[:5]}", campaign)
    store.add_pulls(pulls, f"f{HARM}.csv")
    for count in (8, len(pulls)):
        store.save_posterior(made_up_posterior(campaign, tuple(pulls[:count]), n_draws=400))
        answers.record_standing(store)
    store.remove_pulls([pulls[-1].id], Reason(who=f"w{HARM}", why=f"y{HARM}"))
    return store


def open_everything(tab):
    """Unfold what is folded, and pass over each picture for what it says there."""
    for _ in range(MOST_FOLDED):
        folded = tab.page.locator("details:not([open]) > summary:visible")
        if folded.count() == 0:
            break
        folded.first.click()
        tab.page.wait_for_timeout(300)
    else:
        raise AssertionError("it does not come to an end")
    tab.page.wait_for_timeout(1500)
    for picture in tab.page.locator("[data-testid=stVegaLiteChart]").all():
        picture.scroll_into_view_if_needed()
        box = picture.bounding_box()
        for across in range(1, 8):
            for down in range(1, 4):
                tab.page.mouse.move(
                    box["x"] + box["width"] * across / 8, box["y"] + box["height"] * down / 4
                )


def harm_on(tab, path, heading):
    tab.open(path, heading)
    open_everything(tab)
    return tab.page.evaluate(FOUND) + tab.outside()


PAGES = {
    "": "Questions",
    "ask": "Ask",
    "how_it_sets": "How it sets",
    "pulls": "Pulls",
    "trust": "Trust",
}


def test_words_that_would_do_harm_stay_text_on_every_page(harmful_store, servers, visit, pictures):
    tab = visit(servers.start(harmful_store.folder))
    for path, heading in PAGES.items():
        assert harm_on(tab, path, heading) == []
        tab.photograph(pictures, f"harm-{heading.lower()}")
        assert "onerror" in tab.page.content()  # they do stand there, as text
    assert tab.errors == []
    tab.open("pulls", "Pulls")
    box = tab.page.get_by_role("combobox", name="To correct, or to see its history", exact=True)
    box.click()
    tab.page.wait_for_timeout(1000)
    if tab.page.get_by_role("option").count() == 0:  # a page that still moves closes it
        box.click()
    tab.page.get_by_role("option", name="day 1").first.click()
    tab.page.keyboard.press("Escape")
    tab.page.get_by_role("heading", name="1 pull chosen").wait_for(timeout=60_000)
    open_everything(tab)
    assert tab.page.evaluate(FOUND) == []
    for link in (f"ask?a=nobody{HARM}", f"ask?question={HARM}"):
        tab.open(quote(link, safe="?="), "Ask")
        assert "the link names an unknown" in tab.page.content()
        assert tab.page.evaluate(FOUND) == []
    assert tab.outside() == []


def test_so_they_do_on_a_phone(harmful_store, servers, visit, tmp_path):
    file = PairingFile(tmp_path / "pairing.json")
    file.begin()
    environment = {BOAT_VARIABLE: str(tmp_path / "pairing.json")}
    tab = visit(servers.start(harmful_store.folder, **environment), 390, 844)
    tab.page.goto(f"{tab.address}/pair#<img src=x onerror=hacked=1>")
    assert tab.page.evaluate(FOUND) == []
    tab.page.get_by_label("Code from the terminal").fill(file.offer())
    tab.page.get_by_role("button", name="Pair this device").click()
    tab.settle("Log a pull")
    assert harm_on(tab, "", "Log a pull") == []


def test_without_the_escape_the_same_words_would_do_harm(harmful_store, servers, visit, tmp_path):
    """The app's own function for users' words is taken away as the server starts."""
    (tmp_path / "sitecustomize.py").write_text(
        "from app.style import text\ntext.as_text = text.as_prose = lambda words: words\n"
    )
    paths = os.pathsep.join([str(tmp_path), str(ROOT), os.environ.get("PYTHONPATH", "")])
    tab = visit(servers.start(harmful_store.folder, PYTHONPATH=paths))
    assert harm_on(tab, "pulls", "Pulls") != []
