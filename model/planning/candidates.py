"""What could be pulled next: every set-up that can be put together, and pairs that compare."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

from model.arrays.campaign_arrays import level_vector
from model.outcomes.prediction import SetUpRow
from model.questions.sides import question_seabeds
from model.records.campaign import Campaign
from model.records.question import Question, SetUp

MOST_COMBINATIONS: Final = 32
"""Of levels that are all put together; where there are more, at most two changes at once."""


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One pull that could be made: a set-up, everything named, on a seabed.

    Parameters
    ----------
    levels : tuple of (str, str)
        Treatment and level, the campaign's treatments in their order.
    scope : float
        Rode length over depth plus bow height.
    """

    anchor: str
    levels: tuple[tuple[str, str], ...]
    scope: float
    seabed: str

    @property
    def setup(self) -> SetUp:
        """The set-up as questions name it."""
        return SetUp(anchor=self.anchor, levels=dict(self.levels), scope=self.scope)

    @property
    def rig(self) -> tuple[object, ...]:
        """What must be changed on deck to pull another: anchor and levels, not scope."""
        return (self.anchor, self.levels)

    def row(self, campaign: Campaign) -> SetUpRow:
        """The candidate as positions in the campaign's lists."""
        codes = [anchor.code for anchor in campaign.anchors]
        seabeds = [seabed.name for seabed in campaign.seabeds]
        return SetUpRow(
            anchor_index=codes.index(self.anchor),
            seabed_index=seabeds.index(self.seabed),
            level=tuple(level_vector(campaign, dict(self.levels))),
            inverse_scope_shift=1 / self.scope - 1 / campaign.usual_scope,
        )


@dataclass(frozen=True, kw_only=True)
class RuledOut:
    """What is not aboard today, or cannot be reached."""

    anchors: frozenset[str] = frozenset()
    levels: frozenset[tuple[str, str]] = frozenset()
    scopes: frozenset[float] = frozenset()
    seabeds: frozenset[str] = frozenset()

    def allows(self, candidate: Candidate) -> bool:
        """Whether a candidate can be pulled without anything that is ruled out."""
        return not (
            candidate.anchor in self.anchors
            or candidate.seabed in self.seabeds
            or candidate.scope in self.scopes
            or set(candidate.levels) & self.levels
        )


def candidates(
    campaign: Campaign,
    questions: Sequence[Question],
    *,
    ruled_out: RuledOut | None = None,
    scopes: Iterable[float] = (),
) -> tuple[Candidate, ...]:
    """Everything that can be put together, also what was never pulled.

    Parameters
    ----------
    questions : sequence of Question
        Their scopes are among those that can be had.
    scopes : iterable of float
        More scopes, beside the campaign's usual one.
    """
    asked = [side.scope for question in questions for side in (question.a, question.b)]
    every_scope = dict.fromkeys([campaign.usual_scope, *filter(None, asked), *scopes])
    allowed = RuledOut() if ruled_out is None else ruled_out
    found = (
        Candidate(anchor=anchor.code, levels=levels, scope=scope, seabed=seabed.name)
        for seabed, anchor, levels, scope in product(
            campaign.seabeds, campaign.anchors, level_combinations(campaign), every_scope
        )
    )
    return tuple(one for one in found if allowed.allows(one))


def level_combinations(campaign: Campaign) -> tuple[tuple[tuple[str, str], ...], ...]:
    """Levels of every treatment put together in every way, the baselines first."""
    each = [[(one.name, level) for level in one.levels] for one in campaign.treatments]
    baseline = {one.name: one.baseline for one in campaign.treatments}
    found = [tuple(levels) for levels in product(*each)]

    def changes(levels: tuple[tuple[str, str], ...]) -> int:
        return sum(level != baseline[name] for name, level in levels)

    found.sort(key=changes)
    if len(found) > MOST_COMBINATIONS:
        found = [levels for levels in found if changes(levels) <= 2]
    return tuple(found)


def contrasts(
    campaign: Campaign, question: Question, among: Sequence[Candidate]
) -> tuple[tuple[int, int], ...]:
    """Pairs that differ in what the question's sides differ in, and in nothing else.

    Returns
    -------
    tuple of (int, int)
        Positions among the candidates: one as side A has it, one as side B.
    """
    a, b = campaign.filled(question.a), campaign.filled(question.b)
    place = {candidate: index for index, candidate in enumerate(among)}
    found = []
    for index, candidate in enumerate(among):
        if any(a.levels[name] != b.levels[name] and level != a.levels[name]
               for name, level in candidate.levels):  # fmt: skip
            continue
        if a.anchor not in {b.anchor, candidate.anchor}:
            continue
        if a.scope not in {b.scope, candidate.scope}:
            continue
        other = _as_b(candidate, a, b)
        if other in place and other != candidate:
            found.append((index, place[other]))
    return tuple(found)


def _as_b(candidate: Candidate, a: SetUp, b: SetUp) -> Candidate:
    """The same candidate with what the two sides differ in as side B has it."""
    levels = tuple(
        (name, b.levels[name] if a.levels[name] != b.levels[name] else level)
        for name, level in candidate.levels
    )
    anchor = candidate.anchor if a.anchor == b.anchor else b.anchor
    scope = candidate.scope if a.scope == b.scope else b.scope
    return Candidate(
        anchor=anchor or candidate.anchor,
        levels=levels,
        scope=scope or candidate.scope,
        seabed=candidate.seabed,
    )


def side_of(campaign: Campaign, question: Question, candidate: Candidate) -> str:
    """Whose own pull it would be: ``a``, ``b``, or neither."""
    if candidate.seabed not in question_seabeds(campaign, question):
        return ""
    for name, setup in (("a", question.a), ("b", question.b)):
        wanted = campaign.filled(setup)
        is_anchor = setup.anchor in {None, candidate.anchor}
        is_scope = campaign.filled(question.a).scope == campaign.filled(question.b).scope
        if is_anchor and wanted.levels == dict(candidate.levels) and (
            is_scope or wanted.scope == candidate.scope
        ):  # fmt: skip
            return name
    return ""
