"""A day's pulls: which, in which order, in blocks, until the hours are used up."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.planning.candidates import Candidate
from model.planning.costs import minutes_between
from model.planning.information import of_pairs
from model.planning.ladders import staggered
from model.planning.moves import Standard
from model.planning.outcome_table import OutcomeSpace, outcome_table
from model.planning.particles import Particles
from model.planning.policies import UNIT, Informative, Moment
from model.planning.ranking import best_pairs, rank
from model.planning.reference import Reference
from model.planning.start import Start
from model.planning.water import Luck, Truths
from model.records.campaign import Ladder, Minutes

Array = NDArray[np.float64]
Places = NDArray[np.int64]

COURSES: Final = 64
"""Ways the day may go, over which a plan is good on average."""
PLAN_DRAWS: Final = 10_000
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
    kept, pairs = best_pairs(start, rank(start, last=last), PAIRS)
    is_contrast = pairs[:, 0] != pairs[:, 1]
    if is_contrast.any():  # two of one arm cost less, and leave the arms apart in the day
        pairs = pairs[is_contrast]
    kept = kept.narrowed()
    course = _Course(kept, pairs, seed)
    chosen: list[tuple[Candidate, Candidate]] = []
    found = DayPlan(blocks=(), ladder=start.space.ladder, stagger_gain=0.0, seed=seed)
    while len(chosen) < MOST_UNITS:
        chosen.append(course.next_pair())
        blocks = _blocks(start.campaign.minutes, chosen, seed, last, patches or {})
        longer = DayPlan(blocks=blocks, ladder=start.space.ladder, stagger_gain=0.0, seed=seed)
        if longer.minutes > minutes:
            break
        found = longer
    gain = stagger_gain(kept, found)
    return DayPlan(blocks=found.blocks, ladder=found.ladder, stagger_gain=gain, seed=seed)


class _Course:
    """Many ways one day may go, pulled along one plan."""

    def __init__(self, start: Start, pairs: Places, seed: int) -> None:
        self._start = start
        reference = Reference.of(start.draws)
        rng = np.random.default_rng([seed, 7])
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
        members = np.arange(COURSES)
        for index in pair:
            rows = np.full(COURSES, self._start.rows[index])
            outcome = self._truths.pull(members, rows, self._n_pulled, 0, self._start.space)
            self._particles.weigh(self._weights, np.full(COURSES, index), outcome)
            self._n_pulled += 1
        self._last = int(pair[1])
        first, second = (self._start.candidates[index] for index in pair)
        return first, second


def _blocks(
    minutes: Minutes,
    pairs: list[tuple[Candidate, Candidate]],
    seed: int,
    last: Candidate | None,
    patches: dict[str, int],
) -> tuple[Block, ...]:
    """Equal pairs side by side, seabed by seabed, arms in an order drawn by the seed."""
    seabeds = list(dict.fromkeys(pair[0].seabed for pair in pairs))
    if last is not None and last.seabed in seabeds:
        seabeds.insert(0, seabeds.pop(seabeds.index(last.seabed)))
    kinds = list(dict.fromkeys(pairs))
    order = sorted(pairs, key=lambda pair: (seabeds.index(pair[0].seabed), kinds.index(pair)))
    rng = np.random.default_rng([seed, 11])
    clock, before, used, blocks = 0.0, last, dict(patches), []
    for _, group in groupby(order):
        planned = []
        for candidate in _drawn_order(list(group), rng):
            spent = minutes_between(minutes, before, candidate)
            used[candidate.seabed] = used.get(candidate.seabed, 0) + 1
            planned.append(
                PlannedPull(
                    candidate=candidate,
                    begins_min=clock,
                    minutes=spent,
                    patch=used[candidate.seabed],
                )
            )
            clock, before = clock + spent, candidate
        blocks.append(Block(seabed=planned[0].candidate.seabed, pulls=tuple(planned)))
    return tuple(blocks)


def _drawn_order(
    pairs: list[tuple[Candidate, Candidate]], rng: np.random.Generator
) -> Iterator[Candidate]:
    """Within each pair a coin says which arm goes first, so that no arm is always the earlier."""
    for first, second in pairs:
        yield from (second, first) if rng.random() < 0.5 else (first, second)


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
    pulls = [start.candidates.index(pull.candidate) for pull in plan.pulls]
    return list(zip(pulls[::2], pulls[1::2], strict=True))
