"""Candidates and pairs in the order of what they tell, with what they cost and why."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.percents import percent_words
from model.planning.candidates import Candidate, contrasts
from model.planning.costs import minutes_between
from model.planning.information import of_pairs, of_singles
from model.planning.outcome_table import outcome_table
from model.planning.start import Start

Array = NDArray[np.float64]
Places = NDArray[np.int64]

HELD_MOSTLY: Final = 0.5
"""From this chance to hold the boat's most on, a pull's load is told by its lower end alone."""


@dataclass(frozen=True, kw_only=True)
class Ranked:
    """One thing that could be done next: a pull, or two on one day.

    Parameters
    ----------
    second : Candidate or None
        None for a single pull.
    information_nats : float
        Mutual information with the questions' answers, by their weights.
    share : float
        Of the questions' doubt, 0 to 1.
    minutes : float
        With changes of rig and moves.
    p_held : float
        Chance that a pull of it ends at the boat's most.
    is_untried : bool
        Whether one of its set-ups was never pulled.
    """

    first: Candidate
    second: Candidate | None
    information_nats: float
    share: float
    minutes: float
    p_held: float
    is_untried: bool
    reason: str

    @property
    def n_pull(self) -> int:
        """Pulls that it takes."""
        return 1 if self.second is None else 2

    @property
    def information_nats_per_pull(self) -> float:
        """Information for each of its pulls."""
        return self.information_nats / self.n_pull

    @property
    def information_nats_per_hour(self) -> float:
        """Information for an hour of the boat's time."""
        return 60 * self.information_nats / self.minutes


@dataclass(frozen=True, kw_only=True)
class Ranking:
    """Singles and pairs, each in the order of what they tell an hour."""

    singles: tuple[Ranked, ...]
    pairs: tuple[Ranked, ...]
    doubt_nats: float


def rank(
    start: Start, *, last: Candidate | None = None, tried: Collection[Candidate] = ()
) -> Ranking:
    """Rank every candidate, and every pair that compares as a question does.

    Parameters
    ----------
    last : Candidate or None
        What is on deck: changes of rig are counted from it.
    tried : collection of Candidate
        Those that were pulled before.
    """
    asked = [one.regions(start.draws) for one in start.asked]
    doubt = sum(one.weight * one.doubt_nats for one in asked)
    table = outcome_table(start.draws, start.rows, start.space)
    held = table[:, start.space.held].sum(axis=1).mean(axis=1, dtype=np.float64)
    pairs = all_contrasts(start)
    single = of_singles(table, asked)
    double = of_pairs(table, pairs, asked)
    singles = [
        _ranked(start, (index,), float(told), doubt, held, last, tried)
        for index, told in enumerate(single)
    ]
    both = [
        _ranked(start, pair, float(told), doubt, held, last, tried)
        for pair, told in zip(pairs, double, strict=True)
    ]
    return Ranking(singles=_in_order(singles), pairs=_in_order(both), doubt_nats=doubt)


def all_contrasts(start: Start) -> tuple[tuple[int, int], ...]:
    """Pairs that compare as any of the questions does, each once."""
    found = (
        pair
        for one in start.asked
        for pair in contrasts(start.campaign, one.question, start.candidates)
    )
    return tuple(dict.fromkeys(found))


def _in_order(found: Sequence[Ranked]) -> tuple[Ranked, ...]:
    return tuple(sorted(found, key=lambda one: -one.information_nats_per_hour))


def _ranked(
    start: Start,
    which: tuple[int, ...],
    told: float,
    doubt: float,
    held: Array,
    last: Candidate | None,
    tried: Collection[Candidate],
) -> Ranked:
    chosen = [start.candidates[index] for index in which]
    minutes = start.campaign.minutes
    spent = minutes_between(minutes, last, chosen[0])
    spent += sum(minutes_between(minutes, one, other) for one, other in pairwise(chosen))
    p_held = float(np.mean([held[index] for index in which]))
    is_untried = any(one not in tried for one in chosen)
    share = told / doubt if doubt > 0 else 0.0
    return Ranked(
        first=chosen[0],
        second=chosen[1] if len(chosen) > 1 else None,
        information_nats=told,
        share=share,
        minutes=spent,
        p_held=p_held,
        is_untried=is_untried,
        reason=_reason(start, which, share, p_held, is_untried=is_untried),
    )


def _reason(
    start: Start, which: tuple[int, ...], share: float, p_held: float, *, is_untried: bool
) -> str:
    """Why it tells as much as it does, in a sentence."""
    parts = [f"takes away {100 * share:.2g} % of the doubt"]
    if len(which) > 1:
        parts.append("both on one day and one bottom, so that what they share cancels")
    else:
        owners = {side[which[0]] for side in start.sides} - {""}
        parts.append(
            f"a pull of side {' and '.join(sorted(owners)).upper()}"
            if owners
            else "no side's own, but it tells of what the sides share"
        )
    if p_held > HELD_MOSTLY:
        parts.append(f"{percent_words(p_held)} hold to the end, where only the least load is told")
    else:
        parts.append(f"{percent_words(1 - p_held)} let go within the ladder or never set")
    if is_untried:
        parts.append("never pulled so far")
    return "; ".join(parts)


def best_pairs(start: Start, ranking: Ranking, most: int) -> tuple[Start, Places]:
    """The start with the candidates of the best pairs only, and the pairs among them.

    Twins, the same candidate twice, are among the pairs. Where nothing compares, the best singles.

    Parameters
    ----------
    most : int
        How many of the best pairs are kept, 1 or more.
    """
    wanted: dict[Candidate, None] = {}
    for one in ranking.pairs[:most] or ranking.singles[:most]:
        wanted.update(dict.fromkeys([one.first, *([one.second] if one.second else [])]))
    kept = start.keeping(tuple(wanted))
    twins = [(index, index) for index in range(len(wanted))]
    return kept, np.array([*all_contrasts(kept), *twins], dtype=np.int64)
