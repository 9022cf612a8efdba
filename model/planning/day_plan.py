"""A day's pulls: which, in which order, in blocks, until the hours are used up."""

from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.planning.candidates import Candidate
from model.planning.costs import minutes_between
from model.planning.information import of_pairs
from model.planning.ladders import staggered
from model.planning.outcome_table import OutcomeSpace, outcome_table
from model.planning.particles import Particles
from model.planning.policies import UNIT, Informative, Moment
from model.planning.ranking import best_pairs, rank
from model.planning.reference import Reference
from model.planning.standard import Standard
from model.planning.start import Start
from model.planning.water import Luck, Truths
from model.records.campaign import Ladder, Minutes

Array = NDArray[np.float64]
Places = NDArray[np.int64]

COURSES: Final = 64
"""Ways the day may go, over which a plan is good on average."""
PLAN_DRAWS: Final = 20_000
PLAN_SEED: Final = 20_261_127
"""Of the ways the day may go: fixed, since the day's own seed is to draw the order of arms only."""
WORTH_PLAN: Final = 100.0
"""Effective draws that a pair must leave a way the day may go; else that way is planned on as if
the pair had told nothing: a choice by a handful of draws would be one by luck."""
MOST_UNITS: Final = 40
PAIRS: Final = 8
"""Best pairs that a day is put together from."""
STAGGER_GAIN: Final = 0.05
"""Least gain, as a share, for which another ladder is worth the trouble."""


@dataclass(frozen=True, kw_only=True)
class PlannedPull:
    """One pull of a plan.

    Parameters
    ----------
    begins_min, minutes : float
        From the plan's start; with the change-over before it.
    patch : int
        Number of the fresh patch of its seabed: no two pulls in one furrow.
    """

    candidate: Candidate
    begins_min: float
    minutes: float
    patch: int


@dataclass(frozen=True, kw_only=True)
class Block:
    """Pulls of one comparison on one seabed, one after another, their arms in a drawn order."""

    seabed: str
    pulls: tuple[PlannedPull, ...]


@dataclass(frozen=True, kw_only=True)
class DayPlan:
    """A day in blocks.

    Parameters
    ----------
    ladder : Ladder
        What all its pulls climb.
    stagger_gain : float
        How much more, as a share, a ladder staggered by half a step would tell.
    seed : int
        By which arms were put in their order: the same seed, the same order.
    """

    blocks: tuple[Block, ...]
    ladder: Ladder
    stagger_gain: float
    seed: int

    @property
    def pulls(self) -> tuple[PlannedPull, ...]:
        """All pulls in their order."""
        return tuple(pull for block in self.blocks for pull in block.pulls)

    @property
    def minutes(self) -> float:
        """What the day takes."""
        return sum(pull.minutes for pull in self.pulls)


def plan_day(
    start: Start,
    minutes: float,
    *,
    seed: int,
    last: Candidate | None = None,
    patches: dict[str, int] | None = None,
) -> DayPlan:
    """Plan pulls in pairs, the best an hour on average over how the day may go.

    Parameters
    ----------
    minutes : float
        Time there is.
    seed : int
        Of the order of arms inside blocks.
    last : Candidate or None
        What is on deck.
    patches : dict of str to int
        Patches used on each seabed today.

    Returns
    -------
    DayPlan
        Without blocks where not even one pair fits in.
    """
    used = dict(patches or {})
    kept, pairs = _comparing(start, last)
    course = _Course(kept, pairs)
    begun = _half_made(kept, pairs, last, n_pulled=sum(used.values()))
    day = _Day(start.campaign.minutes, seed, last, used, begun)
    chosen: list[tuple[Candidate, Candidate]] = []
    found = day.blocks(chosen)
    while len(chosen) < MOST_UNITS:
        chosen.append(course.next_pair())
        longer = day.blocks(chosen)
        if sum(pull.minutes for block in longer for pull in block.pulls) > minutes:
            break
        found = longer
    ladder = start.space.ladder
    plan = DayPlan(blocks=found, ladder=ladder, stagger_gain=0.0, seed=seed)
    if plan.minutes > minutes:  # not even the second arm of the pair that was begun fits in
        return DayPlan(blocks=(), ladder=ladder, stagger_gain=0.0, seed=seed)
    return replace(plan, stagger_gain=stagger_gain(kept, plan))


def _comparing(start: Start, last: Candidate | None) -> tuple[Start, Places]:
    """The best pairs that compare as the main question does; twins where nothing compares.

    Two pulls of one arm cost less, and leave the arms apart in the day.
    """
    main = start.only_main()
    kept, pairs = best_pairs(main, rank(main, last=last), PAIRS)
    is_contrast = pairs[:, 0] != pairs[:, 1]
    return kept.narrowed(), pairs[is_contrast] if is_contrast.any() else pairs


def _half_made(
    start: Start, pairs: Places, last: Candidate | None, *, n_pulled: int
) -> Candidate | None:
    """The other arm of a pair of which one was pulled today; None where pairs are whole."""
    if n_pulled % UNIT == 0 or last not in start.candidates:
        return None
    place = start.candidates.index(last)
    others = (first if second == place else second for first, second in pairs
              if place in {first, second})  # fmt: skip
    return next((start.candidates[int(other)] for other in others), None)


class _Course:
    """Many ways one day may go, pulled along one plan."""

    def __init__(self, start: Start, pairs: Places) -> None:
        self._start = start
        reference = Reference.of(start.draws, start.main.still)
        rng = np.random.default_rng(PLAN_SEED)
        truths = reference.reduced(reference.draw(COURSES, rng))
        luck = Luck.draw(COURSES, UNIT * MOST_UNITS, 1, rng)
        self._truths = Truths(draws=truths, luck=luck)
        standard = Standard(
            of_reference=reference.draw(PLAN_DRAWS, rng),
            of_days=np.zeros((PLAN_DRAWS, 0, 2), dtype=np.float32),
        )
        self._particles = Particles(
            reference, standard, start.main, start.rows, start.space, is_shared=True
        )
        self._weights = np.full((COURSES, PLAN_DRAWS), 1 / PLAN_DRAWS, dtype=np.float32)
        self._policy = Informative(start=start, pairs=pairs, per_hour=True, is_shared=True)
        self._last = len(start.candidates)
        self._n_pulled = 0

    def next_pair(self) -> tuple[Candidate, Candidate]:
        """The pair that tells most an hour on average, and every way the day may go pulls it."""
        moment = Moment(
            particles=self._particles,
            weights=self._weights,
            last=np.full(COURSES, self._last),
            n_pulled=self._n_pulled,
        )
        pair = self._policy.choose(moment)[0]
        members, before = np.arange(COURSES), self._weights.copy()
        for index in pair:
            rows = np.full(COURSES, self._start.rows[index])
            outcome = self._truths.pull(members, rows, self._n_pulled, 0, self._start.space)
            self._particles.weigh(self._weights, np.full(COURSES, index), outcome)
            self._n_pulled += 1
        with np.errstate(invalid="ignore"):  # no draw at all goes with what was seen
            worth = 1 / np.einsum("cd,cd->c", self._weights, self._weights)
        is_thin = ~(worth >= WORTH_PLAN)
        self._weights[is_thin] = before[is_thin]
        self._last = int(pair[1])
        first, second = (self._start.candidates[index] for index in pair)
        return first, second


@dataclass(frozen=True)
class _Day:
    """What a day's pairs are put in order by.

    Parameters
    ----------
    last : Candidate or None
        What is on deck.
    used : dict of str to int
        Patches used on each seabed today.
    begun : Candidate or None
        The other arm of a pair that was begun: it is pulled first.
    """

    minutes: Minutes
    seed: int
    last: Candidate | None
    used: dict[str, int]
    begun: Candidate | None

    def blocks(self, pairs: list[tuple[Candidate, Candidate]]) -> tuple[Block, ...]:
        """Equal pairs side by side, seabed by seabed, arms in an order drawn by the seed."""
        clock = _Clock(self.minutes, self.last, dict(self.used))
        found = [] if self.begun is None else [clock.block([self.begun])]
        seabeds = list(dict.fromkeys(pair[0].seabed for pair in pairs))
        on_deck = self.begun or self.last
        if on_deck is not None and on_deck.seabed in seabeds:
            seabeds.insert(0, seabeds.pop(seabeds.index(on_deck.seabed)))
        kinds = list(dict.fromkeys(pairs))
        order = sorted(pairs, key=lambda pair: (seabeds.index(pair[0].seabed), kinds.index(pair)))
        n_before = -(-sum(self.used.values()) // UNIT)
        turned = [pair if self._keeps(n_before + k) else pair[::-1] for k, pair in enumerate(order)]
        for _, group in groupby(turned, key=frozenset):
            found.append(clock.block([candidate for pair in group for candidate in pair]))
        return tuple(found)

    def _keeps(self, number: int) -> bool:
        """A coin for each pair of the day, by its number, so that a plan made anew keeps it."""
        return bool(np.random.default_rng([self.seed, 11, number]).random() < 0.5)


@dataclass
class _Clock:
    """Time and furrows as a day goes on."""

    minutes: Minutes
    before: Candidate | None
    used: dict[str, int]
    at_min: float = 0.0

    def block(self, candidates: list[Candidate]) -> Block:
        """Pulls one after another, each in a furrow of its own."""
        planned = []
        for candidate in candidates:
            spent = minutes_between(self.minutes, self.before, candidate)
            self.used[candidate.seabed] = self.used.get(candidate.seabed, 0) + 1
            planned.append(
                PlannedPull(
                    candidate=candidate,
                    begins_min=self.at_min,
                    minutes=spent,
                    patch=self.used[candidate.seabed],
                )
            )
            self.at_min, self.before = self.at_min + spent, candidate
        return Block(seabed=candidates[0].seabed, pulls=tuple(planned))


def stagger_gain(start: Start, plan: DayPlan) -> float:
    """How much more the plan's pulls would tell on a ladder staggered by half a step, as a share.

    Each pair counts as if it were pulled first.
    """
    pairs = _pair_places(start, plan)
    if not pairs:
        return 0.0
    asked = [one.regions(start.draws) for one in start.asked]
    told = []
    for ladder in (start.space.ladder, staggered(start.space.ladder)):
        space = OutcomeSpace(ladder=ladder, has_camera=start.space.has_camera)
        table = outcome_table(start.draws, start.rows, space)
        told.append(float(of_pairs(table, pairs, asked).sum()))
    return told[1] / told[0] - 1 if told[0] > 0 else 0.0


def _pair_places(start: Start, plan: DayPlan) -> list[tuple[int, int]]:
    whole = [block.pulls for block in plan.blocks if len(block.pulls) % UNIT == 0]
    pulls = [start.candidates.index(pull.candidate) for block in whole for pull in block]
    return list(zip(pulls[::UNIT], pulls[1::UNIT], strict=True))
