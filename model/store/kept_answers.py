"""Answers, kept for ever as they stood."""

from collections.abc import Callable, Sequence

from sqlalchemy import func, select

from model.records.answer import AnswerSummary
from model.records.question import Question
from model.store.entries import StoredAnswer, stored_answer_from
from model.store.opened import Opened
from model.store.queries import questions_like
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

    def stored_answers(
        self,
        is_asked: Callable[[Question], bool] | None = None,
        *,
        posterior_id: str | None = None,
    ) -> tuple[StoredAnswer, ...]:
        """Answers ever kept, oldest first; of thousands only those that are asked for are read.

        Parameters
        ----------
        is_asked : callable or None
            Tells questions whose answers are asked for; None for all.
        posterior_id : str or None
            Only answers of this posterior; None for those of any.
        """
        chosen = select(AnswerRow).order_by(AnswerRow.number)
        if posterior_id is not None:
            chosen = chosen.where(AnswerRow.posterior_id == posterior_id)
        with self._database.reading() as session:
            if is_asked is not None:
                asked = questions_like(session, AnswerRow.question, is_asked)
                chosen = chosen.where(AnswerRow.question.in_(asked))
            return tuple(stored_answer_from(row) for row in session.scalars(chosen))

    def answer_count(self) -> int:
        """How many answers are kept: changes whenever one more is."""
        with self._database.reading() as session:
            return session.scalar(select(func.count()).select_from(AnswerRow)) or 0
