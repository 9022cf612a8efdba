"""Answers as the objects that ``--json`` prints."""

import dataclasses
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

from model.questions.answer import Answer
from model.records.answer import AnswerSummary, NotYet
from model.records.base import Record
from model.service.answers import Failed, StandingAnswer
from model.store.entries import StoredPosterior

Json = dict[str, object]

_PRINTED_ELSEWHERE: Final = frozenset({"question", "summary", "effect_draws"})


def answer_json(answer: Answer, *, has_details: bool = False) -> Json:
    """The answer's summary; on wish with ``details``: both sides, split, measures, multiples."""
    found: Json = answer.summary.model_dump(mode="json")
    return {**found, "details": details_json(answer)} if has_details else found


def details_json(answer: Answer) -> Json:
    """Everything an answer holds beside its summary and its draws."""
    return {
        field.name: plain(getattr(answer, field.name))
        for field in dataclasses.fields(answer)
        if field.name not in _PRINTED_ELSEWHERE
    }


def standing_json(
    answers: Sequence[StandingAnswer], details: Mapping[str, Json] = MappingProxyType({})
) -> Json:
    """``answers``; where a question has none, ``not_yet`` or ``failed`` beside them says why."""
    outcomes = [standing.outcome for standing in answers]
    found = [
        outcome.model_dump(mode="json")
        | ({"details": details[outcome.question.name]} if outcome.question.name in details else {})
        for outcome in outcomes
        if isinstance(outcome, AnswerSummary)
    ]
    missing = {
        "not_yet": [plain(outcome) for outcome in outcomes if isinstance(outcome, NotYet)],
        "failed": [plain(outcome) for outcome in outcomes if isinstance(outcome, Failed)],
    }
    return {"answers": found, **{name: those for name, those in missing.items() if those}}


def posterior_json(stored: StoredPosterior) -> Json:
    """Which posterior a command ended with; only one that passed its check is ever stored."""
    return {"id": stored.id, "state": "full", "pulls": stored.pulls, "fit_check": "passed"}


def plain(value: object) -> object:
    """Records, dataclasses and sequences as plain data."""
    if isinstance(value, Record):
        return value.model_dump(mode="json")
    if dataclasses.is_dataclass(value):
        return {
            field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)
        }
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    return value if value is None or isinstance(value, str | bool | int | float) else str(value)
