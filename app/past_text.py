"""Answers as they once stood, as text for a terminal: when, on what, and word for word."""

import datetime as dt
from collections.abc import Sequence
from typing import Final

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from app.answer_text import INVENTED, Row, evidence_rows, grid, question_rows, text_of
from app.cautions import SHORT
from app.style.numbers import counted, effect, effect_size, percent
from app.style.text import short_id
from app.style.words import FINDING_SYMBOLS, FINDING_WORDS
from model.service.past_answers import PastAnswer
from model.store.entries import StoredAnswer

MOST_NAMED: Final = 8
"""Pulls that are named of those that changed since; of more, all are counted."""


def past_view(past: PastAnswer) -> RenderableType:
    """One kept answer: its sentence, when it was given, and the figures that are kept of it."""
    summary = past.kept.summary
    rows: list[Row] = [
        ("Answered", _when(past.kept.answered_at)),
        *question_rows(summary, past.kept.question),
        ("A against B", effect(summary.effect)),
        *evidence_rows(summary),
        ("Since then", _since(past)),
        ("Caution", SHORT),
    ]
    if past.then.campaign.is_invented:
        rows.append(("Data", INVENTED))
    return Group(text_of(summary.sentence, "bold"), Text(), grid(rows))


def _since(past: PastAnswer) -> str:
    changed = past.changed_since
    if not changed:
        return "none of the pulls known then was corrected or taken out"
    named = ", ".join(changed[:MOST_NAMED]) + (" …" if len(changed) > MOST_NAMED else "")
    known = counted(len(past.then.pulls), "pull")
    return f"{len(changed)} of the {known} known then corrected or taken out: {named}"


def _when(time: dt.datetime) -> str:
    return f"{time:%Y-%m-%d %H:%M} UTC"


def kept_view(kept: Sequence[StoredAnswer]) -> RenderableType:
    """What is kept of one question, oldest first: one line a posterior."""
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1))
    for heading in ("Posterior", "Answered", "Pulls", "Finding", "A higher", "A against B"):
        table.add_column(heading, overflow="fold")
    for one in kept:
        found = one.summary
        table.add_row(
            short_id(found.posterior.id),
            _when(one.answered_at),
            str(found.posterior.pulls),
            f"{FINDING_SYMBOLS[found.finding]} {FINDING_WORDS[found.finding]}",
            percent(found.p_higher),
            effect_size(found.effect),
        )
    return table
