"""The trails of standing questions: answers pull by pull, each kept once."""

from collections.abc import Sequence

from sqlalchemy import func, select
from sqlalchemy.dialects.sqlite import insert

from model.store.entries import TrailPoint, trail_point_from
from model.store.opened import Opened
from model.store.tables import TrailRow


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

    def trail(self, fingerprints: Sequence[str]) -> tuple[TrailPoint, ...]:
        """Every point kept of some facts, in the order in which they were worked out."""
        wanted = set(fingerprints)
        with self._database.reading() as session:
            rows = session.scalars(select(TrailRow).order_by(TrailRow.number))
            return tuple(trail_point_from(row) for row in rows if row.fingerprint in wanted)

    def trail_count(self) -> int:
        """How many points are kept: changes whenever one more is."""
        with self._database.reading() as session:
            return session.scalar(select(func.count()).select_from(TrailRow)) or 0
