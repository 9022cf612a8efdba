"""Quick answers on pages: marked as such, the pulls named, and told apart on the way."""

import dataclasses

import pytest

from app.figures.looks import looks_figure
from app.parts.finding import QUICK_BADGE
from app.shown import Moved
from app.style.numbers import chance
from model.records.answer import Flag

QUICK = Flag(code="quick", text="Quick: weighs day 2/9 into the fit of 15 pulls.")


@pytest.fixture
def quick_data(made_up_data, made_up_answer, small_campaign, some_looks):
    for question in small_campaign.questions:
        full = made_up_answer(question, flags=(QUICK,))
        posterior = full.summary.posterior.model_copy(update={"state": "quick", "pulls": 16})
        summary = full.summary.model_copy(update={"posterior": posterior})
        made_up_data.answers[question.name] = dataclasses.replace(full, summary=summary)
    made_up_data.all_looks = (
        *some_looks,
        dataclasses.replace(some_looks[-1], pulls=17, state="quick", last_pull="day 2/9"),
    )
    return made_up_data


def _text(at):
    return "\n".join(one.value for one in (*at.markdown, *at.caption))


@pytest.mark.parametrize("name", ["questions", "ask"])
def test_a_quick_answer_is_marked_and_names_its_pulls(name, quick_data, page):
    at = page(name)
    assert not at.exception
    assert QUICK_BADGE in _text(at)
    assert "9 into the fit of 15 pulls" in _text(at)


def test_a_full_answer_is_not(made_up_data, page):
    assert QUICK_BADGE not in _text(page("ask"))


def test_the_way_there_tells_full_from_quick(quick_data, page):
    at = page("ask")
    table = next(frame.value for frame in at.dataframe if "answer" in frame.value)
    assert list(table["answer"]) == ["full"] * 4 + ["quick"]
    assert "rings are quick answers" in _text(at)


def test_what_is_still_to_come_is_said(quick_data, page, monkeypatch):
    moved = Moved(looks=quick_data.all_looks, not_yet=12, withheld=1)
    monkeypatch.setattr("app.data.moved", lambda question: moved)
    text = _text(page("ask"))
    assert "Not yet: 12 pulls on the way; run `kedgewise fit --trail`" in text
    assert "in the background" not in text
    assert "At 1 pull no quick answer" in text
    monkeypatch.setattr(
        "app.data.moved", lambda question: dataclasses.replace(moved, has_worker=True)
    )
    assert "they are worked out in the background" in _text(page("ask"))


def test_the_picture_says_how_many_are_quick(quick_data):
    figure = looks_figure(quick_data.all_looks)
    assert figure.description.endswith("quick answers between: 1.")
    sizes = [layer["mark"].get("size") for layer in figure.chart.to_dict()["layer"]]
    assert sizes.count(None) == 2
    assert len(set(sizes)) == 3


@pytest.mark.parametrize(
    ("probability", "words"),
    [(0.814, "0.81"), (0.946, "0.94"), (0.004, "under 0.01"), (0.999, "over 0.99"), (0.05, "0.05")],
)
def test_a_chance_is_rounded_as_per_cents_are(probability, words):
    assert chance(probability) == words
