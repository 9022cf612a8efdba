"""What new pulls did to the standing answers: from what to what."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from model.base.errors import KedgewiseError
from model.records.answer import AnswerSummary, NotYet
from model.records.question import Question
from model.service.answers import Failed, StandingAnswer, standing
from model.service.evidence import CHANGED, waits_because
from model.service.fingerprints import days
from model.store.entries import TrailPoint
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

    The answers are worked out at once and kept: quick ones, where the draws of the newest fit
    allow it. Whatever fails in that, what was stored is stored.
    """
    before = _looked(store)
    done = act()
    after = _looked(store, is_kept=True)
    return done, tuple(_moved(before, after))


def _looked(store: Store, *, is_kept: bool = False) -> tuple[StandingAnswer, ...]:
    """The standing answers; none where they cannot be had, which must not stop a pull."""
    try:
        if store.newest_stored() is None:
            return ()
        mark = store.facts().mark
        found = standing(store)
        # What somebody else has stored meanwhile, these do not know.
        if is_kept and store.facts().mark == mark:
            keep_quick(store, found)
    except KedgewiseError as error:
        _log.warning("what moved is not known: %s", error.message)
        return ()
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


def keep_quick(store: Store, answers: Sequence[StandingAnswer]) -> None:
    """Keep quick answers, and that others wait, as points of their questions' trails."""
    stored, facts = store.newest_stored(), store.facts()
    known = days(facts.campaign, facts.pulls)
    if stored is None or not known:
        return
    fingerprint, last = known[-1].fingerprints[-1], known[-1].pulls[-1].id
    points = []
    for one in answers:
        summary = _summary(one.outcome)
        if summary is None:
            continue
        reason = waits_because(summary)
        is_quick = summary.posterior.state == "quick"
        if is_quick or reason not in {"", CHANGED}:
            points.append(
                TrailPoint(
                    fingerprint=fingerprint,
                    question=one.question,
                    fit=stored.id,
                    state="quick" if is_quick else "withheld",
                    pulls=len(known[-1].known),
                    last_pull=last,
                    summary=summary if is_quick else None,
                    reason="" if is_quick else reason,
                )
            )
    store.add_trail(points)
