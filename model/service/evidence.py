"""What questions are answered from: a fit's draws, or those weighted by pulls that came after."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import TYPE_CHECKING, Final

from model.posterior.posterior import Posterior
from model.records.answer import Flag
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question
from model.store.entries import StoredAnswer
from model.store.revisions import Facts
from model.store.store import Store

if TYPE_CHECKING:
    from model.questions.additions import Additions

WAITS: Final = "waits_for_the_fit"
"""Code of the flag of an answer that does not know all that is stored."""

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

    @property
    def flag(self) -> Flag | None:
        """What an answer must say of what it does not know."""
        if not self.waiting:
            return None
        return Flag(
            code=WAITS, text=f"Not all that is stored is in this, until the full fit: {self.waiting}."
        )


class Evidence:
    """Everything that questions are answered from at one moment, read once.

    Parameters
    ----------
    posterior : Posterior
        The newest full fit's.
    kept : sequence of StoredAnswer
        Answers that were kept.
    """

    def __init__(self, store: Store, posterior: Posterior, kept: Sequence[StoredAnswer]) -> None:
        self._full, self._now = posterior, store.facts()
        self._then = store.facts_behind(posterior.provenance.id)
        self.kept = kept
        self.stored_since: Callable[[str], frozenset[str]] = cache(store.stored_since)

    @cached_property
    def more(self) -> "Additions | None":
        """What came after the fit; None where something that it rests on was changed."""
        from model.questions.additions import additions  # brings the array library

        known = [pull for pull in self._then.pulls if pull.id in set(self._full.pull_ids)]
        return additions(self._full.campaign, known, self._now.campaign, self._now.pulls)

    @cached_property
    def full(self) -> Basis:
        """The fit as it is."""
        return Basis(posterior=self._full, pulls=fitted_pulls(self._full, self._then))

    @cached_property
    def extended(self) -> Basis:
        """The fit with all that came after it weighed in; as it is, and why, where that fails."""
        from model.questions.quick import Withheld, weigh_in

        if self.more is None:
            return self._waiting(CHANGED)
        found = weigh_in(self._full, self.more)
        if isinstance(found, Withheld):
            return self._waiting(found.reason)
        return Basis(posterior=found, pulls=self._now.pulls)

    def _waiting(self, reason: str) -> Basis:
        return Basis(posterior=self.full.posterior, pulls=self.full.pulls, waiting=reason)

    def basis_of(self, question: Question) -> Basis:
        """What one question is answered from.

        The fit alone where nothing came after it, or only names that the question has not.
        """
        if self._now.mark == self._then.mark:
            return self.full
        is_unknown = bool(unknown_to(self._full.campaign, question))
        if self.more is not None and not self.more.pulls and not is_unknown:
            return self.full
        return self.extended


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
