"""Answers, kept for ever as they stood."""

from collections.abc import Sequence

from sqlalchemy import select

from model.records.answer import AnswerSummary
from model.records.question import Question
from model.store.entries import StoredAnswer, stored_answer_from
from model.store.opened import Opened
from model.store.tables import AnswerRow


class KeptAnswers(Opened):
    """Every answer that a store ever gave."""

    def add_answers(
        self, answers: Sequence[tuple[Question, AnswerSummary]], *, posterior_id: str
    ) -> None:
        """Keep answers for ever, as they stand now; they belong to a stored posterior.

        What another program kept of the same posterior meanwhile is left as it is.
        """
        of_it = select(AnswerRow.question).where(AnswerRow.posterior_id == posterior_id)
        with self._database.writing() as session:
            there = set(session.scalars(of_it))
            session.add_all(
                AnswerRow(
                    question_name=question.name,
                    question=question.model_dump_json(),
                    summary=summary.model_dump_json(),
                    posterior_id=posterior_id,
                    answered_at=self._clock(),
                )
                for question, summary in answers
                if question.model_dump_json() not in there
            )

    def stored_answers(self) -> tuple[StoredAnswer, ...]:
        """Every answer ever kept, oldest first."""
        chosen = select(AnswerRow).order_by(AnswerRow.number)
        with self._database.reading() as session:
            return tuple(stored_answer_from(row) for row in session.scalars(chosen))
