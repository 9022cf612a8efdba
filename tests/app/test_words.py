import pytest

from app.style.words import (
    FINDING_SYMBOLS,
    FINDING_WORDS,
    MEASURE_SHORT_WORDS,
    MEASURE_WORDS,
    differing_words,
    likelihood,
    seabed_words,
    setup_words,
)
from model.records.answer import Finding
from model.records.question import Measure, Question, SetUp


@pytest.mark.parametrize(
    ("probability", "word"),
    [
        (1.0, "virtually certain"),
        (0.99, "virtually certain"),
        (0.97, "extremely likely"),
        (0.92, "very likely"),
        (0.7, "likely"),
        (0.5, "about as likely as not"),
        (0.2, "unlikely"),
        (0.07, "very unlikely"),
        (0.03, "extremely unlikely"),
        (0.001, "exceptionally unlikely"),
        (0.0, "exceptionally unlikely"),
    ],
)
def test_words_of_the_likelihood_scale(probability, word):
    assert likelihood(probability) == word


def test_every_finding_and_measure_has_its_words():
    assert set(FINDING_WORDS) == set(FINDING_SYMBOLS) == set(Finding)
    assert set(MEASURE_WORDS) == set(MEASURE_SHORT_WORDS) == set(Measure)
    assert len(set(FINDING_SYMBOLS.values())) == len(Finding)


def test_a_set_up_names_every_level(small_campaign):
    setup = SetUp(anchor="S6", levels={"leader": "wire 2 m"}, scope=7)
    assert setup_words(setup, small_campaign) == "S6, wire 2 m, 8 mm, scope 7"
    assert setup_words(SetUp(), small_campaign) == "any anchor, chain only, 8 mm"


def test_a_legend_names_what_differs(small_campaign):
    a, b = SetUp(anchor="S6", levels={"leader": "wire 2 m"}), SetUp(anchor="S6", scope=7)
    assert differing_words(a, b, small_campaign) == "S6, wire 2 m, scope 5"
    assert differing_words(b, a, small_campaign) == "S6, chain only, scope 7"


def test_no_seabed_means_every_seabed(small_campaign):
    question = small_campaign.questions[1]
    assert seabed_words(question) == "every seabed"
    both = Question(name="q", a=question.a, b=question.b, seabeds=("firm sand", "soft mud"))
    assert seabed_words(both) == "firm sand and soft mud"
