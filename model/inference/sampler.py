"""Fit a campaign: one density compiled for all, then only data."""

import datetime as dt
import logging
import time
from collections.abc import Sequence
from contextlib import suppress
from typing import Any

import numpy as np
import nutpie
import xarray as xr
from numpy.typing import NDArray
from nutpie.compiled_pyfunc import from_pyfunc

from model.arrays.campaign_arrays import campaign_arrays
from model.base.errors import FitFailed
from model.base.priors import DEFAULT_PRIORS, Priors
from model.base.progress import Progress
from model.graph.data import DataArrays, density_data
from model.graph.density import POSITION, density, position_size
from model.graph.starts import starting_point
from model.inference.attempts import Attempt, first_attempt, max_depth, next_attempt, tune
from model.inference.draws import named_draws
from model.inference.fit_check import check_fit
from model.inference.identity import facts_fingerprint, wanted_fingerprint
from model.inference.settings import DEFAULT_SEED, DEFAULT_SETTINGS, MODEL_VERSION, Settings
from model.outcomes.shape import Shape
from model.posterior.posterior import FitCheck, Posterior, Provenance
from model.records.campaign import Campaign
from model.records.pull import Pull

_log = logging.getLogger(__name__)

Array = NDArray[np.float64]
Compiled = Any
"""A density with its data, as nutpie takes it; it ships no types."""
Trace = Any
"""What a finished sampler hands over: a tree of datasets by chain and draw."""
Handle = Any
"""A sampler running in the background, to wait for or to cancel."""

SHARE_COMPILING = 0.25
"""Share of the progress bar given to compiling, about its share of a first fit."""


def now() -> dt.datetime:
    """The clock of provenance; tests put another in its place."""
    return dt.datetime.now(dt.UTC)


class Sampler:
    """What makes posteriors under given priors.

    Parameters
    ----------
    priors : Priors
        Data of the density, as pulls are: other priors need no compiling.
    """

    def __init__(self, priors: Priors = DEFAULT_PRIORS) -> None:
        self.priors = priors

    def fit(
        self,
        campaign: Campaign,
        pulls: Sequence[Pull],
        *,
        seed: int = DEFAULT_SEED,
        settings: Settings | None = None,
        progress: Progress | None = None,
    ) -> Posterior:
        """Sample the posterior of a campaign's pulls.

        Parameters
        ----------
        campaign : Campaign
        pulls : sequence of Pull
            Void ones are left out.
        seed : int
            A repeat with the same seed agrees within Monte Carlo error; with a
            cold and a warm compile cache not to the digit.
        settings : Settings, optional
        progress : callable, optional
            Told the share done and what is being done.

        Returns
        -------
        Posterior
            Its fit check may have failed; then it must not be answered from.

        Raises
        ------
        FitFailed
            If there are no finite draws.
        """
        settings = settings or DEFAULT_SETTINGS
        tell = progress or (lambda *_: None)
        started, made_at = time.monotonic(), now()
        arrays, shape = campaign_arrays(campaign, pulls), Shape.of(campaign)
        data = density_data(arrays, self.priors, shape)
        tell(0.0, "compiling the model")
        compiled = _compile(data)
        draws, fit_check = _sample_checked(compiled, data, shape, campaign, arrays, seed, settings,
                                           tell)  # fmt: skip
        return Posterior(
            draws=draws,
            campaign=campaign,
            fit_check=fit_check,
            provenance=Provenance(
                id=wanted_fingerprint(
                    campaign, pulls, priors=self.priors, settings=settings, seed=seed
                ),
                pulls_fingerprint=facts_fingerprint(campaign, pulls),
                pull_ids=tuple(str(name) for name in arrays["pull"].to_numpy()),
                model_version=MODEL_VERSION,
                priors=self.priors.canonical(),
                settings=settings.canonical(),
                seed=seed,
                made_at=made_at,
                duration_s=time.monotonic() - started,
            ),
        )


def _compile(data: DataArrays) -> Compiled:
    """The density with its data, as the sampler takes it; compiled where that was not done yet."""
    size, start, evaluate = position_size(data), starting_point(data), density(data)
    evaluate(start(DEFAULT_SEED))

    def log_density(position: Array) -> tuple[float, Array]:
        value, gradient, _ = evaluate(position)
        return value, gradient

    return from_pyfunc(
        ndim=size,
        make_logp_fn=lambda: log_density,
        make_expand_fn=lambda *_: _expand,
        expanded_dtypes=[np.dtype(np.float64)],
        expanded_shapes=[(size,)],
        expanded_names=[POSITION],
        make_initial_point_fn=start,
    )


def _expand(position: Array) -> dict[str, Array]:
    """What is kept of a draw."""
    return {POSITION: position}


def _sample_checked(
    compiled: Compiled,
    data: DataArrays,
    shape: Shape,
    campaign: Campaign,
    arrays: xr.Dataset,
    seed: int,
    settings: Settings,
    tell: Progress,
) -> tuple[xr.Dataset, FitCheck]:
    """Sample, and again where the check failed; see :mod:`model.inference.attempts`."""
    attempt, told = first_attempt(settings), tell
    while True:
        run = _sample(compiled, seed + attempt.number, settings, attempt, told)
        sampled = run["posterior"].to_dataset().isel(draw=slice(None, None, attempt.length))
        draws = named_draws(sampled, data, shape, campaign, arrays)
        # Energy and divergences of every step: those thinned away tell as much.
        energy = run["sample_stats"]["energy"].to_numpy()
        divergences = int(run["sample_stats"]["diverging"].sum())
        fit_check = check_fit(draws, arrays, energy, divergences)
        is_passed = fit_check.status == "passed"
        following = None if is_passed else next_attempt(settings, attempt, fit_check)
        if following is None:
            tell(1.0, "done")
            return draws, fit_check
        _log.info("%s: %s", attempt, "; ".join(fit_check.reasons))
        attempt, told = following, _again(tell, following)


def _again(tell: Progress, attempt: Attempt) -> Progress:
    """Says that the draws before did not pass, and how much longer it takes now."""
    longer = "again" if attempt.length == 1 else f"{attempt.length} times as long"
    return lambda share, text: tell(
        share, f"{text} {longer}: the draws before did not pass their check"
    )


def _sample(
    compiled: Compiled,
    seed: int,
    settings: Settings,
    attempt: Attempt,
    tell: Progress,
) -> Trace:
    warm_up, draws = tune(settings, attempt), settings.draws * attempt.length

    def report(chains: list[Any]) -> None:
        done = sum(chain.finished_draws for chain in chains) / (settings.chains * (warm_up + draws))
        tell(SHARE_COMPILING + (1 - SHARE_COMPILING) * done, "sampling")

    handle = nutpie.sample(
        compiled,
        chains=settings.chains,
        tune=warm_up,
        draws=draws,
        cores=settings.cores,
        seed=seed,
        target_accept=attempt.target_accept,
        maxdepth=max_depth(settings, attempt),
        save_warmup=False,
        progress_bar=False,
        progress_callback=report,
        blocking=False,
    )
    return _wait(handle)


def _wait(handle: Handle) -> Trace:
    """Wait in short spells, so that an interrupt is heard; leave no sampler running."""
    try:
        while True:
            try:
                return handle.wait(timeout=0.5)
            except TimeoutError:
                continue
    except (KeyboardInterrupt, SystemExit, MemoryError):
        _cancel(handle)
        raise
    except BaseException as error:  # a fault inside the sampler is no Exception
        _cancel(handle)
        raise FitFailed(f"the sampler gave up: {error}", hint="Fit again.") from error


def _cancel(handle: Handle) -> None:
    """Leaving the interpreter with a sampler running crashes it; one that broke cannot be told."""
    with suppress(BaseException):
        handle.cancel()
