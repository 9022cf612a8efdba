"""What a store hands out besides records, and how it is read from its rows."""

import datetime as dt
import json
from dataclasses import dataclass
from typing import Final, Literal

from pydantic import ValidationError

from model.base.errors import StoreDamaged, StoreError
from model.records.answer import AnswerSummary, PosteriorSummary
from model.records.base import Record
from model.records.question import Question
from model.store.tables import CHANGED_BY_HAND, AnswerRow, AttemptRow, PosteriorRow, TrailRow

OF_TRAIL: Final = "trail "
"""What the fingerprint of an attempt at a day of a trail begins with."""
AttemptState = Literal["started", "passed", "failed"]
TrailState = Literal["full", "quick", "withheld", "refused"]
"""How a point of a trail was answered: by a fit of its pulls, by weighing some into a fit of those
before, or not: too few draws fit those, or the fit failed its check."""


@dataclass(frozen=True, kw_only=True)
class Attempt:
    """The newest attempt at a fit of one fingerprint; ``started`` with nobody at it was killed."""

    fingerprint: str
    state: AttemptState
    reasons: tuple[str, ...]
    tries: int
    at: dt.datetime


@dataclass(frozen=True, kw_only=True)
class StoredPosterior:
    """What is known of a posterior without reading its draws; `pulls` are the used ones."""

    id: str
    pulls_fingerprint: str
    pulls: int
    stored_at: dt.datetime

    @property
    def summary(self) -> PosteriorSummary:
        """Which posterior this is, as answers name it; only one that passed is ever stored."""
        return PosteriorSummary(id=self.id, state="full", pulls=self.pulls, fit_check="passed")


@dataclass(frozen=True, kw_only=True)
class StoredAnswer:
    """An answer as it stood, with the question as it was then asked."""

    question: Question
    summary: AnswerSummary
    answered_at: dt.datetime


@dataclass(frozen=True, kw_only=True)
class TrailPoint:
    """One question's answer once so many pulls were known.

    Parameters
    ----------
    fingerprint : str
        Stands for the facts of those pulls.
    fit : str
        Identity of the posterior whose draws told it, or were to.
    pulls : int
        Used pulls that were known.
    last_pull : str
        ``outing/code`` of the last one.
    summary : AnswerSummary or None
        None where there is no answer; `reason` then says why.
    """

    fingerprint: str
    question: Question
    fit: str
    state: TrailState
    pulls: int
    last_pull: str
    summary: AnswerSummary | None
    reason: str = ""
    answered_at: dt.datetime | None = None


def parse[R: Record](kind: type[R], record: str) -> R:
    """A stored record; one that no longer validates was tampered with or is of another version."""
    try:
        return kind.model_validate_json(record)
    except ValidationError as error:
        raise StoreDamaged(
            f"a stored {kind.__name__.lower()} cannot be read: {error.errors()[0]['msg']}",
            hint=CHANGED_BY_HAND,
        ) from error


def attempt_from(row: AttemptRow) -> Attempt:
    """An attempt from its row."""
    state: AttemptState = "started"
    if row.state in ("passed", "failed"):
        state = "passed" if row.state == "passed" else "failed"
    return Attempt(
        fingerprint=row.fingerprint,
        state=state,
        reasons=_reasons(row.reasons),
        tries=row.tries,
        at=row.at,
    )


def _reasons(text: str) -> tuple[str, ...]:
    try:
        reasons = json.loads(text)
    except ValueError:
        reasons = None
    if not isinstance(reasons, list) or not all(isinstance(each, str) for each in reasons):
        raise StoreError(f"the reasons of a fit cannot be read: {text!r}", hint=CHANGED_BY_HAND)
    return tuple(reasons)


def stored_posterior_from(row: PosteriorRow) -> StoredPosterior:
    """What is known of a posterior from its row."""
    return StoredPosterior(
        id=row.id,
        pulls_fingerprint=row.pulls_fingerprint,
        pulls=row.pull_count,
        stored_at=row.stored_at,
    )


_TRAIL_STATES: Final[dict[str, TrailState]] = {
    "full": "full",
    "quick": "quick",
    "withheld": "withheld",
    "refused": "refused",
}


def trail_point_from(row: TrailRow) -> TrailPoint:
    """A point of a trail from its row."""
    state = _TRAIL_STATES.get(row.state)
    if state is None:
        raise StoreError(f"a stored answer is called {row.state!r}", hint=CHANGED_BY_HAND)
    return TrailPoint(
        fingerprint=row.fingerprint,
        question=parse(Question, row.question),
        fit=row.fit,
        state=state,
        pulls=row.pull_count,
        last_pull=row.last_pull,
        summary=None if row.summary is None else parse(AnswerSummary, row.summary),
        reason=row.reason,
        answered_at=row.answered_at,
    )


def stored_answer_from(row: AnswerRow) -> StoredAnswer:
    """An answer from its row."""
    return StoredAnswer(
        question=parse(Question, row.question),
        summary=parse(AnswerSummary, row.summary),
        answered_at=row.answered_at,
    )
