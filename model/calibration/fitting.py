"""The real engine: this model's sampler and its answers, as a user gets them."""

from collections.abc import Sequence
from functools import partial

from model.calibration.engine import Engine
from model.inference.sampler import Sampler
from model.inference.settings import Settings
from model.posterior.posterior import Posterior
from model.questions.ask import answer
from model.records.campaign import Campaign
from model.records.pull import Pull


def fitting_engine(settings: Settings = Settings(cores=1)) -> Engine:  # noqa: B008 - frozen
    """An engine that compiles once and then only swaps the data.

    The chains of one fit run one after another: the harness runs campaigns side by side.
    """
    sampler = Sampler()

    def fit(campaign: Campaign, pulls: Sequence[Pull], seed: int) -> Posterior:
        return sampler.fit(campaign, pulls, seed=seed, settings=settings)

    return Engine(fit=fit, answer=partial(answer, table=()))  # no table: only the answer is judged


def one_attempt_engine() -> Engine:
    """An engine that tries once: its draws are there whether or not they pass their check."""
    default = Settings()
    return fitting_engine(
        Settings(cores=1, lengths=default.lengths[:1], targets=default.targets[:1])
    )


def two_chain_engine() -> Engine:
    """An engine that tries once, with two chains: less warm-up for as many effective draws."""
    default = Settings()
    return fitting_engine(
        Settings(
            cores=1,
            chains=2,
            draws=900,
            lengths=default.lengths[:1],
            targets=default.targets[:1],
        )
    )
