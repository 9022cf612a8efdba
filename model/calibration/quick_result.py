"""What is kept of one campaign of the table of quick answers."""

from math import hypot

from pydantic import Field

from model.calibration.result import Result
from model.records.base import Record


class TwoAnswers(Record):
    """One question's chance that A is higher, quickly and by the full fit.

    Parameters
    ----------
    quick_mcse, full_mcse : float
        Monte Carlo standard errors.
    """

    question: str
    quick: float = Field(ge=0, le=1)
    full: float = Field(ge=0, le=1)
    quick_mcse: float = Field(gt=0)
    full_mcse: float = Field(gt=0)

    @property
    def difference(self) -> float:
        """Quick less full."""
        return self.quick - self.full

    @property
    def in_errors(self) -> float:
        """The difference in combined Monte Carlo standard errors."""
        return self.difference / hypot(self.quick_mcse, self.full_mcse)


class QuickResult(Result):
    """One simulated campaign of the table of quick answers.

    Parameters
    ----------
    withheld : str
        Why there was no quick answer; empty if there was.
    pareto_k, effective_draws : float
        Of the weights.
    answers : tuple of TwoAnswers
        Also where the quick ones were withheld: what they would have said.
    """

    withheld: str = ""
    pareto_k: float = 0.0
    effective_draws: float = 0.0
    answers: tuple[TwoAnswers, ...] = ()
