"""What is kept of one campaign of the table of what is seen."""

from pydantic import Field

from model.calibration.result import QuestionResult, Result
from model.records.base import Record


class UnseenBite(Record):
    """One bite whose mode nobody saw.

    Parameters
    ----------
    p_upright : float
        Chance of upright, given everything seen of its pull.
    is_upright : bool
        The truth.
    had_camera : bool or None
        Whether a camera was used and showed nothing; None where that was not written.
    """

    p_upright: float = Field(ge=0, le=1)
    is_upright: bool
    had_camera: bool | None


class Chance(Record):
    """A set-up's chance to set upright: mean, standard deviation and 90 % interval."""

    mean: float
    sd: float = Field(ge=0)
    lower90: float
    upper90: float


class SetUpChance(Record):
    """What is said of one set-up's chance to set upright, and its truth.

    Parameters
    ----------
    known : Chance
        Of the fit that knows all that was written down.
    without : Chance or None
        Of the second fit, which does not get to know what its scenario says.
    """

    set_up: str
    truth: float
    known: Chance
    without: Chance | None = None


class SeenResult(Result):
    """One simulated campaign of the table of what is seen.

    Parameters
    ----------
    questions : tuple of QuestionResult
        Effects on load, setting and burial.
    refusal_without : str
        Why the second fit gave nothing; empty if it did, or there was none.
    """

    questions: tuple[QuestionResult, ...]
    bites: tuple[UnseenBite, ...] = ()
    chances: tuple[SetUpChance, ...] = ()
    refusal_without: str = ""
