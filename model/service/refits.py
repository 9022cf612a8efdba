"""Fits without single pulls, of which the draws at hand cannot tell what would be known."""

from collections.abc import Sequence
from functools import partial
from typing import Final

from model.arrays.campaign_arrays import used_pulls
from model.base.errors import FitFailed, InputError
from model.base.progress import Progress
from model.checks.asked import Asked
from model.checks.influence import Refit, still_to_refit
from model.checks.leave_one_out import leave_each_out
from model.posterior.posterior import Posterior
from model.records.pull import Pull
from model.records.question import Question
from model.service import fits
from model.service.checks import add_refits, kept_of, standing_questions
from model.service.evidence import Evidence
from model.store.store import Store

MOST: Final = 5
"""Fits made at one call: each takes about as long as the fit itself."""


def refit(
    store: Store,
    *,
    fitter: fits.Fitter | None = None,
    progress: Progress | None = None,
    most: int = MOST,
) -> int:
    """Fit again without each pull whose weights ask for it, and keep what each fit says.

    Those that ask most come first. The store's own posterior and answers stay as they are.

    Parameters
    ----------
    fitter : Fitter or None
        The project's sampler unless given.
    most : int
        How many fits at most.

    Returns
    -------
    int
        How many were made.

    Raises
    ------
    InputError
        If the fit at hand is not what this program would make of its pulls.
    StoreBusy
        If another fit of this store is running.
    """
    stored = store.newest_stored()
    if stored is None:
        return 0
    with fits.fit_lock(store.folder, wait_s=0.0):
        evidence = Evidence(store, stored, store.facts())
        posterior, pulls = evidence.full.posterior, evidence.full.pulls
        asked = standing_questions(evidence)
        if fits.wanted_fingerprint(posterior.campaign, pulls) != stored.id:
            raise InputError(
                "the fit at hand was made by another version of the program",
                hint="Run `kedgewise fit`, and check again.",
            )
        done = kept_of(store.folder, stored.id).refits
        wanted = still_to_refit(leave_each_out(posterior), asked, done)[:most]
        for place, name in enumerate(wanted):
            report = partial(_report, progress, place, len(wanted), name)
            found = _without(posterior, pulls, name, asked, fitter or fits.sampler(), report)
            add_refits(store, stored.id, found)
        return len(wanted)


def _report(
    progress: Progress | None, place: int, count: int, name: str, share: float, text: str
) -> None:
    if progress is not None:
        progress((place + share) / count, f"without pull {name}: {text}")


def _without(
    posterior: Posterior,
    pulls: Sequence[Pull],
    name: str,
    asked: Sequence[Question],
    fitter: fits.Fitter,
    report: Progress,
) -> list[Refit]:
    """What a fit without one pull says of every question."""
    from model.questions import ask  # brings the statistics library

    others = [pull for pull in pulls if pull.id != name]
    if all(pull.is_void for pull in others):
        return [_in_trouble(name, question, "no pull is left to fit") for question in asked]
    try:
        fitted = fitter.fit(posterior.campaign, others, progress=report)
    except (FitFailed, InputError) as error:  # another pull's figure must not be lost by this one's
        return [_in_trouble(name, question, error.message) for question in asked]
    if fitted.fit_check.status == "failed":
        trouble = "; ".join(fitted.fit_check.reasons)
        return [_in_trouble(name, question, trouble) for question in asked]
    campaign, used = posterior.campaign, used_pulls(others)
    answers = [Asked.of(ask.answer(one, fitted, others), campaign, used) for one in asked]
    return [_refit(name, one) for one in answers]


def _in_trouble(name: str, question: Question, trouble: str) -> Refit:
    return Refit(
        pull=name, question=question, trouble=trouble, higher=0, above=0, inside=0, below=0, mean=0
    )


def _refit(name: str, one: Asked) -> Refit:
    shares = one.shares()
    return Refit(
        pull=name,
        question=one.question,
        higher=shares.higher,
        above=shares.above,
        inside=shares.inside,
        below=shares.below,
        mean=float(one.effect.mean()),
    )
