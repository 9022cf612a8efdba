"""What fits and answers: given from outside, so that the harness can be tried without sampling."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from model.base.errors import FitFailed
from model.posterior.posterior import FitCheck, Posterior
from model.questions.answer import Answer
from model.records.answer import AnswerSummary
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question


class Fit(Protocol):
    """Fit a campaign's pulls; may raise ``FitFailed``."""

    def __call__(self, campaign: Campaign, pulls: Sequence[Pull], seed: int) -> Posterior:
        """Return the posterior, whether or not its fit check passed."""
        ...


class Ask(Protocol):
    """Answer a question from a posterior, after earlier looks at it."""

    def __call__(
        self,
        question: Question,
        posterior: Posterior,
        pulls: Sequence[Pull],
        *,
        looks: Sequence[AnswerSummary] = (),
    ) -> Answer:
        """Return the answer with its draws."""
        ...


@dataclass(frozen=True, kw_only=True)
class Engine:
    """A way to fit and a way to answer."""

    fit: Fit
    answer: Ask


def fit_or_why_not(
    engine: Engine, campaign: Campaign, pulls: Sequence[Pull], seed: int
) -> tuple[Posterior | None, str]:
    """The posterior, and why it may not be used; no posterior where the fit broke off."""
    try:
        posterior = engine.fit(campaign, pulls, seed)
    except FitFailed as failure:
        return None, failure.message
    if posterior.fit_check.status == "passed":
        return posterior, ""
    return posterior, "; ".join(posterior.fit_check.reasons) or "the fit check failed"


def as_passed(fit_check: FitCheck) -> FitCheck:
    """The check for draws that are to count whether or not they passed it.

    A selection by the check would make shares and ranks of what is left mean nothing.
    """
    return fit_check.model_copy(update={"status": "passed", "reasons": ()})


EngineMaker = Callable[[], Engine]
"""Makes an engine, once in each process; a module-level function, so that it travels."""
