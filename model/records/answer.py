"""An answer as it is stored, shown and printed as JSON."""

from enum import StrEnum
from typing import Literal

from pydantic import Field

from model.records.base import Record


class Finding(StrEnum):
    """What an answer has come to."""

    HIGHER = "higher"
    LOWER = "lower"
    NO_PRACTICAL_DIFFERENCE = "no practical difference"
    NOT_SETTLED = "not settled"


class BandSummary(Record):
    """The band as printed."""

    kind: Literal["ratio", "difference"]
    lower: float
    upper: float


class QuestionSummary(Record):
    """The question as printed; `a`, `b` and `seabed` are text."""

    name: str
    a: str
    b: str
    seabed: str
    measure: str
    band: BandSummary


class SidePulls(Record):
    """Pulls of one side: used, of those held to the end, and void."""

    count: int = Field(ge=0)
    held: int = Field(ge=0)
    void: int = Field(ge=0)


class PullsSummary(Record):
    """Pulls behind an answer, side by side."""

    a: SidePulls
    b: SidePulls
    shared_outings: int = Field(ge=0)


class Interval(Record):
    """An interval that carries its own kind and mass."""

    kind: Literal["equal-tailed"] = "equal-tailed"
    prob: float = Field(gt=0, lt=1)
    lower: float
    upper: float


class Effect(Record):
    """Size of the difference, A against B."""

    kind: Literal["ratio", "difference"]
    unit: str
    median: float
    interval: Interval


class Flag(Record):
    """Something a reader must know before leaning on the answer."""

    code: str
    text: str


class PosteriorSummary(Record):
    """Which posterior an answer rests on."""

    id: str
    state: Literal["full", "quick"]
    pulls: int
    fit_check: Literal["passed", "failed"]


class AnswerSummary(Record):
    """One answer; the JSON that ``kedgewise ask --json`` prints.

    The last three probabilities sum to 1: above, inside and below the band.
    """

    question: QuestionSummary
    pulls: PullsSummary
    p_higher: float = Field(ge=0, le=1)
    p_above_band: float = Field(ge=0, le=1)
    p_inside_band: float = Field(ge=0, le=1)
    p_below_band: float = Field(ge=0, le=1)
    effect: Effect
    finding: Finding
    sentence: str
    flags: tuple[Flag, ...] = ()
    posterior: PosteriorSummary


class NotYet(Record):
    """No answer yet: a value, not an error; says why and what to do."""

    question: str
    reason: str
    hint: str
