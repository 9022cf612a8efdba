from app.style.words import (
    FINDING_SYMBOLS,
    FINDING_WORDS,
    MEASURE_SHORT_WORDS,
    MEASURE_WORDS,
    seabed_words,
)
from model.records.answer import Finding
from model.records.question import Measure, Question


def test_every_finding_and_measure_has_its_words():
    assert set(FINDING_WORDS) == set(FINDING_SYMBOLS) == set(Finding)
    assert set(MEASURE_WORDS) == set(MEASURE_SHORT_WORDS) == set(Measure)
    assert len(set(FINDING_SYMBOLS.values())) == len(Finding)


def test_no_seabed_means_every_seabed(small_campaign):
    question = small_campaign.questions[1]
    assert seabed_words(question) == "every seabed"
    both = Question(name="q", a=question.a, b=question.b, seabeds=("firm sand", "soft mud"))
    assert seabed_words(both) == "firm sand and soft mud"
