import subprocess
import sys

import pytest

from app.cautions import ABOUT_RESULTS, ON_THE_WATER, SHORT
from app.pages import DEVICE_VIEWS, PAGE_WIDTH, VIEWS, VIEWS_FOLDER
from app.parts.menu import is_nowhere
from model.base.errors import InputError

NAMED_SOURCES = (
    "Code of Safe Working Practices",
    "MGN 592",
    "MGN 308",
    "US Navy line handling",
    "0021/ND",
)


def texts(at):
    return [element.value for kind in ("title", "markdown", "caption") for element in at.get(kind)]


def test_every_view_is_a_page_and_every_page_has_its_view():
    files = {path.stem for path in VIEWS_FOLDER.glob("*.py")} - {"__init__"}
    assert files == {view.name for view in DEVICE_VIEWS}
    assert VIEWS[0].name == "questions"
    assert PAGE_WIDTH > 390


def test_every_page_opens_under_its_title_with_head_and_cautions(page):
    for view in VIEWS:
        at = page(view.name)
        found = texts(at)
        assert not at.exception
        assert not at.error
        assert found.count(view.title) == 1
        assert next(iter(at.markdown)).value == "**Small trials**"
        links = [element.proto.label for element in at.get("page_link")]
        assert links[: len(VIEWS)] == [view.title for view in VIEWS]
        assert any("15 pulls and 1 void" in text for text in found)
        assert any(SHORT in text for text in found)
        assert "Cautions in full" in [expander.label for expander in at.expander]


def test_invented_data_say_so_and_real_ones_do_not(page, made_up_data):
    def badges():
        return [text for text in texts(page()) if "invented data" in text]

    assert badges()
    made_up_data.campaign = made_up_data.campaign.model_copy(update={"is_invented": False})
    assert not badges()


def test_cautions_name_their_published_sources():
    said = " ".join(ON_THE_WATER)
    for source in NAMED_SOURCES:
        assert source in said
    assert "110 %" in said
    assert "design holding power" in " ".join(ABOUT_RESULTS)


@pytest.mark.parametrize(
    ("address", "is_lost"),
    [
        ("", False),
        ("/", False),
        ("/ask", False),
        ("/ask/", False),
        ("/questions", False),
        ("/task", True),
        ("/ask/more", True),
        ("/nonsense", True),
    ],
)
def test_an_address_without_a_page_is_known_for_one(address, is_lost):
    names = [view.name for view in VIEWS]
    assert is_nowhere(f"http://127.0.0.1:8501{address}", names) is is_lost


def test_without_an_address_nothing_is_said_to_be_lost(page):
    assert not is_nowhere(None, ["ask"])
    assert not page().warning


def test_without_a_store_the_page_says_what_to_do_and_keeps_its_cautions(page, made_up_data):
    made_up_data.failure = InputError("there is no store yet", hint="Make one: `kedgewise demo`.")
    at = page()
    assert not at.exception
    assert "there is no store yet" in at.error[0].value
    assert "Make one\\:\u2060 `kedgewise demo`\\." in texts(at)
    assert any(SHORT in text for text in texts(at))


def test_pages_load_without_the_sampler():
    """The house's layer test reads imports; this one looks at what was really loaded."""
    script = (
        "import sys, app.data, app.parts.choosers, app.parts.tables, app.parts.pictures\n"
        "print(sorted(set(sys.modules) & {'numba', 'nutpie', 'model.service.fits'}))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False
    )
    assert (ran.returncode, ran.stdout.strip()) == (0, "[]"), ran.stderr
