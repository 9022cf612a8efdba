"""Answers as the objects that ``--json`` prints."""

import dataclasses
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

from model.base.constants import BEYOND
from model.questions.answer import Answer
from model.records.answer import AnswerSummary, NotYet
from model.records.base import Record
from model.service.answers import Failed, StandingAnswer
from model.service.imports import Imported
from model.service.moved import Moved
from model.service.packages import Taken
from model.service.past_answers import PastAnswer
from model.store.entries import StoredAnswer

Json = dict[str, object]

_PRINTED_ELSEWHERE: Final = frozenset({"question", "summary", "effect_draws"})


def answer_json(answer: Answer, *, has_details: bool = False) -> Json:
    """The answer's summary; on wish with ``details``: both sides, split, measures, multiples."""
    found = summary_json(answer.summary)
    return {**found, "details": details_json(answer)} if has_details else found


def summary_json(summary: AnswerSummary) -> Json:
    """An answer's summary; null where a pull never set, so that there is no ratio to give."""
    found: Json = summary.model_dump(mode="json")
    effect, interval = summary.effect, summary.effect.interval
    if effect.kind == "ratio":
        ends = {"lower": _ratio(interval.lower), "upper": _ratio(interval.upper)}
        found["effect"] = {
            **effect.model_dump(mode="json"),
            "median": _ratio(effect.median),
            "interval": interval.model_dump(mode="json") | ends,
        }
    return found


def _ratio(value: float) -> float | None:
    return value if 1 / BEYOND < value < BEYOND else None


def kept_json(kept: StoredAnswer) -> Json:
    """A kept answer with when it was given."""
    return {"answered_at": kept.answered_at.isoformat(), "answer": summary_json(kept.summary)}


def past_json(past: PastAnswer) -> Json:
    """The same, with the pulls known then that were corrected or taken out since."""
    return {**kept_json(past.kept), "changed_since": list(past.changed_since)}


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
        summary_json(outcome)
        | ({"details": details[outcome.question.name]} if outcome.question.name in details else {})
        for outcome in outcomes
        if isinstance(outcome, AnswerSummary)
    ]
    missing = {
        "not_yet": [plain(outcome) for outcome in outcomes if isinstance(outcome, NotYet)],
        "failed": [plain(outcome) for outcome in outcomes if isinstance(outcome, Failed)],
    }
    return {"answers": found, **{name: those for name, those in missing.items() if those}}


def moved_json(moves: Sequence[Moved]) -> list[Json]:
    """What new pulls moved: each question's chance before and after, or why it waits."""
    return [
        {
            "question": one.question.name,
            "before": None if one.before is None else _chance_json(one.before),
            "after": _chance_json(one.after) if isinstance(one.after, AnswerSummary) else None,
            "waits_because": one.waits_because or None,
        }
        for one in moves
    ]


def _chance_json(summary: AnswerSummary) -> Json:
    return {
        "p_higher": summary.p_higher,
        "finding": str(summary.finding),
        "posterior": plain(summary.posterior),
    }


def imported_json(found: Imported) -> Json:
    """What came of one file."""
    counts = {"added": found.added, "skipped": found.skipped, "taken_out_before": found.removed}
    corrected = [
        {"pull": revised.name, "changes": list(revised.changes)} for revised in found.revised
    ]
    return {"file": found.source, **counts, "corrected": corrected}


def taken_json(taken: Taken) -> Json:
    """What came of a data package."""
    counts = {"added": taken.added, "skipped": taken.skipped, "taken_out_before": taken.removed}
    head = {"file": taken.source, "store": str(taken.folder), "is_new": taken.is_new}
    changes = [str(change) for change in taken.changes]
    return {**head, **counts, "corrected_since": list(taken.corrected), "campaign": changes}


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
