"""Words for findings, measures and seabeds, as pages say them."""

from typing import Final

from model.records.answer import Finding
from model.records.campaign import Campaign
from model.records.question import Measure, Question, SetUp

FINDING_WORDS: Final = {
    Finding.HIGHER: "settled: A is higher",
    Finding.LOWER: "settled: A is lower",
    Finding.NO_PRACTICAL_DIFFERENCE: "settled: no practical difference",
    Finding.NOT_SETTLED: "not settled",
}
FINDING_SYMBOLS: Final = {  # shapes that every font has
    Finding.HIGHER: "▲",
    Finding.LOWER: "▼",
    Finding.NO_PRACTICAL_DIFFERENCE: "≈",
    Finding.NOT_SETTLED: "○",
}

MEASURE_WORDS: Final = {
    Measure.TYPICAL: "typical load at the first release",
    Measure.BEST: "best load of a pull",
    Measure.CAPPED: "load up to the boat's limit",
    Measure.NINE_IN_TEN: "nine-in-ten load",
    Measure.HOLD: "chance to hold a load",
    Measure.UPRIGHT: "chance to set upright",
    Measure.SETS: "chance to set at all",
    Measure.RESETS: "chance to dig in again after letting go",
    Measure.TURNS: "chance to set again after a turn",
    Measure.BURIED: "length of rode buried",
    Measure.NEXT: "load of the next pull",
}
ALONE_WORDS: Final = "by the pulls of these two set-ups alone"
"""What an answer that learns from all pulls is held against."""

TOGETHER_WORDS: Final = "what both changes do together, beyond what each does by itself"
"""An interaction's own share of an answer."""

MEASURE_SHORT_WORDS: Final = {  # for a table on a phone
    Measure.TYPICAL: "typical load",
    Measure.BEST: "best load",
    Measure.CAPPED: "load to limit",
    Measure.NINE_IN_TEN: "nine-in-ten load",
    Measure.HOLD: "holds the load",
    Measure.UPRIGHT: "sets upright",
    Measure.SETS: "sets at all",
    Measure.RESETS: "digs in again",
    Measure.TURNS: "sets again after a turn",
    Measure.BURIED: "buried rode",
    Measure.NEXT: "next pull",
}


def side_names(question: Question, campaign: Campaign) -> tuple[str, str]:
    """What tells the two sides apart, shortly: ``W8`` and ``C7``, ``wire 2 m`` and ``chain only``.

    The question's own name says what they share.
    """
    a, b = campaign.filled(question.a), campaign.filled(question.b)
    return _own_name(a, b), _own_name(b, a)


def _own_name(setup: SetUp, other: SetUp) -> str:
    anchor = [setup.anchor] if setup.anchor and setup.anchor != other.anchor else []
    levels = [level for name, level in setup.levels.items() if level != other.levels[name]]
    scope = [f"scope {setup.scope:g}"] if setup.scope != other.scope else []
    return ", ".join([*anchor, *levels, *scope])


def finding_between(finding: Finding, question: Question, campaign: Campaign) -> str:
    """A finding with its sides by name, as ``settled: W8 over C7``."""
    a, b = side_names(question, campaign)
    named = {Finding.HIGHER: f"settled: {a} over {b}", Finding.LOWER: f"settled: {b} over {a}"}
    return named.get(finding, FINDING_WORDS[finding])


def seabed_words(question: Question) -> str:
    """The seabeds a question is about."""
    return " and ".join(question.seabeds) or "every seabed"
