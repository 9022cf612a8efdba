"""What is kept of one campaign of the table of answers: short, since there are many."""

from typing import ClassVar, Literal

from pydantic import Field

from model.calibration.result import Result
from model.calibration.thinned_rank import DRAWS
from model.records.base import Record

Region = Literal[-1, 0, 1]
"""Below, inside or above a question's band."""


class Said(Record):
    """What one estimator said of one effect, held against the truth.

    Parameters
    ----------
    rank : int
        Of the truth: that many of 99 thinned draws are below it, or so many hundredths of the
        distribution.
    p_below, p_above : float
        Chance that was given to the regions below and above the band.
    in_50, in_90 : bool
        Whether the equal-tailed interval held the truth.
    """

    rank: int = Field(ge=0, le=DRAWS)
    p_below: float = Field(ge=0, le=1)
    p_above: float = Field(ge=0, le=1)
    in_50: bool = True
    in_90: bool = True

    @property
    def shares(self) -> dict[Region, float]:
        """Chance of every region."""
        inside = max(0.0, 1.0 - self.p_below - self.p_above)
        return {-1: self.p_below, 0: inside, 1: self.p_above}


class JudgedAnswer(Said):
    """One question: the answer of this model.

    Parameters
    ----------
    truth : float
        Log ratio or difference; of the next pull what one more pull of each side did.
    p_higher : float
        Chance that the effect is above none.
    settled : int or None
        Region that the rule called settled, as if the look before had said the same.
    """

    truth: float
    p_higher: float = Field(ge=0, le=1)
    settled: Region | None = None


class AnswersResult(Result):
    """One simulated campaign of the table of answers.

    Parameters
    ----------
    answers : dict of str to JudgedAnswer
        By the question's name; empty if the fit was refused.
    parameters : tuple of int or None
        Rank of every single number of the truth, in the order of
        :func:`model.calibration.parameter_draws.parameter_labels`; None where it is fixed.
    rivals : dict of str to Said or None
        What the other estimators said of the question about one anchor's typical load; None
        where one gives no answer.
    rivals_truth : float
        Log ratio that they were asked for.
    not_passed : str
        Why the draws did not pass their check, where they count all the same: a selection by the
        check would make the ranks of what is left mean nothing.
    least_ess_answers, least_ess_parameters : int
        Effective draws before thinning, of the quantity that has the fewest.
    """

    indent: ClassVar[int | None] = None

    answers: dict[str, JudgedAnswer] = Field(default_factory=dict)
    parameters: tuple[int | None, ...] = ()
    rivals: dict[str, Said | None] = Field(default_factory=dict)
    rivals_truth: float = 0.0
    not_passed: str = ""
    least_ess_answers: int = 0
    least_ess_parameters: int = 0
