"""Answers as they once stood: kept with their posterior, and the facts that were known then."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from model.base.errors import InputError, UnknownName
from model.ingest.known_names import find_name
from model.store.entries import StoredAnswer
from model.store.revisions import Facts
from model.store.store import Store

HOW_TO_LIST: Final = "`kedgewise ask NAME --at list` shows what is kept."


@dataclass(frozen=True, kw_only=True)
class PastAnswer:
    """A kept answer, word for word.

    Parameters
    ----------
    then : Facts
        Campaign and pulls as they stood when its posterior was fitted.
    changed_since : tuple of str
        Of those pulls, by identity, the ones that were corrected or taken out since.
    """

    kept: StoredAnswer
    then: Facts
    changed_since: tuple[str, ...]


def kept_answers(store: Store, name: str) -> tuple[StoredAnswer, ...]:
    """Every answer kept of a question by its name, oldest first.

    Raises
    ------
    UnknownName
        If none is kept under such a name.
    """
    kept = store.stored_answers()
    names = list(dict.fromkeys(one.question.name for one in kept))
    found = find_name(name.strip(), names)
    if found is None:
        raise UnknownName(
            f"no answer is kept of a question {name!r}",
            hint=f"Kept are those of: {', '.join(names)}." if names else "There was no fit yet.",
        )
    return tuple(one for one in kept if one.question.name == found)


def past_answers(store: Store, name: str, posterior: str) -> tuple[PastAnswer, ...]:
    """What a question's answer was under one posterior; more than one where it was asked anew.

    Parameters
    ----------
    posterior : str
        Identity of a posterior, or how that begins, as answers print it.

    Raises
    ------
    UnknownName
        If no answer is kept under such a name.
    InputError
        If there is none of such a posterior, or of several.
    """
    kept = kept_answers(store, name)
    wanted = posterior.strip().lower()
    chosen = [one for one in kept if wanted and one.summary.posterior.id.startswith(wanted)]
    ids = {one.summary.posterior.id for one in chosen}
    if len(ids) != 1:
        many = "more than one posterior begins" if ids else "no answer to it rests on a posterior"
        raise InputError(f"{many} with {posterior!r}", hint=_choices(kept))
    then = store.facts_behind(ids.pop())
    now = {pull.id: pull for pull in store.pulls()}
    changed = tuple(pull.id for pull in then.pulls if now.get(pull.id) != pull)
    return tuple(PastAnswer(kept=one, then=then, changed_since=changed) for one in chosen)


def _choices(kept: Sequence[StoredAnswer]) -> str:
    ids = dict.fromkeys(one.summary.posterior.id for one in kept)
    return f"Kept: {', '.join(ids)}. {HOW_TO_LIST}"
