"""What is kept of one campaign of the table of ranks."""

from pydantic import Field

from model.calibration.result import QuestionResult, Result


class RankResult(Result):
    """One simulated campaign of the table of ranks.

    Parameters
    ----------
    refusal : str
        Why the fit broke off; empty if there are draws, whether or not they passed their check.
    questions : tuple of QuestionResult
        Effects on load, setting and burial.
    parameters : dict
        Share of the draws below the truth, of every single number among the parameters; by
        its name, with its coordinates in brackets.
    """

    questions: tuple[QuestionResult, ...] = ()
    parameters: dict[str, float] = Field(default_factory=dict)
