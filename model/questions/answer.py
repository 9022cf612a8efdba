"""An answer with the draws behind it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.records.answer import AnswerSummary, Interval
from model.records.question import Measure, Question

Draws = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A median with its labelled interval; `unit` is ``kN``, ``×`` or ``chance``."""

    median: float
    interval: Interval
    unit: str


@dataclass(frozen=True, kw_only=True)
class Split:
    """Exact split of a typical-load ratio: the three ratios multiply to the whole."""

    load: Estimate  # through the load in both modes alike
    upright_only: Estimate  # through the load once upright
    through_mode: Estimate  # through how often it sets upright


@dataclass(frozen=True, kw_only=True)
class Side:
    """One set-up's own figures, beside each other."""

    label: str
    value: Estimate  # in the question's measure
    load_upright: Estimate
    load_on_side: Estimate
    p_upright: Estimate
    p_sets: Estimate


@dataclass(frozen=True, kw_only=True)
class MeasureRow:
    """One line of the table of all measures."""

    measure: Measure
    a: Estimate
    b: Estimate
    effect: Estimate
    p_higher: float


@dataclass(frozen=True, kw_only=True)
class Multiples:
    """Chances that A holds at least twice, and four times, what B does.

    The ratios of the class rules' high and super-high holding power
    (IACS UR A1.4.1.2 and .3), under this protocol only.
    """

    p_twice: float
    p_four_times: float


@dataclass(frozen=True, kw_only=True)
class OwnCount:
    """What was counted among a side's own pulls.

    Parameters
    ----------
    count : int
        Tries or lengths that tell.
    so : int or None
        In how many of them it was so; None for lengths.
    left_out : int
        Those that do not tell: not seen, not measured, ended before it was known.
    """

    count: int
    so: int | None = None
    left_out: int


@dataclass(frozen=True, kw_only=True)
class Alone:
    """What the two sides' own pulls say by themselves, beside the pooled answer.

    Without setting modes and without what any other pull says; see
    :mod:`model.questions.own_pulls`.
    """

    effect: Estimate  # a ratio, of chances a difference
    p_higher: float
    a: OwnCount | None = None  # of chances and lengths
    b: OwnCount | None = None


@dataclass(frozen=True, kw_only=True)
class Together:
    """What treatments changed at once do beyond the sum of what each does.

    Parameters
    ----------
    names : tuple of str
        The interactions in which the two sides differ, as ``leader=wire 2 m & chain=6 mm``.
    effect : Estimate
        Their share of the effect of A against B, in the question's measure.
    p_higher : float
        Chance that it is above none.
    """

    names: tuple[str, ...]
    effect: Estimate
    p_higher: float


@dataclass(frozen=True, kw_only=True)
class Answer:
    """A summary to store and print, and the draws it was made of."""

    question: Question
    summary: AnswerSummary
    effect_draws: Draws  # (draw,), on the scale of summary.effect
    a: Side
    b: Side
    split: Split | None  # for the measure typical only
    measures: tuple[MeasureRow, ...]
    multiples: Multiples | None  # for loads only
    chances_in_ten: int | None  # "next anchor like these" only
    alone: Alone | None = None  # of named anchors on one seabed
    not_alone: str = ""  # why there is none, where the measure could have one
    together: Together | None = None  # where the sides differ in a named interaction
