"""What is known at each pull, day by day, with a fingerprint of all of it."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from model.records.campaign import Campaign
from model.records.pull import Pull
from model.store.revisions import Facts

TOLD_OF_PULLS: Final = frozenset(
    {"reason", "soak_min", "wind", "current", "sea", "video", "photo", "notes", "extras"}
)
"""What is written beside a pull and no fit uses; another note makes no other trail."""
TOLD_OF_CAMPAIGNS: Final = frozenset(
    {"name", "is_invented", "about", "load_unit", "length_unit", "let_go_m", "outings", "columns"}
    | {"minutes", "main_question", "questions"}
)
"""The same of a campaign; a day counts from its first pull on."""


@dataclass(frozen=True, kw_only=True)
class Day:
    """One outing with its used pulls, and what is known at each of them.

    Parameters
    ----------
    campaign : Campaign
        With the days up to this one.
    before : tuple of Pull
        Of the days before it, void ones left out.
    pulls : tuple of Pull
        Of this one, in the order stored.
    fingerprints : tuple of str
        Of all facts up to each of `pulls`.
    """

    campaign: Campaign
    before: tuple[Pull, ...]
    pulls: tuple[Pull, ...]
    fingerprints: tuple[str, ...]

    @property
    def known(self) -> tuple[Pull, ...]:
        """Every pull up to this day's end."""
        return (*self.before, *self.pulls)


def days(campaign: Campaign, pulls: Sequence[Pull]) -> tuple[Day, ...]:
    """The days that have a used pull, in the campaign's order."""
    digest = _digest(campaign.model_dump_json(exclude=set(TOLD_OF_CAMPAIGNS)), _model_version())
    found: list[Day] = []
    before: tuple[Pull, ...] = ()
    for place, outing in enumerate(campaign.outings):
        own = tuple(pull for pull in pulls if pull.outing == outing.name and not pull.is_void)
        if not own:
            continue
        fingerprints = []
        digest = _digest(digest, outing.model_dump_json())
        for pull in own:
            digest = _digest(digest, pull.model_dump_json(exclude=set(TOLD_OF_PULLS)))
            fingerprints.append(digest)
        named = {pull.outing for pull in before} | {outing.name}
        known = tuple(one for one in campaign.outings[: place + 1] if one.name in named)
        found.append(
            Day(
                campaign=campaign.model_copy(update={"outings": known}),
                before=before,
                pulls=own,
                fingerprints=tuple(fingerprints),
            )
        )
        before = (*before, *own)
    return tuple(found)


def _digest(*parts: str) -> str:
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:32]


def _model_version() -> str:
    from model.inference.settings import MODEL_VERSION

    return MODEL_VERSION


def fingerprint_of(facts: Facts) -> str:
    """Of everything that is known; empty where there is no used pull."""
    found = days(facts.campaign, facts.pulls)
    return found[-1].fingerprints[-1] if found else ""
