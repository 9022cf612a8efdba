"""The trails of standing questions: answers pull by pull, each kept once."""

from collections.abc import Sequence
from itertools import batched
from typing import Final

from sqlalchemy import func, select
from sqlalchemy.dialects.sqlite import insert

from model.records.question import Question
from model.store.entries import TrailPoint, trail_point_from
from model.store.opened import Opened
from model.store.queries import questions_like
from model.store.tables import TrailRow

MOST_NAMED: Final = 500
"""Fingerprints looked for at once: SQLite takes no statement with any number of values."""


class KeptTrail(Opened):
    """How standing questions were answered as pulls came in."""

    def add_trail(self, points: Sequence[TrailPoint]) -> None:
        """Keep points for ever; one that is there already is left as it is."""
        if not points:
            return
        with self._database.writing() as session:
            session.execute(
                insert(TrailRow).on_conflict_do_nothing(),
                [
                    {
                        "fingerprint": point.fingerprint,
                        "question": point.question.model_dump_json(),
                        "fit": point.fit,
                        "state": point.state,
                        "pull_count": point.pulls,
                        "last_pull": point.last_pull,
                        "summary": point.summary and point.summary.model_dump_json(),
                        "reason": point.reason,
                        "answered_at": self._clock(),
                    }
                    for point in points
                ],
            )

    def trail(
        self, fingerprints: Sequence[str], questions: Sequence[Question]
    ) -> tuple[TrailPoint, ...]:
        """Points kept of some facts and questions, in the order in which they were worked out."""
        rows: list[TrailRow] = []
        with self._database.reading() as session:
            asked = questions_like(session, TrailRow.question, lambda one: one in questions)
            chosen = select(TrailRow).where(TrailRow.question.in_(asked))
            for some in batched(dict.fromkeys(fingerprints), MOST_NAMED):
                rows += session.scalars(chosen.where(TrailRow.fingerprint.in_(some)))
            return tuple(trail_point_from(row) for row in sorted(rows, key=lambda row: row.number))

    def trail_count(self) -> int:
        """How many points are kept: changes whenever one more is."""
        with self._database.reading() as session:
            return session.scalar(select(func.count()).select_from(TrailRow)) or 0
