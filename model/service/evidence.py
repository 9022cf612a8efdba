"""What questions are answered from: a fit's draws, or those weighted by pulls that came after."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import TYPE_CHECKING, Final

from model.base.errors import DrawsGone
from model.posterior.posterior import Posterior
from model.records.answer import AnswerSummary, Flag
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question
from model.store.entries import StoredAnswer, StoredPosterior
from model.store.revisions import Facts
from model.store.store import Store

if TYPE_CHECKING:
    from model.questions.additions import Additions

WAITS: Final = "waits_for_the_fit"
"""Code of the flag of an answer that does not know all that is stored."""

WAITING: Final = "Not all that is stored is in this, before the next full fit: "

CHANGED: Final = "a pull, or something in the campaign, that the fit rests on was changed"


@dataclass(frozen=True, kw_only=True)
class Basis:
    """Draws, the pulls behind them, and why something that is stored is not among these.

    Parameters
    ----------
    pulls : tuple of Pull
        Those that the draws know, as they knew them, and the void ones beside them.
    waiting : str
        Why what came after waits for the full fit; empty where nothing does.
    """

    posterior: Posterior
    pulls: tuple[Pull, ...]
    waiting: str = ""


class Evidence:
    """Everything that questions are answered from at one moment, each part read once.

    Parameters
    ----------
    stored : StoredPosterior
        The full fit; its draws are read when they are needed, and no others, whatever fit ends
        meanwhile: what came since this one would be counted twice in the draws of the next.
    now : Facts
        What is to be known.
    """

    def __init__(self, store: Store, stored: StoredPosterior, now: Facts) -> None:
        self._store, self.stored = store, stored
        self.now, self._then = now, store.facts_behind(stored.id)
        self.stored_since: Callable[[str], frozenset[str]] = cache(store.stored_since)

    @cached_property
    def kept(self) -> tuple[StoredAnswer, ...]:
        """Answers that were kept of the fit."""
        return self._store.stored_answers(posterior_id=self.stored.id)

    def ever_kept(self, is_asked: Callable[[Question], bool]) -> tuple[StoredAnswer, ...]:
        """Answers kept of this fit and of others, to questions that are asked for."""
        return self._store.stored_answers(is_asked)

    @cached_property
    def more(self) -> "Additions | None":
        """What came after the fit; None where something that it rests on was changed."""
        from model.questions.additions import additions  # brings the array library

        then, now = self._then, self.now
        return additions(then.campaign, then.pulls, now.campaign, now.pulls)

    def is_from_fit(self, question: Question) -> bool:
        """Whether a question is answered from the fit alone, and that is all there is to know.

        So it is where nothing came after it, or only names that the question has not.
        """
        if self.now.mark == self._then.mark:
            return True
        is_unknown = bool(unknown_to(self._then.campaign, question))
        return self.more is not None and not self.more.pulls and not is_unknown

    @property
    def newest(self) -> Basis:
        """The draws that know most: the fit's where nothing came after it, else weighed ones."""
        return self.full if self.now.mark == self._then.mark else self.extended

    def basis_of(self, question: Question) -> Basis:
        """What one question is answered from."""
        return self.full if self.is_from_fit(question) else self.extended

    @cached_property
    def full(self) -> Basis:
        """The fit as it is.

        Raises
        ------
        DrawsGone
            If fits that ended meanwhile took the place of its draws.
        StoreError, PosteriorInvalid
            If its draws are damaged.
        """
        posterior = self._store.posterior(self.stored.id)
        return Basis(posterior=posterior, pulls=fitted_pulls(posterior, self._then))

    @cached_property
    def extended(self) -> Basis:
        """The fit with all that came after it weighed in; as it is, and why, where that fails."""
        from model.questions.quick import Withheld, weigh_in

        if self.more is None:
            return replace(self.full, waiting=CHANGED)
        found = weigh_in(self.full.posterior, self.more)
        if isinstance(found, Withheld):
            return replace(self.full, waiting=found.reason)
        return Basis(posterior=found, pulls=self.now.pulls)


def anew_where_gone[Found](look: Callable[[], Found]) -> Found:
    """What a look finds; what a second one does, where the draws of the first went meanwhile.

    Draws of the newest two fits are kept, so that two must have ended during one look.

    Raises
    ------
    DrawsGone
        If those of the second are gone, too.
    """
    try:
        return look()
    except DrawsGone:
        return look()


def waiting(summary: AnswerSummary, reason: str) -> AnswerSummary:
    """An answer that says what it does not know, and why; itself without a reason."""
    if not reason:
        return summary
    flag = Flag(code=WAITS, text=f"{WAITING}{reason}.")
    return summary.model_copy(update={"flags": (*summary.flags, flag)})


def waits_because(summary: AnswerSummary) -> str:
    """Why an answer does not know all that is stored; empty where it does."""
    texts = (flag.text for flag in summary.flags if flag.code == WAITS)
    return next(texts, "").removeprefix(WAITING).removesuffix(".")


def fitted_pulls(posterior: Posterior, then: Facts) -> tuple[Pull, ...]:
    """Pulls that a fit rests on as they were then, and the void ones beside them.

    Not as they are now: what was corrected or taken out since is not what the
    draws know, and may name what their campaign has not.
    """
    used = set(posterior.provenance.pull_ids)
    return tuple(pull for pull in then.pulls if pull.is_void or pull.id in used)


def unknown_to(campaign: Campaign, question: Question) -> list[str]:
    """What a question names and a campaign does not have, in words."""
    anchors = {anchor.code for anchor in campaign.anchors} | {None}
    seabeds = {seabed.name for seabed in campaign.seabeds}
    levels = {treatment.name: treatment.levels for treatment in campaign.treatments}
    unknown = [f"the seabed {name}" for name in question.seabeds if name not in seabeds]
    for setup in (question.a, question.b):
        unknown += [f"the anchor {setup.anchor}"] if setup.anchor not in anchors else []
        unknown += [
            f"the level {name}={level}"
            for name, level in setup.levels.items()
            if level not in levels.get(name, ())
        ]
    return list(dict.fromkeys(unknown))
