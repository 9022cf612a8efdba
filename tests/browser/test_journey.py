"""A person's way through the served app, on a wide screen and on a phone."""

import pytest
from playwright.sync_api import expect

from app.pages import VIEWS
from app.style.text import JOINER
from model.records.answer import Finding
from model.service import answers
from model.store.store import Store

pytestmark = pytest.mark.browser

SCREENS = {"wide": (1280, 800), "phone": (390, 844)}
NASTY = "<b>x</b> :red[a] :material/anchor: $y$ -> ![p](http://outside.invalid/p.png) www.a.invalid"


def address_of(view):
    return "" if view is VIEWS[0] else view.name


@pytest.mark.parametrize("screen", SCREENS)
def test_every_page_stands_on_every_screen(screen, trials, visit, pictures):
    tab = visit(trials, *SCREENS[screen])
    for view in VIEWS:
        tab.open(address_of(view), view.title)
        expect(tab.page.get_by_text("Small trials").first).to_be_visible()
        expect(tab.page.get_by_text("invented data").first).to_be_visible()
        expect(tab.page.get_by_text("Lines under tension recoil")).to_be_visible()
        assert tab.overflow_px() <= 0
        assert tab.cut_off() == []
        assert tab.page.title().endswith("– kedgewise")
        for other in VIEWS:  # a menu that folds away on a phone would leave pages unknown
            expect(tab.page.get_by_role("link", name=other.title, exact=True)).to_be_visible()
        tab.photograph(pictures, f"{view.name}-{screen}")
    assert tab.errors == []
    assert tab.outside() == []
    assert len(tab.requests) > 20


@pytest.mark.parametrize("screen", SCREENS)
def test_from_a_card_to_its_question_and_on(screen, trials, visit):
    tab = visit(trials, *SCREENS[screen])
    tab.open("", "Questions")
    expect(tab.page.get_by_role("heading", name="leader on S6")).to_be_visible()
    tab.page.get_by_role("link", name="Look closer").first.click()
    tab.settle("Ask")
    assert "question=leader+on+S6" in tab.page.url
    expect(tab.page.get_by_role("heading", name="Every pull")).to_be_visible()
    tab.unfold("Change the question")
    tab.page.get_by_role("combobox", name="chain, side A").click()
    tab.page.get_by_role("option", name="chain: 6 mm").click()
    tab.page.wait_for_url("**a.chain=6+mm**")
    tab.settle("Ask")
    address = tab.page.url
    again = visit(tab.address, *SCREENS[screen])
    again.open(address.removeprefix(f"{tab.address}/"), "Ask")
    assert again.page.url == address
    again.unfold("Change the question")
    expect(again.page.get_by_role("combobox", name="chain, side A")).to_have_value("chain: 6 mm")
    assert tab.errors == again.errors == []
    assert tab.outside() == again.outside() == []


def test_the_answers_sentence_is_in_the_first_screen_of_a_phone(trials, visit):
    tab = visit(trials, *SCREENS["phone"])
    tab.open("ask", "Ask")
    place = tab.page.get_by_text("Estimate:").first.bounding_box()
    assert place["y"] < SCREENS["phone"][1] - 100
    tab.unfold("Change the question")
    expect(tab.page.get_by_role("combobox", name="Measure")).to_be_visible()
    moved = tab.page.get_by_text("Estimate:").first.bounding_box()
    assert moved["y"] > SCREENS["phone"][1]  # unfolded, the choosers push it out of sight


def test_the_menu_leads_to_every_page_and_the_tab_tells_them_apart(trials, visit):
    tab = visit(trials, *SCREENS["phone"])
    tab.open("", "Questions")
    names = [tab.page.title()]
    tab.page.get_by_role("link", name="Ask", exact=True).click()
    tab.settle("Ask")
    names.append(tab.page.title())
    assert names == ["Questions – kedgewise", "leader on S6 – kedgewise"]
    tab.page.get_by_role("link", name="Questions", exact=True).click()
    tab.settle("Questions")
    assert tab.page.title() == names[0]


def test_an_address_without_a_page_says_so_until_one_is_chosen(trials, visit):
    tab = visit(trials)
    tab.open("nonsense", "Questions")
    lost = tab.page.get_by_text("There is no page at this address. This is Questions.")
    expect(lost).to_be_visible()
    tab.page.keyboard.press("Escape")  # Streamlit's own dialog, which goes
    tab.page.get_by_role("link", name="Ask", exact=True).click()
    tab.settle("Ask")
    expect(lost).to_have_count(0)


@pytest.mark.parametrize("screen", SCREENS)
def test_tables_of_figures_fit_and_part_no_number_from_its_sign(screen, trials, visit):
    tab = visit(trials, *SCREENS[screen])
    tab.open("ask?question=S6+or+P9+at+3+kN", "Ask")
    tab.unfold("Table: each side with its interval")
    assert tab.page.evaluate("document.querySelectorAll('[data-testid=stTable]').length") >= 3
    too_wide = tab.page.evaluate(
        """() => [...document.querySelectorAll('[data-testid=stTable]')]
            .filter(place => [place, ...place.querySelectorAll('*')]
                .some(one => one.scrollWidth > place.clientWidth + 1))
            .map(place => place.textContent)"""
    )
    assert too_wide == []
    lines = tab.page.evaluate(
        """() => [...document.querySelectorAll('[data-testid=stTable] td')].map(cell => {
            const height = cell.querySelector('p').getBoundingClientRect().height;
            return Math.round(height / parseFloat(getComputedStyle(cell).lineHeight));
        })"""
    )
    assert max(lines) <= (1 if screen == "wide" else 3)


def test_the_full_cautions_open_on_every_page(trials, visit):
    tab = visit(trials)
    for view in VIEWS:
        tab.open(address_of(view), view.title)
        tab.page.get_by_text("Cautions in full").click()
        expect(tab.page.get_by_text("Code of Safe Working Practices")).to_be_visible()


def test_pictures_have_names_for_those_who_do_not_see_them(trials, visit):
    tab = visit(trials)
    tab.open("ask", "Ask")
    described = tab.page.evaluate(
        """() => [...document.querySelectorAll('[data-testid=stVegaLiteChart]')]
            .map(chart => chart.outerHTML)"""
    )
    assert len(described) == 3
    for start in ("Distribution of the effect", "Every pull as a mark", "Chance that A is higher"):
        assert any(start in html for html in described)


def test_nasty_names_are_shown_letter_by_letter(
    tmp_path, small_campaign, small_pulls, made_up_posterior, servers, visit, pictures
):
    nasty = small_campaign.questions[0].model_copy(update={"name": NASTY})
    campaign = small_campaign.model_copy(
        update={"name": NASTY, "questions": (nasty,), "main_question": None}
    )
    store = Store.create(tmp_path / "nasty", campaign)
    store.add_pulls(small_pulls, "made up")
    posterior = made_up_posterior(campaign, small_pulls)
    store.save_posterior(posterior)
    answers.record_standing(store)
    tab = visit(servers.start(tmp_path / "nasty"), *SCREENS["phone"])
    tab.open("", "Questions")
    shown = tab.page.evaluate("document.body.innerText").replace(JOINER, "")
    assert shown.count(NASTY) == 2
    assert tab.page.locator("[data-testid=stMain] :is(b, img, .katex)").count() == 0
    assert tab.overflow_px() <= 0
    tab.photograph(pictures, "nasty-phone")
    assert tab.errors == []
    assert tab.outside() == []


def test_without_a_fit_every_card_says_what_to_do(
    tmp_path, small_campaign, small_pulls, servers, visit, pictures
):
    store = Store.create(tmp_path / "unfitted", small_campaign)
    store.add_pulls(small_pulls, "made up")
    tab = visit(servers.start(tmp_path / "unfitted"), *SCREENS["phone"])
    tab.open("", "Questions")
    assert tab.page.get_by_text("Not yet:").count() == 1
    for question in small_campaign.questions:
        expect(tab.page.get_by_role("heading", name=question.name)).to_be_visible()
    expect(tab.page.get_by_text("kedgewise fit").first).to_be_visible()
    tab.photograph(pictures, "unfitted-phone")
    assert tab.errors == []
    assert Finding.NOT_SETTLED.value not in tab.page.evaluate("document.body.innerText")


def test_a_store_that_is_not_there_is_said_and_cautions_stay(tmp_path, servers, visit):
    tab = visit(servers.start(tmp_path / "nowhere"))
    tab.page.goto(tab.address)
    tab.page.get_by_text("Cautions in full").wait_for(timeout=60_000)
    expect(tab.page.get_by_text("Failed:")).to_be_visible()
    assert "Traceback" not in tab.page.evaluate("document.body.innerText")


# --- the checks above can fail ---


def test_an_outside_picture_would_be_seen(trials, visit):
    tab = visit(trials)
    tab.open("", "Questions")
    assert tab.outside() == []
    tab.page.evaluate(
        "document.body.appendChild(new Image()).src = 'http://outside.invalid/pixel.png'"
    )
    tab.page.wait_for_timeout(500)
    assert tab.outside() == ["http://outside.invalid/pixel.png"]
    assert any("ERR_NAME_NOT_RESOLVED" in error for error in tab.errors)


def test_a_page_too_wide_and_a_cut_label_would_be_seen(trials, visit):
    tab = visit(trials, *SCREENS["phone"])
    tab.open("", "Questions")
    tab.page.evaluate(
        """() => {
            const wide = document.createElement('p');
            wide.textContent = 'wide';
            wide.style.width = '600px';
            document.querySelector('[data-testid=stMain]').prepend(wide);
        }"""
    )
    assert tab.overflow_px() > 0
    assert "P wide" in tab.cut_off()
