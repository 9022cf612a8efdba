"""What ``kedgewise ask`` and ``kedgewise modes`` show, or with what error they end."""

from collections.abc import Sequence
from typing import Final

from app.answer_json import (
    Json,
    answer_json,
    details_json,
    kept_json,
    past_json,
    standing_json,
)
from app.answer_text import answer_view, standing_view
from app.modes_json import modes_json
from app.modes_text import modes_view
from app.past_text import kept_view, past_view
from app.terminal import show, show_json, tell, with_store
from model.base.errors import EXIT_OTHER, KedgewiseError
from model.questions.answer import Answer
from model.records.answer import AnswerSummary, NotYet
from model.records.question import Question
from model.service.answers import Failed, StandingAnswer, ask, history_of, standing
from model.service.modes import Modes
from model.service.past_answers import kept_answers, past_answers
from model.service.stores import state_of
from model.store.store import Store

LIST: Final = "list"
"""What ``--at`` takes in the place of a posterior, to show which there are."""


def show_standing(
    opened: Store, *, as_json: bool, has_details: bool, store_option: str = ""
) -> None:
    """Every standing question with its finding; ends the command where none has an answer.

    Parameters
    ----------
    store_option : str
        What a next command must say to mean this store.
    """
    # Kept answers need no pulls: damaged ones would go unsaid, in one form or in both.
    opened.pulls()
    found = standing(opened)
    missing = [one.outcome for one in found if not isinstance(one.outcome, AnswerSummary)]
    if missing and len(missing) == len(found):
        raise no_answer(missing[0], store_option)
    if as_json:
        show_json(standing_json(found, _details(opened, found) if has_details else {}))
        return
    if not found:
        show("The campaign has no standing questions yet: write some into its file.")
        return
    show(standing_view(found, opened.campaign()))
    summaries = [one.outcome for one in found if isinstance(one.outcome, AnswerSummary)]
    tell_what_is_behind(opened, store_option, is_quick=_has_quick(summaries))


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
            raise no_answer(outcome, store_option)
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
    is_quick = _has_quick([answer.summary for answer in answers])
    tell_what_is_behind(opened, store_option, is_quick=is_quick)


def show_past(opened: Store, name: str, posterior: str, *, as_json: bool) -> None:
    """A question's answer as it stood under one posterior; of the word ``list``, all that is kept.

    Parameters
    ----------
    posterior : str
        Its identity, or how that begins.
    """
    if posterior == LIST:
        kept = kept_answers(opened, name)
        show_json({"kept": [kept_json(one) for one in kept]}) if as_json else show(kept_view(kept))
        return
    found = past_answers(opened, name, posterior)
    if as_json:
        show_json(past_json(found[-1]))
        return
    for number, past in enumerate(found):
        if number:
            show("")
        show(past_view(past))


def _has_quick(summaries: Sequence[AnswerSummary]) -> bool:
    return any(summary.posterior.state == "quick" for summary in summaries)


def show_modes(
    opened: Store, found: Modes | NotYet, *, as_json: bool, store_option: str = ""
) -> None:
    """How set-ups set and each bite did; ends the command where that is not known yet."""
    if isinstance(found, NotYet):
        raise no_answer(found, store_option)
    if as_json:
        show_json(modes_json(found))
        return
    show(modes_view(found))
    tell_what_is_behind(opened, store_option)


def no_answer(outcome: NotYet | Failed, store_option: str) -> KedgewiseError:
    """The error with which a command ends where what was asked alone has no answer."""
    error = KedgewiseError(outcome.reason, hint=with_store(outcome.hint, store_option))
    error.exit_code = outcome.exit_code if isinstance(outcome, Failed) else EXIT_OTHER
    return error


def tell_what_is_behind(opened: Store, store_option: str, *, is_quick: bool = False) -> None:
    """Pulls that came after the fit, and a newer fit that failed, are said beside the answer."""
    state = state_of(opened)
    to_do = "the worker is at it." if state.has_worker else "run `kedgewise fit`."
    if state.used_pulls != state.pulls_behind_answers:
        known = f"{state.pulls_behind_answers} of {state.used_pulls} pulls"
        words = (
            f"Quick answers know all pulls, the fit behind them {known}: "
            if is_quick
            else f"These answers rest on {known}: "
        )
        tell(words + with_store(to_do, store_option))
    if state.has_changed:
        changed = "The campaign, or a pull, has changed since the fit that these answers rest on: "
        tell(changed + with_store(to_do, store_option))
    if state.failed_reasons:
        tell(f"The newest fit failed: {'; '.join(state.failed_reasons)}")
