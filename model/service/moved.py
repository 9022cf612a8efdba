"""What new pulls did to the standing answers: from what to what."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from model.base.errors import KedgewiseError
from model.records.answer import AnswerSummary, NotYet
from model.records.question import Question
from model.service.answers import Failed, StandingAnswer, standing_at
from model.service.evidence import CHANGED, anew_where_gone, waits_because
from model.service.fingerprints import days
from model.store.entries import StoredPosterior, TrailPoint
from model.store.revisions import Facts, Mark
from model.store.store import Store

_log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Moved:
    """One standing question before and after something was stored.

    Parameters
    ----------
    before : AnswerSummary or None
        None where it had no answer.
    """

    question: Question
    before: AnswerSummary | None
    after: AnswerSummary | NotYet | Failed

    @property
    def waits_because(self) -> str:
        """Why the answer does not know all that is stored; empty where it does."""
        if not isinstance(self.after, AnswerSummary):
            return self.after.reason
        return waits_because(self.after)


def storing[Done](store: Store, act: Callable[[], Done]) -> tuple[Done, tuple[Moved, ...]]:
    """Do something that stores pulls, and see what it moved; nothing before the first fit.

    The answers are worked out once all is stored, those of before from the facts as they were,
    and kept: quick ones, where the draws of the newest fit allow it. Nothing stands between a
    pull and the disk, and whatever fails in answering, what was stored is stored.
    """
    before = _seen(store)
    done = act()
    return done, () if before is None else _moves(store, before)


@dataclass(frozen=True, kw_only=True)
class _Seen:
    """Which facts were there, and which fit."""

    mark: Mark
    stored: StoredPosterior | None


def _seen(store: Store) -> _Seen | None:
    """What is there now: two small queries; None where even these fail."""
    try:
        return _Seen(mark=store.mark(), stored=store.newest_stored())
    except Exception as error:  # noqa: BLE001 - nothing here may stop a pull
        _say_unknown(error)
        return None


def _moves(store: Store, seen: _Seen) -> tuple[Moved, ...]:
    """What has moved since; nothing where that cannot be told."""
    try:
        after = anew_where_gone(lambda: _answered_now(store))
        if seen.stored is None or not after:
            return tuple(_moved((), after))
        before = standing_at(store, seen.stored, store.facts_at(seen.mark))
    except Exception as error:  # noqa: BLE001 - a stored pull must not look lost
        _say_unknown(error)
        return ()
    return tuple(_moved(before, after))


def _say_unknown(error: Exception) -> None:
    if isinstance(error, KedgewiseError):
        _log.warning("what moved is not known: %s", error.message)
    else:
        _log.error("what moved is not known: %r", error, exc_info=error)


def _answered_now(store: Store) -> tuple[StandingAnswer, ...]:
    """The standing answers, and quick ones kept; none before the first fit."""
    stored, facts = store.newest_stored(), store.facts()
    if stored is None:
        return ()
    found = standing_at(store, stored, facts)
    keep_quick(store, facts, found)
    return found


def _moved(before: Sequence[StandingAnswer], after: Sequence[StandingAnswer]) -> list[Moved]:
    earlier = {one.question.name: one.outcome for one in before}
    return [
        Moved(
            question=one.question,
            before=_summary(earlier.get(one.question.name)),
            after=one.outcome,
        )
        for one in after
        if one.outcome != earlier.get(one.question.name)
    ]


def _summary(outcome: AnswerSummary | NotYet | Failed | None) -> AnswerSummary | None:
    return outcome if isinstance(outcome, AnswerSummary) else None


def keep_quick(store: Store, facts: Facts, answers: Sequence[StandingAnswer]) -> None:
    """Keep quick answers, and that others wait, as points of their questions' trails.

    Each under the name of the fit that told it, and none of one that is no longer the newest.

    Parameters
    ----------
    facts : Facts
        What the answers know.
    """
    newest, known = store.newest_stored(), days(facts.campaign, facts.pulls)
    if newest is None or not known:
        return
    fingerprint, last = known[-1].fingerprints[-1], known[-1].pulls[-1].id
    points = []
    for one in answers:
        summary = _summary(one.outcome)
        if summary is None or summary.posterior.id != newest.id:
            continue
        reason = waits_because(summary)
        is_quick = summary.posterior.state == "quick"
        if is_quick or reason not in {"", CHANGED}:
            points.append(
                TrailPoint(
                    fingerprint=fingerprint,
                    question=one.question,
                    fit=summary.posterior.id,
                    state="quick" if is_quick else "withheld",
                    pulls=len(known[-1].known),
                    last_pull=last,
                    summary=summary if is_quick else None,
                    reason="" if is_quick else reason,
                )
            )
    store.add_trail(points)
