"""What fits and answers: given from outside, so that the harness can be tried without sampling."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from model.posterior.posterior import Posterior
from model.questions.answer import Answer
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question


class Fit(Protocol):
    """Fit a campaign's pulls; may raise ``FitFailed``."""

    def __call__(self, campaign: Campaign, pulls: Sequence[Pull], seed: int) -> Posterior:
        """Return the posterior, whether or not its fit check passed."""
        ...


class Ask(Protocol):
    """Answer a question from a posterior."""

    def __call__(self, question: Question, posterior: Posterior, pulls: Sequence[Pull]) -> Answer:
        """Return the answer with its draws."""
        ...


@dataclass(frozen=True, kw_only=True)
class Engine:
    """A way to fit and a way to answer."""

    fit: Fit
    answer: Ask


EngineMaker = Callable[[], Engine]
"""Makes an engine, once in each process; a module-level function, so that it travels."""
