"""The real engine: this model's sampler and its answers, as a user gets them."""

from collections.abc import Sequence
from functools import partial
from typing import Final

from model.calibration.engine import Engine
from model.inference.sampler import Sampler
from model.inference.settings import Settings
from model.posterior.posterior import Posterior
from model.questions.ask import answer
from model.records.campaign import Campaign
from model.records.pull import Pull

SETTINGS: Final = Settings(
    cores=1, tune=300, draws=1400, targets=(0.98, 0.99, 0.998), lengths=(1, 2, 6)
)
"""Of the small campaigns: with a user's settings half of the first attempts at eighteen pulls were
tried again (one divergent draw, too few effective ones), which took longer than to begin with
longer chains at smaller steps. What a fit must pass is the same, and so is its posterior."""


def fitting_engine(settings: Settings = SETTINGS) -> Engine:
    """An engine that compiles once and then only swaps the data.

    The chains of one fit run one after another: the harness runs campaigns side by side.
    """
    sampler = Sampler()

    def fit(campaign: Campaign, pulls: Sequence[Pull], seed: int) -> Posterior:
        return sampler.fit(campaign, pulls, seed=seed, settings=settings)

    return Engine(fit=fit, answer=partial(answer, table=()))  # no table: only the answer is judged
