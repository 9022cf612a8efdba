"""Can the newest fit, and the standing answers from it, be trusted; nothing is sampled here."""

import hashlib
import json
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pydantic import ValidationError

from model.base.errors import StoreError
from model.checks.all_checks import Checks, run_checks
from model.checks.check import Check, Verdict, roll_up
from model.checks.fit import fit_check
from model.checks.influence import Refit
from model.posterior.posterior import FitCheck
from model.records.answer import NotYet, PosteriorSummary
from model.records.base import Record
from model.records.campaign import Campaign
from model.records.question import Question
from model.service.answers import answer_from, without_posterior
from model.service.evidence import Evidence, anew_where_gone, unknown_to
from model.store.files import locked, written_whole
from model.store.store import Store

if TYPE_CHECKING:
    from model.questions.answer import Answer

_log = logging.getLogger(__name__)

KEPT_FILE: Final = "checks.json"
"""Beside the database: what the checks of the newest fit found, and fits without single pulls."""
VERSION: Final = 3
"""Raised whenever the same draws would be judged otherwise: what was kept is then done anew."""
KEPT_LOCK: Final = "checks.lock"
"""Held while the file is read and written, so that of two writers neither undoes the other."""
KEPT_WAIT_S: Final = 10.0
ASKED: Final = "can this be trusted"
"""What :class:`NotYet` calls this question."""


class Kept(Record):
    """What is kept of the checks of one posterior.

    Parameters
    ----------
    key : str
        Hash of what `checks` rest on besides the posterior; empty where there are none.
    refits : tuple of Refit
        Fits that were made without a pull, whatever is asked.
    """

    posterior: str
    version: int = VERSION
    key: str = ""
    checks: Checks | None = None
    refits: tuple[Refit, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Checked:
    """Everything that is known of whether a fit can be trusted.

    Parameters
    ----------
    campaign : Campaign
        As it was at the fit.
    fit : Check
        The fit check, first of all.
    unknown : tuple of str
        Standing questions that were not checked, each with what of it this fit does not know.
    """

    campaign: Campaign
    posterior: PosteriorSummary
    fit_check: FitCheck
    fit: Check
    found: Checks
    unknown: tuple[str, ...] = ()

    @property
    def checks(self) -> tuple[Check, ...]:
        """All of them, the fit's first."""
        return (self.fit, *self.found.checks)

    @property
    def verdict(self) -> Verdict:
        """What they come to in one line."""
        return roll_up(self.checks)


def check(store: Store) -> Checked | NotYet:
    """Check the newest posterior and the standing answers from it.

    What was found is kept beside the database, so that the same is not worked out again.

    Returns
    -------
    Checked or NotYet
        ``NotYet`` where nothing was fitted.

    Raises
    ------
    FitFailed
        If nothing passed and the newest fit failed its check.
    StoreError, PosteriorInvalid
        If the stored draws are damaged.
    """
    return anew_where_gone(lambda: _checked(store))


def _checked(store: Store) -> Checked | NotYet:
    stored = store.newest_stored()
    if stored is None:
        return without_posterior(store, ASKED)
    evidence = Evidence(store, stored, store.facts())
    posterior = evidence.full.posterior
    asked = standing_questions(evidence)
    kept = kept_of(store.folder, stored.id)
    key = _key(asked, kept.refits, store.answer_count())
    found = kept.checks if kept.key == key else None
    if found is None:
        answers = answers_of(evidence, asked)
        found = run_checks(posterior, evidence.full.pulls, answers, kept.refits)
        _keep_checks(store, stored.id, key, found)
    return Checked(
        campaign=posterior.campaign,
        posterior=posterior.summary,
        fit_check=posterior.fit_check,
        fit=fit_check(posterior.fit_check, _newer_reasons(store)),
        found=found,
        unknown=_unknown_questions(evidence),
    )


def _unknown_questions(evidence: Evidence) -> tuple[str, ...]:
    """Standing questions about what came after the fit, by name, with what that is."""
    campaign = evidence.full.posterior.campaign
    told = (
        (question.name, ", ".join(unknown_to(campaign, question)))
        for question in evidence.now.campaign.questions
    )
    return tuple(f"{name} ({what})" for name, what in told if what)


def standing_questions(evidence: Evidence) -> tuple[Question, ...]:
    """Standing questions that the fit knows all of."""
    campaign = evidence.full.posterior.campaign
    questions = evidence.now.campaign.questions
    return tuple(question for question in questions if not unknown_to(campaign, question))


def answers_of(evidence: Evidence, asked: tuple[Question, ...]) -> tuple["Answer", ...]:
    """Their answers from the fit alone, whatever came after it."""
    found = (answer_from(evidence, question, is_full=True) for question in asked)
    return tuple(answer for answer in found if not isinstance(answer, NotYet))


def _newer_reasons(store: Store) -> tuple[str, ...]:
    """Why a fit failed that is newer than the one answered from."""
    attempt = store.newest_attempt()
    is_failed = attempt is not None and attempt.state == "failed"
    return tuple(attempt.reasons) if is_failed and attempt is not None else ()


def _key(asked: tuple[Question, ...], refits: tuple[Refit, ...], looks: int) -> str:
    """Changes with whatever the checks rest on besides the posterior: also a look more."""
    parts = [
        *(question.model_dump_json() for question in asked),
        *(refit.model_dump_json() for refit in refits),
        str(looks),
    ]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def kept_of(folder: Path, posterior_id: str) -> Kept:
    """What was kept of a posterior's checks; nothing where it is damaged, or of another one.

    Of another version the fits are taken all the same: each took as long as a fit.
    """
    nothing = Kept(posterior=posterior_id)
    try:
        raw = json.loads((folder / KEPT_FILE).read_text("utf-8"))
        if raw.get("posterior") != posterior_id:
            return nothing
        if raw.get("version") != VERSION:
            return Kept.model_validate({"posterior": posterior_id, "refits": raw.get("refits", ())})
        return Kept.model_validate(raw)
    except (OSError, ValueError, AttributeError, ValidationError):
        return nothing  # it can be worked out again


def refit_count(store: Store) -> int:
    """How many figures there are of fits without single pulls; changes when one more is made."""
    stored = store.newest_stored()
    return 0 if stored is None else len(kept_of(store.folder, stored.id).refits)


def add_refits(store: Store, posterior_id: str, refits: Sequence[Refit]) -> None:
    """Keep fits without a pull beside those that were made before."""
    _keep(store, posterior_id, lambda kept: {"refits": (*kept.refits, *refits)})


def _keep_checks(store: Store, posterior_id: str, key: str, found: Checks) -> None:
    _keep(store, posterior_id, lambda _: {"key": key, "checks": found})


def _keep(store: Store, posterior_id: str, changes: Callable[[Kept], dict[str, object]]) -> None:
    """Change what is kept of a posterior, as it is by now, and leave the rest.

    What was read before some seconds of work may lack a fit that was stored meanwhile. Nothing is
    written of a posterior that is not the newest any more. A store that may only be read can be
    checked all the same, each time anew.
    """
    folder = store.folder
    try:
        with locked(folder / KEPT_LOCK, wait_s=KEPT_WAIT_S, busy="checks are being kept", hint=""):
            newest = store.newest_stored()
            if newest is None or newest.id != posterior_id:
                return
            kept = kept_of(folder, posterior_id)
            with written_whole(folder / KEPT_FILE) as temporary:
                written = kept.model_copy(update=changes(kept))
                temporary.write_text(written.model_dump_json(), "utf-8")
    except (OSError, StoreError) as error:
        _log.info("what the checks found is not kept: %s", error)
