"""What is kept of one simulated campaign: truths, and what each estimator said."""

from pathlib import Path
from typing import ClassVar, Final, Literal

from pydantic import Field

from model.base.errors import InputError
from model.calibration.files import read_whole, write_atomically
from model.calibration.scenario import Scenario, read_plan
from model.records.base import Record

SPREADSHEET: Final = "spreadsheet"
CENSORED_LOGNORMAL: Final = "censored_lognormal"
POOLED_NORMAL: Final = "pooled_normal"
THIS_MODEL: Final = "this_model"
ESTIMATORS: Final = (SPREADSHEET, CENSORED_LOGNORMAL, THIS_MODEL)


CLAIM: Final = 0.95
"""A direction is claimed from this probability (or one-sided confidence) on."""


class Estimate(Record):
    """One estimator's word on one effect: a log ratio of loads or a difference of chances.

    Parameters
    ----------
    value : float
        Its median or point estimate.
    lower50, upper50, lower90, upper90 : float
        Ends of the equal-tailed 50 % and 90 % intervals.
    p_higher : float
        Probability (or one-sided confidence) that the effect is above 0.
    p_above_band, p_inside_band, p_below_band : float
        The same for the question's band.
    p_below_truth : float
        Probability it gives to values below the truth; uniform if it is calibrated.
    """

    value: float
    lower50: float
    upper50: float
    lower90: float
    upper90: float
    p_higher: float = Field(ge=0, le=1)
    p_above_band: float = Field(ge=0, le=1)
    p_inside_band: float = Field(ge=0, le=1)
    p_below_band: float = Field(ge=0, le=1)
    p_below_truth: float = Field(ge=0, le=1)

    def covers(self, truth: float, *, is_wide: bool) -> bool:
        """Whether the 90 % interval (the 50 % one if it is not wide) holds a truth."""
        if is_wide:
            return self.lower90 <= truth <= self.upper90
        return self.lower50 <= truth <= self.upper50

    @property
    def claim(self) -> int:
        """The direction claimed: 1, -1, or 0 for none."""
        return int(self.p_higher >= CLAIM) - int(self.p_higher <= 1 - CLAIM)


class QuestionResult(Record):
    """One question: its truth, the pulls behind it, and what was said.

    Parameters
    ----------
    truth : float
        On the estimates' scale.
    pulls_a, pulls_b : int
        Pulls that set, on each side; 0 for a question in general, and
        where nothing but this model is asked.
    held_a, held_b : int
        Of these, those whose first bite held to the end.
    estimates : dict
        By estimator; None where it gives no answer.
    """

    question: str
    scale: Literal["log ratio", "difference"]
    truth: float
    pulls_a: int = Field(ge=0)
    pulls_b: int = Field(ge=0)
    held_a: int = Field(ge=0)
    held_b: int = Field(ge=0)
    finding: str = ""
    estimates: dict[str, Estimate | None]

    @property
    def is_covered(self) -> bool:
        """Whether this model's 90 % interval holds the truth; a refused fit's does not."""
        estimate = self.estimates[THIS_MODEL]
        return estimate is not None and estimate.covers(self.truth, is_wide=True)


class Result(Record):
    """What every table keeps of one simulated campaign.

    Parameters
    ----------
    model_version : str
        Of the fit; empty if it broke off before there was any.
    refusal : str
        Why this model gave no answers; empty if it did.
    divergences : int
        Of the fit that was kept or refused; 0 if it broke off, and in files older than this.
    """

    indent: ClassVar[int | None] = 1
    """Of its file; None puts it in one line."""

    scenario: Scenario
    model_version: str = ""
    refusal: str = ""
    divergences: int = Field(default=0, ge=0)
    fit_seconds: float = Field(ge=0)


class CampaignResult(Result):
    """One simulated campaign whose answers stand beside those of other estimators."""

    comparisons: tuple[QuestionResult, ...]
    general: tuple[QuestionResult, ...]


def result_path(folder: Path, scenario: Scenario) -> Path:
    """Where the result of a scenario stands."""
    return folder / "campaigns" / f"{scenario.number:04d}.json"


def write_result(folder: Path, result: Result) -> None:
    """Keep a result, whole or not at all."""
    text = result.model_dump_json(indent=result.indent, exclude_defaults=True)
    write_atomically(result_path(folder, result.scenario), text + "\n")


def read_result(folder: Path, scenario: Scenario) -> CampaignResult | None:
    """The kept answers of a scenario; see :func:`read_result_as`."""
    return read_result_as(CampaignResult, folder, scenario)


def read_result_as[Kind: Result](kind: type[Kind], folder: Path, scenario: Scenario) -> Kind | None:
    """The kept result of a scenario; None if it was not run yet.

    Raises
    ------
    InputError
        If what stands there came from another scenario, or is damaged.
    """
    path = result_path(folder, scenario)
    if not path.exists():
        return None
    result = read_whole(path, kind.model_validate_json)
    if result.scenario != scenario:
        raise InputError(
            f"{path} is the result of another scenario", hint="Remove it, or use its own plan."
        )
    return result


def read_results(folder: Path) -> tuple[CampaignResult, ...]:
    """The kept answers of a folder's plan; see :func:`read_results_as`."""
    return read_results_as(CampaignResult, folder)


def read_results_as[Kind: Result](kind: type[Kind], folder: Path) -> tuple[Kind, ...]:
    """Every kept result of a folder's plan, in its order.

    Raises
    ------
    InputError
        If there is no plan, or the results come from more than one version of the model.
    """
    read = [read_result_as(kind, folder, scenario) for scenario in read_plan(folder).scenarios]
    results = tuple(result for result in read if result is not None)
    versions = {result.model_version for result in results} - {""}
    if len(versions) > 1:
        raise InputError(
            f"results of model versions {sorted(versions)} side by side",
            hint="Remove the older files under campaigns/ and run again.",
        )
    return results
