"""The two sides of a question: which pulls stand behind each, which set-ups to predict."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from model.arrays.campaign_arrays import level_vector
from model.outcomes.prediction import SetUpRow
from model.records.answer import PullsSummary, SidePulls
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question, SetUp

SCOPE_TOLERANCE: Final = 0.1
"""A pull within this share of a set-up's scope counts as pulled at it."""


@dataclass(frozen=True, kw_only=True)
class SidePull:
    """The pulls of one side, void ones apart."""

    used: tuple[Pull, ...]
    void: tuple[Pull, ...]

    @property
    def summary(self) -> SidePulls:
        """Counts for an answer."""
        held = sum(pull.has_held for pull in self.used)
        return SidePulls(count=len(self.used), held=held, void=len(self.void))

    @property
    def has_only_held(self) -> bool:
        """Whether there are used pulls and every one held the boat's most."""
        return bool(self.used) and all(pull.has_held for pull in self.used)

    @property
    def outings(self) -> set[str]:
        """Outings of the used pulls."""
        return {pull.outing for pull in self.used}


def question_seabeds(campaign: Campaign, question: Question) -> tuple[str, ...]:
    """Seabeds that a question is about."""
    return question.seabeds or tuple(seabed.name for seabed in campaign.seabeds)


def side_pulls(
    campaign: Campaign, question: Question, setup: SetUp, pulls: Sequence[Pull]
) -> SidePull:
    """Pulls with a set-up's anchor and levels on the question's seabeds.

    At any scope, unless the two sides differ in theirs: then a pull counts for
    the side at whose scope it was made, or the same pulls would stand on both.
    """
    wanted = campaign.filled(setup)
    is_about_scope = differs_in_scope(campaign, question)
    seabeds = question_seabeds(campaign, question)
    found = [
        pull
        for pull in pulls
        if pull.seabed in seabeds
        and setup.anchor in {None, pull.anchor}
        and campaign.filled(SetUp(levels=pull.levels)).levels == wanted.levels
        and (not is_about_scope or is_at_scope(campaign, setup, pull))
    ]
    return SidePull(
        used=tuple(pull for pull in found if not pull.is_void),
        void=tuple(pull for pull in found if pull.is_void),
    )


def differs_in_scope(campaign: Campaign, question: Question) -> bool:
    """Whether the two sides of a question are at different scopes."""
    return campaign.filled(question.a).scope != campaign.filled(question.b).scope


def is_at_scope(campaign: Campaign, setup: SetUp, pull: Pull) -> bool:
    """Whether a pull's scope is the set-up's, near enough."""
    wanted = setup.scope or campaign.usual_scope
    return abs((pull.scope or campaign.usual_scope) / wanted - 1) <= SCOPE_TOLERANCE


def summarise_pulls(a: SidePull, b: SidePull) -> PullsSummary:
    """Counts of both sides and the days they share."""
    return PullsSummary(a=a.summary, b=b.summary, shared_outings=len(a.outings & b.outings))


def reach_kn(campaign: Campaign, pulls: Sequence[Pull]) -> tuple[float, float]:
    """Least and greatest top step on the outings of some pulls, kN.

    Of all outings where there is no pull. An outing without a ladder reaches
    what its boat can pull.
    """
    names = {pull.outing for pull in pulls} or {outing.name for outing in campaign.outings}
    tops = []
    for name in names:
        ladder = campaign.ladder_of(name)
        boat = campaign.boat(campaign.outing(name).boat)
        tops.append(boat.top_thrust_kn if ladder is None else ladder.top_kn)
    return min(tops), max(tops)


def setup_rows(
    campaign: Campaign, question: Question, setup: SetUp, *, is_additive: bool = False
) -> tuple[SetUpRow, ...]:
    """One row for each anchor and seabed that a side averages over, both sides alike.

    Additive: as if what treatments do together were the sum of what each does.
    """
    codes = [anchor.code for anchor in campaign.anchors]
    seabeds = [seabed.name for seabed in campaign.seabeds]
    if setup.anchor is not None:
        anchors = [codes.index(setup.anchor)]
    elif question.over == "next":
        anchors = [len(codes)]
    else:
        anchors = list(range(len(codes)))
    scope = setup.scope or campaign.usual_scope
    level = level_vector(campaign, setup.levels)
    if is_additive:
        single = len(level) - len(campaign.interaction_names)
        level[single:] = [0.0] * len(campaign.interaction_names)
    return tuple(
        SetUpRow(
            anchor_index=anchor,
            seabed_index=seabeds.index(seabed),
            level=tuple(level),
            inverse_scope_shift=1 / scope - 1 / campaign.usual_scope,
        )
        for anchor in anchors
        for seabed in question_seabeds(campaign, question)
    )
