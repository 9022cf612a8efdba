"""A posterior: draws, where they came from, and whether they may be used."""

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from model.base.names import DRAW, PARAMETER_DIMS, PULL
from model.records.answer import PosteriorSummary
from model.records.base import Record
from model.records.campaign import Campaign

if TYPE_CHECKING:
    import numpy as np
    import xarray as xr  # takes a second to import, and not everyone who names draws reads them
    from numpy.typing import NDArray

LOG_LIKELIHOOD = "log_likelihood"
CHAIN = "chain"


class Provenance(Record):
    """Where draws came from; `id` hashes facts, priors, model version, settings and seed.

    Parameters
    ----------
    pull_ids : tuple of str
        ``outing/code`` of every pull the fit used, sorted.
    """

    id: str
    pulls_fingerprint: str
    pull_ids: tuple[str, ...]
    model_version: str
    priors: dict[str, object]
    settings: dict[str, object]
    seed: int
    made_at: dt.datetime
    duration_s: float = Field(ge=0)


class FitCheck(Record):
    """Whether draws may be used, and every reason against it."""

    status: Literal["passed", "failed"]
    reasons: tuple[str, ...] = ()
    divergences: int = Field(ge=0)
    rhat_max: float
    bfmi_min: float
    ess_bulk_min: float
    ess_tail_min: float


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """How the draws of a fit came to count pulls that were made after it.

    Parameters
    ----------
    pull_ids : tuple of str
        ``outing/code`` of every pull taken in beyond the fit's own.
    source : (draw,) int array
        Which of the fit's draws each one is.
    chain : (fitted draw,) int array
        Chain of each of the fit's draws.
    pareto_k, effective_draws : float
        Shape of the weights' tail, and what the draws are worth in draws of equal weight.
    """

    pull_ids: tuple[str, ...]
    source: "NDArray[np.int64]"
    chain: "NDArray[np.int64]"
    pareto_k: float
    effective_draws: float


@dataclass(frozen=True, kw_only=True)
class Posterior:
    """Draws of every parameter in :data:`PARAMETER_DIMS`.

    Parameters
    ----------
    draws : xarray.Dataset
        Variables with dims ``(draw, *PARAMETER_DIMS[name])`` and
        ``log_likelihood (draw, pull)``; coordinate ``chain (draw)``.
    campaign : Campaign
        The campaign as it was at the fit, or when pulls were weighed in.
    provenance : Provenance
        Of the fit.
    weighed : Weighed or None
        None for a fit's own draws; else these draws answer quickly, and the fit is still to come.
    """

    draws: "xr.Dataset"
    campaign: Campaign
    provenance: Provenance
    fit_check: FitCheck
    weighed: Weighed | None = None

    @property
    def pull_ids(self) -> tuple[str, ...]:
        """Every used pull that the draws know."""
        more = () if self.weighed is None else self.weighed.pull_ids
        return (*self.provenance.pull_ids, *more)

    @property
    def summary(self) -> PosteriorSummary:
        """Which posterior this is, as answers name it."""
        return PosteriorSummary(
            id=self.provenance.id,
            state="full" if self.weighed is None else "quick",
            pulls=len(self.pull_ids),
            fit_check=self.fit_check.status,
        )


def schema_faults(draws: "xr.Dataset") -> list[str]:
    """Everything that is wrong with the shape of stored draws, all at once."""
    expected = {name: (DRAW, *dims) for name, dims in PARAMETER_DIMS.items()}
    expected[LOG_LIKELIHOOD] = (DRAW, PULL)
    faults = [f"{name} is missing" for name in expected if name not in draws]
    for name, dims in expected.items():
        if name in draws and draws[name].dims != dims:
            faults.append(f"{name} has dims {draws[name].dims}, not {dims}")
        elif name in draws and not bool(draws[name].notnull().all()):
            faults.append(f"{name} holds values that are not numbers")
    if CHAIN not in draws.coords:
        faults.append(f"the coordinate {CHAIN} is missing")
    return faults
