"""Answering questions from the newest posterior that passed; nothing is sampled here."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial

from model.base.errors import DrawsGone, FitFailed, KedgewiseError
from model.posterior.posterior import Posterior
from model.questions.answer import Answer
from model.records.answer import AnswerSummary, NotYet
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question, SetUp
from model.service.evidence import (
    CHANGED,
    Evidence,
    anew_where_gone,
    fitted_pulls,
    unknown_to,
    waiting,
)
from model.service.fingerprints import fingerprint_of
from model.store.entries import StoredAnswer, StoredPosterior
from model.store.revisions import Facts
from model.store.store import Store

_log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Failed:
    """A question that could not be answered, and what to do; the others are not touched."""

    question: str
    reason: str
    hint: str
    exit_code: int


@dataclass(frozen=True, kw_only=True)
class StandingAnswer:
    """A standing question, how it stands now, and what was kept of it.

    Parameters
    ----------
    look_back : callable
        Reads what was kept under its name; a season keeps thousands, and few look.
    """

    question: Question
    outcome: AnswerSummary | NotYet | Failed
    look_back: Callable[[], tuple[StoredAnswer, ...]] = field(compare=False, repr=False)

    @cached_property
    def history(self) -> tuple[AnswerSummary, ...]:
        """The answers kept of it, oldest first."""
        return tuple(answer.summary for answer in self.look_back())


def ask(store: Store, question: Question) -> Answer | NotYet:
    """Answer a question from the newest posterior that passed its fit check.

    Returns
    -------
    Answer or NotYet
        ``NotYet`` where nothing was fitted, or the fit is older than what the
        question names.

    Raises
    ------
    FitFailed
        If nothing passed and the newest fit failed its check.
    StoreError, PosteriorInvalid
        If the stored draws are damaged.
    """
    return anew_where_gone(lambda: _asked(store, question))


def _asked(store: Store, question: Question) -> Answer | NotYet:
    stored = store.newest_stored()
    if stored is None:
        return without_posterior(store, question.name)
    return answer_from(Evidence(store, stored, store.facts()), question)


def standing(store: Store) -> tuple[StandingAnswer, ...]:
    """Every standing question with its answer; one that fails does not take the others down.

    An answer that was kept of the newest posterior, or of the pulls weighed into it, is the
    answer: the draws are read only for one that was not.
    """
    try:
        return anew_where_gone(
            lambda: standing_at(store, store.newest_stored(), store.facts()),
        )
    except KedgewiseError as error:
        asked = store.campaign().questions
        return tuple(_standing(store, question, _failed(question, error)) for question in asked)


def standing_at(
    store: Store, stored: StoredPosterior | None, facts: Facts
) -> tuple[StandingAnswer, ...]:
    """Every standing question as it stood with some facts, after one fit.

    Parameters
    ----------
    stored : StoredPosterior or None
        Of the fit; None where there was none.

    Raises
    ------
    DrawsGone
        If fits that ended since took the place of the draws, and they are needed.
    StoreError
        If what was kept cannot be read.
    """
    asked = facts.campaign.questions
    evidence = None if stored is None else Evidence(store, stored, facts)
    at_hand = {} if evidence is None else _kept_now(store, evidence, asked)
    outcomes = [
        at_hand.get(question.name) or _outcome(store, question, evidence) for question in asked
    ]
    return tuple(map(partial(_standing, store), asked, outcomes))


def _kept_now(
    store: Store, evidence: Evidence, asked: Sequence[Question]
) -> dict[str, AnswerSummary]:
    """Answers at hand by the questions' names, as they stand with all that is stored."""
    points = {
        point.question.name: point
        for point in store.trail([fingerprint_of(evidence.now)], asked)
        if point.fit == evidence.stored.id
    }
    found = {}
    for question in asked:
        summary = _kept(question, evidence)
        point = points.get(question.name)
        if evidence.is_from_fit(question):
            found[question.name] = summary
        elif evidence.more is None:
            found[question.name] = summary and waiting(summary, CHANGED)
        elif point is not None:
            found[question.name] = point.summary or (summary and waiting(summary, point.reason))
    return {name: summary for name, summary in found.items() if summary is not None}


def history_of(store: Store, question: Question) -> tuple[AnswerSummary, ...]:
    """Answers kept of the same comparison, under whatever name, oldest first."""
    campaign = store.campaign()
    kept = store.stored_answers(lambda one: asks_the_same(one, question, campaign))
    return tuple(answer.summary for answer in kept)


def record_standing(store: Store) -> int:
    """Keep the standing answers of the newest posterior: one look each, and only once.

    Of the fit itself: quick answers are no looks.

    Returns
    -------
    int
        How many were kept now.
    """
    return anew_where_gone(lambda: _record(store))


def _record(store: Store) -> int:
    stored = store.newest_stored()
    if stored is None:
        return 0
    evidence = Evidence(store, stored, store.facts())
    wanted = [
        question
        for question in evidence.now.campaign.questions
        if _kept(question, evidence) is None
    ]
    new = [
        (question, outcome)
        for question in wanted
        if isinstance(outcome := _outcome(store, question, evidence, is_full=True), AnswerSummary)
    ]
    if new:
        store.add_answers(new, posterior_id=stored.id)
    return len(new)


def earlier_looks(
    question: Question,
    posterior: Posterior,
    pulls: Sequence[Pull],
    kept: Sequence[StoredAnswer],
    stored_since: Callable[[str], frozenset[str]],
) -> tuple[AnswerSummary, ...]:
    """Answers kept of the same comparison at fewer pulls, oldest first, one per set of pulls.

    Only new pulls of one of its sides make another look: a second fit of the
    same ones, one after a correction or with a pull taken out, or one that only
    knows more of other set-ups takes the place of the first. A question whose
    band or set-up was changed begins anew.

    Parameters
    ----------
    kept : sequence of StoredAnswer
        All of the same comparison, whatever it is called.
    stored_since : callable
        Identities of the pulls that were first stored after the facts of a posterior, by its
        identity, had been read.
    """
    from model.questions.sides import side_pulls  # brings the array library

    campaign = posterior.campaign
    own = {
        pull.id
        for setup in (question.a, question.b)
        for pull in side_pulls(campaign, question, setup, pulls).used
    }
    looks = {
        _counts(answer.summary): answer.summary
        for answer in kept
        if own & stored_since(answer.summary.posterior.id)
    }
    return tuple(looks.values())


def _counts(summary: AnswerSummary) -> tuple[int, int]:
    return summary.pulls.a.count, summary.pulls.b.count


def _outcome(
    store: Store, question: Question, evidence: Evidence | None, *, is_full: bool = False
) -> AnswerSummary | NotYet | Failed:
    try:
        if evidence is None:
            return without_posterior(store, question.name)
        found = answer_from(evidence, question, is_full=is_full)
        return found if isinstance(found, NotYet) else found.summary
    except DrawsGone:
        raise  # there are newer ones: all that was read is to be read anew
    except KedgewiseError as error:
        _log.warning("no answer to %s: %s", question.name, error.message)
        return _failed(question, error)


def answer_from(
    evidence: Evidence, question: Question, *, is_full: bool = False
) -> Answer | NotYet:
    """The answer to a question from evidence that was read.

    Parameters
    ----------
    is_full : bool
        From the fit alone, whatever came after it.
    """
    basis = evidence.full if is_full else evidence.basis_of(question)
    posterior = basis.posterior
    unknown = unknown_to(posterior.campaign, question)
    if unknown:
        return NotYet(
            question=question.name,
            reason=f"the newest fit does not know {', '.join(unknown)}",
            hint="Run `kedgewise fit`.",
        )
    from model.questions import ask as questions  # brings the statistics library

    kept = evidence.ever_kept(lambda one: asks_the_same(one, question, posterior.campaign))
    looks = earlier_looks(question, posterior, basis.pulls, kept, evidence.stored_since)
    answer = questions.answer(question, posterior, basis.pulls, looks=looks)
    return replace(answer, summary=waiting(answer.summary, basis.waiting))


def behind(store: Store, posterior: Posterior) -> tuple[Pull, ...]:
    """Pulls that a full fit rests on; see :func:`fitted_pulls`."""
    return fitted_pulls(posterior, store.facts_behind(posterior.provenance.id))


def without_posterior(store: Store, asked: str) -> NotYet:
    """Why nothing can be told yet of what was asked, and what to do.

    Raises
    ------
    FitFailed
        If the newest fit failed its check.
    """
    attempt = store.newest_attempt()
    if attempt is not None and attempt.state == "failed":
        raise FitFailed(
            "the fit failed, so there is nothing to answer from: " + "; ".join(attempt.reasons),
            hint="Look among the pulls for a wrong load, anchor or seabed, add pulls, "
            "and run `kedgewise fit` again.",
        )
    if not store.pulls():
        hint = "Import a log with `kedgewise import FILE`, then run `kedgewise fit`."
        return NotYet(question=asked, reason="the store holds no pulls", hint=hint)
    return NotYet(question=asked, reason="nothing was fitted yet", hint="Run `kedgewise fit`.")


def asks_the_same(one: Question, other: Question, campaign: Campaign) -> bool:
    """Whether two questions are one comparison with one band, whatever they are called."""
    return _bare(one, campaign) == _bare(other, campaign)


def _bare(question: Question, campaign: Campaign) -> Question:
    """A question without its name, and without levels that are the baseline anyway."""
    sides = {"a": without_baselines(question.a, campaign)}
    sides["b"] = without_baselines(question.b, campaign)
    return question.model_copy(update={"name": "", **sides})


def without_baselines(setup: SetUp, campaign: Campaign) -> SetUp:
    """A set-up that names only the levels that were changed."""
    baselines = {treatment.name: treatment.baseline for treatment in campaign.treatments}
    levels = {name: level for name, level in setup.levels.items() if baselines.get(name) != level}
    return setup.model_copy(update={"levels": levels})


def _kept(question: Question, evidence: Evidence) -> AnswerSummary | None:
    """The answer that was kept of the fit to exactly this question."""
    found = (answer.summary for answer in evidence.kept if answer.question == question)
    return next(found, None)


def _failed(question: Question, error: KedgewiseError) -> Failed:
    return Failed(
        question=question.name, reason=error.message, hint=error.hint, exit_code=error.exit_code
    )


def _standing(
    store: Store, question: Question, outcome: AnswerSummary | NotYet | Failed
) -> StandingAnswer:
    def is_named_so(other: Question) -> bool:
        return other.name == question.name

    return StandingAnswer(
        question=question, outcome=outcome, look_back=partial(store.stored_answers, is_named_so)
    )
