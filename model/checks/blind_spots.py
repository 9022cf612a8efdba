"""What the pulls cannot say of the standing questions, from the answers' own flags."""

from collections.abc import Sequence
from typing import Final

from model.questions.answer import Answer
from model.records.base import Record

BLIND: Final = {
    "never_pulled": "never pulled",
    "between_days_only": "compared between days only",
    "beyond_the_boat": "beyond the boat's most",
    "terms_at_prior": "still at its prior",
    "nothing_read": "never read",
    "modes_assumed": "setting modes assumed",
    "rests_on_other_pulls": "rests on other pulls",
    "few_pulls": "few pulls",
}
"""Flags that say what cannot be known from these pulls, with a short name of each."""


class BlindSpot(Record):
    """One thing that the pulls cannot say of one question."""

    question: str
    kind: str
    text: str


def find_blind_spots(answers: Sequence[Answer]) -> tuple[BlindSpot, ...]:
    """Collect what the answers' flags say the pulls cannot tell, by question."""
    return tuple(
        BlindSpot(question=answer.question.name, kind=BLIND[flag.code], text=flag.text)
        for answer in answers
        for flag in answer.summary.flags
        if flag.code in BLIND
    )
