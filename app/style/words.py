"""Words for probabilities, findings, measures and seabeds, as pages say them."""

from typing import Final

from model.records.answer import Finding
from model.records.question import Measure, Question

LIKELIHOOD_SOURCE: Final = (
    "Words follow the likelihood scale of the IPCC guidance note of 2010 "
    "(Mastrandrea and others, table 1)."
)

_LIKELIHOOD: Final = (  # from at least this probability; scale as quoted in LIKELIHOOD_SOURCE
    (0.99, "virtually certain"),
    (0.95, "extremely likely"),
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "about as likely as not"),
    (0.10, "unlikely"),
    (0.05, "very unlikely"),
    (0.01, "extremely unlikely"),
    (0.0, "exceptionally unlikely"),
)

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
    Measure.RESETS: "chance to re-set after letting go",
    Measure.BURIED: "length of rode buried",
    Measure.NEXT: "load of the next pull",
}
MEASURE_SHORT_WORDS: Final = {  # for a table on a phone
    Measure.TYPICAL: "typical load",
    Measure.BEST: "best load",
    Measure.CAPPED: "load to limit",
    Measure.NINE_IN_TEN: "nine-in-ten load",
    Measure.HOLD: "holds the load",
    Measure.UPRIGHT: "sets upright",
    Measure.SETS: "sets at all",
    Measure.RESETS: "re-sets",
    Measure.BURIED: "buried rode",
    Measure.NEXT: "next pull",
}


def likelihood(probability: float) -> str:
    """The word of the IPCC 2010 likelihood scale for a probability (0 to 1)."""
    return next(word for least, word in _LIKELIHOOD if probability >= least)


def seabed_words(question: Question) -> str:
    """The seabeds a question is about."""
    return " and ".join(question.seabeds) or "every seabed"
