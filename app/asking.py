"""What ``kedgewise ask`` shows: one answer, or how all the standing questions stand."""

from collections.abc import Sequence

from app.answer_json import Json, answer_json, details_json, standing_json
from app.answer_text import answer_view, standing_view
from app.terminal import show, show_json, tell, with_store
from model.base.errors import EXIT_OTHER, KedgewiseError
from model.questions.answer import Answer
from model.records.answer import AnswerSummary, NotYet
from model.records.question import Question
from model.service.answers import Failed, StandingAnswer, ask, history_of, standing
from model.service.stores import state_of
from model.store.store import Store


def show_standing(
    opened: Store, *, as_json: bool, has_details: bool, store_option: str = ""
) -> None:
    """Every standing question with its finding; ends the command where none has an answer.

    Parameters
    ----------
    store_option : str
        What a next command must say to mean this store.
    """
    found = standing(opened)
    missing = [one.outcome for one in found if not isinstance(one.outcome, AnswerSummary)]
    if missing and len(missing) == len(found):
        raise _no_answer(missing[0], store_option)
    if as_json:
        show_json(standing_json(found, _details(opened, found) if has_details else {}))
        return
    if not found:
        show("The campaign has no standing questions yet: write some into its file.")
        return
    show(standing_view(found, opened.campaign()))
    _tell_what_is_behind(opened, store_option)


def _details(opened: Store, found: Sequence[StandingAnswer]) -> dict[str, Json]:
    """Everything behind each answer, by the question's name; the draws are read for it."""
    asked = [one.question for one in found if isinstance(one.outcome, AnswerSummary)]
    outcomes = {question.name: ask(opened, question) for question in asked}
    return {
        name: details_json(answer)
        for name, answer in outcomes.items()
        if isinstance(answer, Answer)
    }


def show_answers(
    opened: Store,
    asked: Sequence[Question],
    *,
    as_json: bool,
    has_details: bool,
    store_option: str = "",
) -> None:
    """Each of the questions in full; ends the command at the first that has no answer."""
    answers = []
    for question in asked:
        outcome = ask(opened, question)
        if not isinstance(outcome, Answer):
            raise _no_answer(outcome, store_option)
        answers.append(outcome)
    if as_json:
        plain = [answer_json(answer, has_details=has_details) for answer in answers]
        show_json(plain[0] if len(plain) == 1 else {"answers": plain})
        return
    for number, answer in enumerate(answers):
        if number:
            show("")
        history = history_of(opened, answer.question)
        show(answer_view(answer, opened.campaign(), history, has_details=has_details))
    _tell_what_is_behind(opened, store_option)


def _no_answer(outcome: NotYet | Failed, store_option: str) -> KedgewiseError:
    """A question that stands alone and has no answer ends the command."""
    error = KedgewiseError(outcome.reason, hint=with_store(outcome.hint, store_option))
    error.exit_code = outcome.exit_code if isinstance(outcome, Failed) else EXIT_OTHER
    return error


def _tell_what_is_behind(opened: Store, store_option: str) -> None:
    """Pulls that came after the fit, and a newer fit that failed, are said beside the answer."""
    state = state_of(opened)
    if state.used_pulls != state.pulls_behind_answers:
        tell(
            f"These answers rest on {state.pulls_behind_answers} of {state.used_pulls} pulls: "
            + with_store("run `kedgewise fit`.", store_option)
        )
    if state.failed_reasons:
        tell(f"The newest fit failed its check: {'; '.join(state.failed_reasons)}")
