import pytest

from app.style.words import (
    FINDING_SYMBOLS,
    FINDING_WORDS,
    MEASURE_SHORT_WORDS,
    MEASURE_WORDS,
    likelihood,
    seabed_words,
)
from model.records.answer import Finding
from model.records.question import Measure, Question


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


def test_no_seabed_means_every_seabed(small_campaign):
    question = small_campaign.questions[1]
    assert seabed_words(question) == "every seabed"
    both = Question(name="q", a=question.a, b=question.b, seabeds=("firm sand", "soft mud"))
    assert seabed_words(both) == "firm sand and soft mud"
