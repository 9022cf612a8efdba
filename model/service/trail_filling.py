"""Working out the trails of the standing questions, a day at a time, where something is missing."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from typing import Literal

from model.base.errors import FitFailed
from model.base.progress import Progress
from model.posterior.posterior import Posterior
from model.records.answer import AnswerSummary
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question
from model.service import fits
from model.service.fingerprints import Day, days
from model.service.fits import Fitter, fit_lock, wanted_fingerprint
from model.service.tries import tried
from model.store.entries import OF_TRAIL, TrailPoint
from model.store.store import Store


def fill_trail_step(
    store: Store,
    fitter: Fitter | None = None,
    *,
    progress: Progress | None = None,
    wait_s: float = 0.0,
    most_tries: int | None = None,
) -> bool:
    """Work out one day's end and the pulls of the day after it, the first that is missing.

    One fit a step (none where the newest posterior is of these facts), under the store's fit
    lock. Stopped at any moment, what it had not kept is worked out by the next; what is there
    is never worked out again, nor is what failed.

    Parameters
    ----------
    most_tries : int or None
        As for :func:`model.service.fits.fit`; beyond, the day is refused like one whose fit
        failed its check.

    Returns
    -------
    bool
        Whether there was anything to do.

    Raises
    ------
    FitStopped
        If memory ran out.
    StoreError
        If another fit of this store is running.
    """
    with fit_lock(store.folder, wait_s=wait_s):
        facts = store.facts()
        wanted = days(facts.campaign, facts.pulls)
        questions = facts.campaign.questions
        kept = store.trail([one for day in wanted for one in day.fingerprints], questions)
        for place, day in enumerate(wanted):
            after = wanted[place + 1] if place + 1 < len(wanted) else None
            missing = _missing(kept, day, after, questions)
            missing = missing or _refused_before(store, kept, day, facts.campaign)
            if missing:
                looks = _looks(kept, wanted[:place])
                points = partial(_points, day=day, after=after, questions=missing, looks=looks)
                posterior = partial(_posterior_of, store, day, facts.campaign, fitter, progress)
                _work_out(store, day, facts.campaign, posterior, points, most_tries)
                return True
        return False


def _work_out(
    store: Store,
    day: Day,
    campaign: Campaign,
    posterior: Callable[[], Posterior],
    points: Callable[[Posterior | str], Iterable[TrailPoint]],
    most_tries: int | None,
) -> None:
    """Keep a day's points, or that they are refused: also where it was stopped too often.

    The try ends once they are kept, and not with the fit: what is killed in answering is not
    to be begun for ever, either.
    """
    fingerprint = OF_TRAIL + day.fingerprints[-1]

    def act() -> None:
        try:
            found = posterior()
        except FitFailed as failed:
            store.end_attempt(fingerprint, "failed", [failed.message])
            raise
        store.add_trail(tuple(points(found)))
        store.end_attempt(fingerprint, "passed")

    reason = _why_failed(store, day, campaign)
    try:
        if not reason:
            tried(store, fingerprint, act, most_tries=most_tries)
            return
    except FitFailed as failed:
        reason = _why_failed(store, day, campaign) or failed.message
    store.add_trail(tuple(points(reason)))


def _why_failed(store: Store, day: Day, campaign: Campaign) -> str:
    """Why a fit of a day's end is not to be tried: its own failed, or the store's of these facts.

    Empty where there is no reason.
    """
    names = [OF_TRAIL + day.fingerprints[-1], *_fits_of(day, campaign)]
    attempts = [store.attempt(name) for name in names]
    failed = [one for one in attempts if one is not None and one.state == "failed"]
    return "; ".join(failed[0].reasons) if failed else ""


def _fits_of(day: Day, campaign: Campaign) -> tuple[str, ...]:
    """What a posterior of all up to a day's end is called: with later days named, or without."""
    return tuple(wanted_fingerprint(known, day.known) for known in (campaign, day.campaign))


def _missing(
    kept: Sequence[TrailPoint], day: Day, after: Day | None, questions: Sequence[Question]
) -> tuple[Question, ...]:
    """Questions that lack a full point at a day's end, or any within the day after it."""
    ends, tried_at = set(), set()
    for point in kept:
        if point.question in questions:
            at = point.fingerprint, point.question.name
            ends |= {at} if point.state in {"full", "refused"} else set()
            # One withheld from another fit, when it was asked, may be told from this one.
            tried_at |= {at} if point.state in {"full", "quick"} or not point.fit else set()
    within = after.fingerprints[:-1] if after is not None else ()
    return tuple(
        question
        for question in questions
        if (day.fingerprints[-1], question.name) not in ends
        or any((one, question.name) not in tried_at for one in within)
    )


def _refused_before(
    store: Store, kept: Sequence[TrailPoint], day: Day, campaign: Campaign
) -> tuple[Question, ...]:
    """Questions refused at a day's end whose fit was tried again by hand since, and passed."""
    at_end = [point for point in kept if point.fingerprint == day.fingerprints[-1]]
    told = [point.question for point in at_end if point.state == "full"]
    refused = [
        point.question
        for point in at_end
        if point.state == "refused"
        and point.question in campaign.questions
        and point.question not in told
    ]
    stored = store.newest_stored() if refused else None
    if stored is None or stored.id not in _fits_of(day, campaign):
        return ()
    return () if _why_failed(store, day, campaign) else tuple(refused)


def _posterior_of(
    store: Store,
    day: Day,
    campaign: Campaign,
    fitter: Fitter | None,
    progress: Progress | None,
) -> Posterior:
    """A posterior of all up to a day's end; FitFailed where its fit was refused."""
    stored = store.newest_stored()
    if stored is not None and stored.id in _fits_of(day, campaign):
        return store.posterior(stored.id)
    posterior = (fitter or fits.sampler()).fit(day.campaign, day.known, progress=progress)
    if posterior.fit_check.status == "failed":
        raise FitFailed("; ".join(posterior.fit_check.reasons))
    return posterior


def _looks(
    kept: Sequence[TrailPoint], before: Sequence[Day]
) -> dict[str, tuple[AnswerSummary, ...]]:
    """Full answers at the ends of earlier days by question, oldest first: the looks before.

    Parameters
    ----------
    kept : sequence of TrailPoint
        Of the questions as they are now: one that was given another band began anew.
    """
    found: dict[str, tuple[AnswerSummary, ...]] = {}
    for day in before:
        for point in kept:
            is_end = point.fingerprint == day.fingerprints[-1] and point.state == "full"
            if is_end and point.summary:
                name = point.question.name
                found[name] = (*found.get(name, ()), point.summary)
    return found


def _points(
    posterior: Posterior | str,
    day: Day,
    after: Day | None,
    questions: Sequence[Question],
    looks: dict[str, tuple[AnswerSummary, ...]],
) -> Iterator[TrailPoint]:
    known = day.known
    for question in questions:
        if isinstance(posterior, str):
            yield _without(question, day.fingerprints[-1], known, "refused", posterior)
            continue
        summary = _answered(question, posterior, known, looks.get(question.name, ()))
        looks[question.name] = (*looks.get(question.name, ()), summary)
        yield _with(question, day.fingerprints[-1], known, summary)
    if after is None:
        return
    for count, fingerprint in enumerate(after.fingerprints[:-1], start=1):
        more = after.pulls[:count]
        yield from _between(posterior, day, after, more, fingerprint, questions, looks)


def _between(
    posterior: Posterior | str,
    before: Day,
    after: Day,
    more: tuple[Pull, ...],
    fingerprint: str,
    questions: Sequence[Question],
    looks: dict[str, tuple[AnswerSummary, ...]],
) -> Iterator[TrailPoint]:
    from model.questions.additions import Additions
    from model.questions.quick import Withheld, weigh_in

    known = (*before.known, *more)
    quick: Posterior | Withheld | str = posterior
    if not isinstance(posterior, str):
        # The newest fit's campaign may name that day already, and others.
        has_day = after.campaign.outings[-1] in posterior.campaign.outings
        campaign = posterior.campaign if has_day else after.campaign
        quick = weigh_in(posterior, Additions(campaign=campaign, pulls=more))
    for question in questions:
        if isinstance(quick, Posterior):
            summary = _answered(question, quick, known, looks.get(question.name, ()))
            yield _with(question, fingerprint, known, summary)
        else:
            reason = quick if isinstance(quick, str) else quick.reason
            yield _without(question, fingerprint, known, "withheld", reason)


def _answered(
    question: Question,
    posterior: Posterior,
    known: tuple[Pull, ...],
    looks: Sequence[AnswerSummary],
) -> AnswerSummary:
    """An answer at one point; looks that knew as many of its own pulls are the same look."""
    from model.questions import ask
    from model.questions.sides import side_pulls

    own = sum(
        len(side_pulls(posterior.campaign, question, setup, known).used)
        for setup in (question.a, question.b)
    )
    before = [look for look in looks if look.pulls.a.count + look.pulls.b.count < own]
    return ask.answer(question, posterior, known, looks=before).summary


def _with(
    question: Question, fingerprint: str, known: Sequence[Pull], summary: AnswerSummary
) -> TrailPoint:
    return TrailPoint(
        fingerprint=fingerprint,
        question=question,
        fit=summary.posterior.id,
        state=summary.posterior.state,
        pulls=len(known),
        last_pull=known[-1].id,
        summary=summary,
    )


def _without(
    question: Question,
    fingerprint: str,
    known: Sequence[Pull],
    state: Literal["withheld", "refused"],
    reason: str,
) -> TrailPoint:
    return TrailPoint(
        fingerprint=fingerprint,
        question=question,
        fit="",
        state=state,
        pulls=len(known),
        last_pull=known[-1].id,
        summary=None,
        reason=reason,
    )
