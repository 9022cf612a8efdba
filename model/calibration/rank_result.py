"""What is kept of one campaign of the table of ranks."""

from pydantic import Field

from model.calibration.result import Result


class RankResult(Result):
    """One simulated campaign of the table of ranks.

    Parameters
    ----------
    refusal : str
        Why the fit broke off; empty if there are draws, whether or not they passed their check.
    effects : dict
        Share of the draws below the truth, of the effect that each question asks for; by its
        name.
    parameters : dict
        The same of every single number among the parameters; by its name, with its coordinates
        in brackets.
    """

    effects: dict[str, float] = Field(default_factory=dict)
    parameters: dict[str, float] = Field(default_factory=dict)
