from app.style.words import (
    FINDING_SYMBOLS,
    FINDING_WORDS,
    MEASURE_SHORT_WORDS,
    MEASURE_WORDS,
    finding_between,
    seabed_words,
    side_names,
)
from model.records.answer import Finding
from model.records.question import Measure, Question, SetUp


def test_every_finding_and_measure_has_its_words():
    assert set(FINDING_WORDS) == set(FINDING_SYMBOLS) == set(Finding)
    assert set(MEASURE_WORDS) == set(MEASURE_SHORT_WORDS) == set(Measure)
    assert len(set(FINDING_SYMBOLS.values())) == len(Finding)


def test_no_seabed_means_every_seabed(small_campaign):
    question = small_campaign.questions[1]
    assert seabed_words(question) == "every seabed"
    both = Question(name="q", a=question.a, b=question.b, seabeds=("firm sand", "soft mud"))
    assert seabed_words(both) == "firm sand and soft mud"


def test_sides_are_told_apart_by_what_differs(small_campaign):
    on_one_anchor, in_general, two_anchors, _ = small_campaign.questions
    assert side_names(on_one_anchor, small_campaign) == ("wire 2 m", "chain only")
    assert side_names(in_general, small_campaign) == ("wire 2 m", "chain only")
    assert side_names(two_anchors, small_campaign) == ("S6", "P9")
    rig = {"leader": "wire 2 m"}
    both = Question(name="q", a=SetUp(anchor="S6", levels=rig, scope=7), b=SetUp(anchor="P9"))
    assert side_names(both, small_campaign) == ("S6, wire 2 m, scope 7", "P9, chain only, scope 5")


def test_a_settled_finding_names_its_sides(small_campaign):
    question = small_campaign.questions[2]
    words = {finding: finding_between(finding, question, small_campaign) for finding in Finding}
    assert words[Finding.HIGHER] == "settled: S6 over P9"
    assert words[Finding.LOWER] == "settled: P9 over S6"
    assert words[Finding.NOT_SETTLED] == "not settled"
