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


def test_a_lower_effect_is_told_as_lower(page, made_up_data, made_up_answer):
    question = made_up_data.campaign.questions[0]
    made_up_data.answers[question.name] = made_up_answer(question, middle=-0.9, spread=0.05)
    text = said(page())
    assert "A is virtually certain to be lower (over 99 %)" in text
    assert "unlikely to be" not in text


def test_every_flag_is_read_out(page, made_up_data, made_up_answer):
    question = made_up_data.campaign.questions[0]
    flags = tuple(
        Flag(code=code, text=f"{code} rests on 6 % of it") for code in ("one", "two", "three")
    )
    made_up_data.answers[question.name] = made_up_answer(question, flags=flags)
    listed = "\n".join(f"- {flag.text}" for flag in flags)
    assert f"**Before leaning on it**\n{listed}" in said(page())


def test_before_the_first_fit_the_reason_stands_once_over_every_question(page, made_up_data):
    made_up_data.posterior = None
    made_up_data.answers["leader on S6"] = NotYet(question="q", reason="no fit", hint="Fit.")
    at = page()
    text = said(at)
    assert text.count("**Not yet:** no fit") == 1
    for question in made_up_data.campaign.questions:
        assert f"## {question.name}" in text
    assert "Compare the **chance to hold 3 kN** of :blue[**A**] S6" in text
    assert not at.get("vega_lite_chart")


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


def test_every_card_has_its_picture_and_says_how_it_moved(page, made_up_data, some_looks):
    at = page()
    assert len(at.get("vega_lite_chart")) == 4
    assert said(at).count("A is higher, look by look: 55 % → 71 % → 83 % → 87 %, at 16 pulls.") == 4
    made_up_data.all_looks = some_looks[:1]
    assert said(page()).count("One look so far, at 4 pulls.") == 4
    made_up_data.all_looks = ()
    assert said(page()).count("No look is kept yet.") == 4
    assert isinstance(some_looks[0], Look)


def test_a_broken_picture_leaves_its_card_and_the_others(page, monkeypatch):
    def broken(answer, *, is_small):
        raise RuntimeError("no picture")

    monkeypatch.setattr("app.parts.pictures.effect_figure_of", broken)
    text = said(page())
    assert text.count("could not be shown") == 4
    assert text.count("A is likely to be higher") == 4


def test_cards_lead_to_ask_with_their_question(page, made_up_data):
    links = [element.proto for element in page().get("page_link")]
    questions = [link.query_string for link in links if link.label == "Look closer"]
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


def test_nasty_names_stay_text(page, made_up_data, made_up_answer, require_no_markup):
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
    require_no_markup(raw)
    assert NASTY_NAME in said(at)
