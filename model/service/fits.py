"""The full fit of a store: one at a time, and only where something has changed."""

import importlib
import logging
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import Final, Literal, Protocol, cast

from model.base.errors import FitFailed, InputError, StoreError
from model.base.progress import Progress
from model.posterior.posterior import Posterior
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.service.answers import record_standing
from model.service.tries import tried
from model.store.entries import StoredPosterior
from model.store.files import locked
from model.store.revisions import Mark
from model.store.store import Store

_log = logging.getLogger(__name__)

LOCK_NAME: Final = "fit.lock"


class Fitter(Protocol):
    """What makes a posterior of a campaign's pulls."""

    def fit(
        self, campaign: Campaign, pulls: Sequence[Pull], *, progress: Progress | None = None
    ) -> Posterior:
        """Sample; raises FitFailed where no draw can be used."""
        ...


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """How a fit ended: anew, or the posterior that was there because nothing has changed."""

    state: Literal["fitted", "unchanged"]
    stored: StoredPosterior


def fit(
    store: Store,
    *,
    fitter: Fitter | None = None,
    progress: Progress | None = None,
    wait_s: float = 0.0,
    most_tries: int | None = None,
) -> Fitted:
    """Fit the store's pulls unless that was done, and keep the standing answers.

    Whatever stops it, the previous posterior stays in place.

    Parameters
    ----------
    fitter : Fitter or None
        The project's sampler unless given.
    wait_s : float
        How long to wait for another fit of this store, s.
    most_tries : int or None
        How often a fit of these facts may have been stopped before it ended, at least 1;
        beyond, it counts as failed. None for whoever asks by hand.

    Raises
    ------
    InputError
        If there is nothing to fit.
    FitFailed
        If the draws did not pass, or it was stopped too often; the reasons are kept with
        the attempt.
    FitStopped
        If memory ran out.
    StoreBusy
        If another fit of this store is running.
    StoreError
        If the posterior cannot be stored, or the store was replaced meanwhile.
    """
    with fit_lock(store.folder, wait_s=wait_s):
        facts = store.facts()
        campaign, pulls = facts.campaign, facts.pulls
        if all(pull.is_void for pull in pulls):
            raise InputError(
                "the store holds no pull that can be used",
                hint="Import a log with `kedgewise import FILE`.",
            )
        wanted = wanted_fingerprint(campaign, pulls)
        stored = _stored_already(store, wanted)
        state: Literal["fitted", "unchanged"] = "fitted" if stored is None else "unchanged"
        if stored is None:
            begun = partial((fitter or sampler()).fit, campaign, pulls, progress=progress)
            act = partial(_fit_and_save, store, wanted, begun, facts.mark)
            stored = tried(store, wanted, act, most_tries=most_tries)
        record_standing(store)
        return Fitted(state=state, stored=stored)


def is_fit_wanted(store: Store) -> bool:
    """Whether the facts that are there want a fit; one that failed is not wanted again.

    So is one whose draws were stored, and their file is damaged.
    """
    facts = store.facts()
    if all(pull.is_void for pull in facts.pulls):
        return False
    wanted = wanted_fingerprint(facts.campaign, facts.pulls)
    attempt = store.attempt(wanted)
    has_failed = attempt is not None and attempt.state == "failed"
    return not has_failed and _stored_already(store, wanted) is None


def wanted_fingerprint(campaign: Campaign, pulls: Sequence[Pull]) -> str:
    """Identity of the posterior that these facts want."""
    from model.inference.identity import wanted_fingerprint as fingerprint

    return fingerprint(campaign, pulls)


@cache
def sampler() -> Fitter:
    """The project's sampler, one a process: it keeps what it compiled, and imports in seconds."""
    module = importlib.import_module("model.inference.sampler")
    return cast(Fitter, module.Sampler())


def fit_lock(folder: Path, *, wait_s: float) -> AbstractContextManager[object]:
    """The lock that a fit of the store in a folder holds.

    Raises
    ------
    StoreBusy
        If another fit holds it for longer than is waited.
    StoreError
        If it cannot be taken at all.
    """
    return locked(
        folder / LOCK_NAME,
        wait_s=wait_s,
        busy=f"another fit of {folder} is running",
        hint="Wait until it is done; answers meanwhile rest on the previous posterior.",
    )


def _stored_already(store: Store, wanted: str) -> StoredPosterior | None:
    """The posterior that these facts want, where it is there and its file is whole."""
    stored = store.newest_stored()
    if stored is None or stored.id != wanted:
        return None
    try:
        store.verify_newest_posterior()
    except StoreError as error:
        _log.warning("fitting anew: %s", error.message)
        return None
    return stored


def _fit_and_save(
    store: Store, wanted: str, begun: Callable[[], Posterior], mark: Mark
) -> StoredPosterior:
    try:
        posterior = begun()
    except FitFailed as error:
        store.end_attempt(wanted, "failed", [error.message])
        raise
    reasons = posterior.fit_check.reasons
    if posterior.fit_check.status == "failed":
        store.end_attempt(wanted, "failed", reasons)
        raise FitFailed("the fit failed its check: " + "; ".join(reasons), hint=_what_to_do(store))
    facts = store.facts_at(mark)
    if wanted_fingerprint(facts.campaign, facts.pulls) != wanted:
        raise StoreError(
            f"{store.folder} was replaced while it was being fitted",
            hint="The store that is there now is as it was. Run `kedgewise fit` again.",
        )
    stored = store.save_posterior(posterior, mark=mark)
    store.end_attempt(wanted, "passed")
    return stored


def _what_to_do(store: Store) -> str:
    stored = store.newest_stored()
    stands = (
        "Nothing passed before, so there are no answers yet."
        if stored is None
        else f"Answers still rest on the {stored.pulls} pulls of the previous posterior."
    )
    return f"{stands} Look among the newest pulls for a wrong load, anchor or seabed."
