import pytest

from app.shown import Look
from model.base.errors import FitFailed
from model.records.answer import Finding, Flag, NotYet

NASTY_NAME = "<b>x</b> :red[alarm] $y$ ![p](http://example.invalid/p.png) -> **z**"


def said(at):
    """Everything a page says, without the signs that only keep text from being markup."""
    kinds = ("title", "markdown", "caption", "info", "error", "warning")
    joined = "\n".join(element.value for kind in kinds for element in at.get(kind))
    return joined.replace("\\", "").replace("\u2060", "").replace("\u00a0", " ")


def test_every_standing_question_has_its_card(page, made_up_data):
    text = said(page())
    for question in made_up_data.campaign.questions:
        assert f"## {question.name}" in text
    assert text.count("A against B: ") == 4
    assert "A is likely to be higher (87 %)" in text
    assert "90 % equal-tailed interval" in text
    assert "A S6 with leader wire 2 m · 5 pulls, 2 held to the end" in text.replace(
        "**", ""
    ).replace(":blue[A]", "A")
    assert "IPCC" in text


def test_a_settled_question_says_so(page, made_up_data, made_up_answer):
    question = made_up_data.campaign.questions[0]
    made_up_data.answers[question.name] = made_up_answer(
        question, middle=0.5, spread=0.05, finding=Finding.HIGHER
    )
    assert "▲ settled: A is higher" in said(page())


def test_flags_are_counted_and_the_first_is_read_out(page, made_up_data, made_up_answer):
    question = made_up_data.campaign.questions[0]
    flags = (Flag(code="a", text="rests on other anchors"), Flag(code="b", text="other"))
    made_up_data.answers[question.name] = made_up_answer(question, flags=flags)
    assert "**Note:** rests on other anchors (and 1 more)" in said(page())


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        (NotYet(question="q", reason="two pulls only", hint="Pull more."), "two pulls only"),
        (FitFailed("12 divergences", hint="Fit again."), "12 divergences"),
        (RuntimeError("unforeseen"), "could not be shown"),
    ],
)
def test_one_card_without_an_answer_leaves_the_others(page, made_up_data, outcome, words):
    made_up_data.answers["leader on S6"] = outcome
    at = page()
    text = said(at)
    assert not at.exception
    assert "## leader on S6" in text
    assert words in text
    assert text.count("A against B: ") == 3
    assert "unforeseen" not in text


def test_how_it_moved_is_a_line_or_words(page, made_up_data, some_looks):
    assert len(page().get("vega_lite_chart")) == 4
    made_up_data.all_looks = some_looks[:1]
    at = page()
    assert not at.get("vega_lite_chart")
    assert "one look so far, at 4 pulls" in said(at)
    made_up_data.all_looks = ()
    assert "no earlier look is stored" in said(page())
    assert isinstance(some_looks[0], Look)


def test_cards_lead_to_ask_with_their_question(page, made_up_data):
    links = [element.proto for element in page().get("page_link")]
    questions = [link.query_string for link in links]
    assert questions == [
        "question=leader+on+S6",
        "question=leader+in+general",
        "question=S6+or+P9+at+3+kN",
        "question=leader+and+upright",
    ]


def test_a_campaign_without_questions_says_what_to_do(page, made_up_data):
    made_up_data.campaign = made_up_data.campaign.model_copy(
        update={"questions": (), "main_question": None}
    )
    assert "No standing questions yet" in said(page())


def test_nasty_names_stay_text(page, made_up_data, made_up_answer):
    odd = made_up_data.campaign.questions[0].model_copy(update={"name": NASTY_NAME})
    made_up_data.campaign = made_up_data.campaign.model_copy(
        update={"name": NASTY_NAME, "questions": (odd,), "main_question": None}
    )
    made_up_data.answers[NASTY_NAME] = made_up_answer(
        odd, sentence=NASTY_NAME, flags=(Flag(code="x", text=NASTY_NAME),)
    )
    at = page()
    assert not at.exception
    raw = [element.value for kind in ("markdown", "caption") for element in at.get(kind)]
    assert sum("alarm" in value for value in raw) == 4
    for value in raw:
        assert "<b>" not in value
        assert ":red[" not in value
        assert "![p](" not in value
        assert " -> " not in value
    assert NASTY_NAME in said(at)
