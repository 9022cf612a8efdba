"""The page on which it is told whether to trust: words first, pictures with their tables."""

import dataclasses
import json

import numpy as np
import pytest
from scipy.stats import beta

from app.checks_words import STATUS_WORDS
from app.figures.places import places_figure
from app.figures.shares import ODD, shares_figure
from app.parts.trust import PLACES_WORDS, influence_table, sensitivity_table, shares_table
from model.base.errors import FitFailed
from model.checks.check import NO_QUESTION, Status, not_checked
from model.checks.uniformity import PullShare
from model.records.answer import NotYet

NASTY = "<b>x</b> :red[alarm] $y$ ![p](http://example.invalid/p.png) -> **z**"
HEADINGS = (
    "Can this be trusted?",
    "Did the sampler do its work?",
    "Do pulls end as often each way as predicted?",
    "Does an answer hang on one pull?",
    "Do loads fall where the other pulls expect them?",
    "Do the pulls make the answers, or the priors?",
    "Do the answers stand under a wider prior?",
    "Do the priors expect what is possible?",
    "What the pulls cannot say",
)


def said(at):
    kinds = ("title", "markdown", "caption", "info", "error", "warning")
    joined = "\n".join(element.value for kind in kinds for element in at.get(kind))
    return joined.replace("\\", "").replace("\u2060", "").replace("\u00a0", " ")


def test_the_verdict_then_each_check_then_what_cannot_be_said(page, made_up_checks):
    at = page("trust")
    text = said(at)
    assert not at.exception
    assert not at.error
    headings = [line.removeprefix("## ") for line in text.splitlines() if line.startswith("## ")]
    assert headings == list(HEADINGS)
    found = made_up_checks()
    for check in (*found.checks, found.verdict):
        assert check.reason in text
    assert text.count("**What to do:**") == sum(bool(one.remedy) for one in found.checks)
    badges = [STATUS_WORDS[one.status] for one in found.checks]
    assert sum(text.count(f"[{word}]") for word in set(badges)) == len(badges) + 1
    assert "recoil" in text


def test_questions_that_were_not_checked_are_named(page, made_up_data, made_up_checks):
    odd = dataclasses.replace(made_up_checks(), unknown=("new one (the anchor Q1)",))
    made_up_data.all_checks = lambda: odd
    assert "new one (the anchor Q1)" in said(page("trust"))


def test_what_was_not_checked_has_words_of_its_own(page, made_up_data, made_up_checks):
    found = made_up_checks()
    influences = found.found.influences
    blank = not_checked(influences.check.name, influences.check.title, NO_QUESTION)
    changed = influences.model_copy(update={"check": blank, "rows": ()})
    odd = dataclasses.replace(found, found=found.found.model_copy(update={"influences": changed}))
    made_up_data.all_checks = lambda: odd
    text = said(page("trust"))
    assert "[not checked]" in text
    assert "There is no standing question: not checked." in text


def test_every_picture_has_its_table(page):
    at = page("trust")
    assert len(at.get("vega_lite_chart")) == 2
    labels = [one.label for one in at.expander]
    for label in (
        "Table: the fit check's numbers",
        "Table: every count of every anchor",
        "Table: the pulls that move each answer most",
        "Table: where every pull fell",
        "Table: every answer under other priors",
        "Table: endings that the priors expect",
    ):
        assert label in labels


def test_one_question_and_one_anchor_at_a_time(page, made_up_checks):
    at = page("trust")
    at.selectbox(key="influences of").select("leader and upright").run()
    text = said(at)
    rows = made_up_checks().found.influences.rows
    first = next(row for row in rows if row.question == "leader and upright")
    assert f"- {first.pull_words}" in text
    at.selectbox(key="shares of").select("P9").run()
    assert not at.exception


def test_not_yet(page, made_up_data):
    made_up_data.all_checks = NotYet(question="", reason="no fit", hint="Run `kedgewise fit`.")
    at = page("trust")
    assert "**Not yet:** no fit" in said(at)
    assert not at.get("vega_lite_chart")
    assert "recoil" in said(at)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (FitFailed("12 divergences", hint="Fit again."), "**Failed:** 12 divergences"),
        (RuntimeError("unforeseen"), "could not be shown"),
    ],
)
def test_failed(page, made_up_data, error, words):
    made_up_data.all_checks = error
    at = page("trust")
    assert words in said(at)
    assert "unforeseen" not in said(at)
    assert not at.get("vega_lite_chart")


def test_a_broken_picture_leaves_the_words(page, monkeypatch, made_up_checks):
    def broken(*_):
        raise RuntimeError("no picture")

    monkeypatch.setattr("app.parts.trust.shares_figure", broken)
    text = said(page("trust"))
    assert text.count("could not be shown") == 1
    assert made_up_checks().found.shares.check.reason in text


def test_what_stands_out_has_a_mark_of_its_own_and_is_said(made_up_checks):
    rows = [row for row in made_up_checks().found.shares.rows if row.anchor == "S6"]
    odd = [row.model_copy(update={"stands_out": place == 2}) for place, row in enumerate(rows)]
    figure = shares_figure(odd)
    text = json.dumps(figure.chart.to_dict(), ensure_ascii=False)
    assert f'"kind": "{ODD}"' in text
    assert '"domain": [0, 100]' in text
    assert f"Standing out: {rows[2].ending}" in figure.description
    assert (
        "None stands out"
        in shares_figure([row.model_copy(update={"stands_out": False}) for row in rows]).description
    )


def test_places_follow_each_other(made_up_checks):
    rows = made_up_checks().found.uniformity.rows
    spec = places_figure(rows).chart.to_dict()
    data = next(iter(spec["datasets"].values()))
    assert len(data) == len(rows)
    middles = [one["from"] + one["to"] for one in data]
    assert middles == sorted(middles)


def slope_in_the_middle(places):
    rows = [
        PullShare(pull=str(i), pull_words=str(i), lower=p - 0.01, upper=p + 0.01, chance=0.5)
        for i, p in enumerate(places)
    ]
    data = next(iter(places_figure(rows).chart.to_dict()["datasets"].values()))
    middle = [one for one in data if 25 <= one["rank"] <= 75]
    rise = middle[-1]["from"] - middle[0]["from"]
    return rise / (middle[-1]["rank"] - middle[0]["rank"])


def test_what_steep_and_flat_mean_is_so_in_the_picture():
    """Places of a model that is too sure lie at the ends, of one not sure enough in the middle."""
    even = np.linspace(0.02, 0.98, 60)
    ends, middle = beta(0.4, 0.4).ppf(even), beta(3, 3).ppf(even)
    assert slope_in_the_middle(ends) > 1.3
    assert slope_in_the_middle(middle) < 0.8
    assert "Steep in the middle: the model is too sure." in PLACES_WORDS
    assert "Flat there: it is not sure enough." in PLACES_WORDS


def test_tables_hold_every_row(made_up_checks):
    found = made_up_checks()
    assert len(shares_table(found.found.shares.rows)) == len(found.found.shares.rows)
    assert sensitivity_table(found)["question"].tolist() == [
        question.name for question in found.campaign.questions
    ]
    rows = found.found.influences.rows
    table = influence_table([rows[0].model_copy(update={"state": "unknown"}), rows[1]])
    assert table["without it"].tolist()[0] == "–"
    assert table["how"].tolist()[0] == "the draws cannot tell"


def test_nasty_names_stay_text(page, made_up_data, made_up_checks, require_no_markup):
    found = made_up_checks()
    influences = found.found.influences
    rows = tuple(row.model_copy(update={"pull_words": f"pull {NASTY}"}) for row in influences.rows)
    check = influences.check.model_copy(update={"reason": NASTY, "status": Status.LOOK})
    claims = dict.fromkeys(influences.claims, NASTY)
    nasty = influences.model_copy(update={"rows": rows, "check": check, "claims": claims})
    spots = tuple(
        spot.model_copy(update={"question": NASTY, "text": NASTY})
        for spot in found.found.blind_spots
    )
    odd = dataclasses.replace(
        found, found=found.found.model_copy(update={"influences": nasty, "blind_spots": spots})
    )
    made_up_data.all_checks = lambda: odd
    at = page("trust")
    assert not at.exception
    raw = [element.value for kind in ("markdown", "caption") for element in at.get(kind)]
    assert sum("alarm" in value for value in raw) >= 4
    require_no_markup(raw)
