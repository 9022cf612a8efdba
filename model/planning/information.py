"""What a pull's outcome tells of a question's answer: mutual information, nats.

The answer is the region in which the effect lies: below the band, inside it, above it. Outcomes are
finitely many, so that the information is a finite sum over draws, with no simulation inside
another. For a pair of pulls the outcomes are those of both together, on the same day.

Means over some thousand draws differ by luck between regions, which alone would tell something:
what luck adds is taken off, to first order (Miller 1955, "Note on the bias of information
estimates", for chances in the place of counts). So what tells nothing may come out at a little less
than nothing; that is shown as 0.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import entr

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Pairs = Sequence[tuple[int, int]]

N_REGION = 3
BELOW, INSIDE, ABOVE = range(N_REGION)
TINY = 1e-12


@dataclass(frozen=True, kw_only=True)
class Regions:
    """In which region of its band each draw has the effect of one question.

    Parameters
    ----------
    place : (draw,) int
        ``BELOW``, ``INSIDE`` or ``ABOVE``; any other parting into groups from 0 up does too.
    weight : float
        How much this question counts among others.
    is_drawn : bool
        Whether the draws are random; false for nodes that are spread evenly.
    """

    place: NDArray[np.int64]
    weight: float = 1.0
    is_drawn: bool = True

    @property
    def n_group(self) -> int:
        """How many groups there are."""
        return max(N_REGION, int(self.place.max()) + 1)

    @property
    def shares(self) -> Array:
        """Share of the draws in each region."""
        found: Array = np.bincount(self.place, minlength=self.n_group) / self.place.size
        return found

    @property
    def doubt_nats(self) -> float:
        """Entropy of the answer: what there is to be told."""
        return float(entr(self.shares).sum())


def regions(effect: Array, ends: tuple[float, float], weight: float = 1.0) -> Regions:
    """Place each draw's effect, on the scale of the band's ends; the ends are inside."""
    place = (effect >= ends[0]).astype(np.int64) + (effect > ends[1])
    return Regions(place=place, weight=weight)


def of_singles(table: Single, asked: Sequence[Regions]) -> Array:
    """Information of each candidate's single pull about the questions, weighed and added up.

    Parameters
    ----------
    table : (candidate, outcome, draw) array
        Chances of outcomes.
    asked : sequence of Regions
        One a question.

    Returns
    -------
    (candidate,) array
        Nats; by several questions their weighted sum.
    """
    total = np.zeros(len(table))
    for one in asked:
        within, squares = _within(table, one), _within(table**2, one)
        total += one.weight * _told(within, squares, one)
    return total


def of_pairs(table: Single, pairs: Pairs, asked: Sequence[Regions]) -> Array:
    """The same for pairs of pulls on one day, ``(pair,)``; a pair may be of one candidate twice."""
    total = np.zeros(len(pairs))
    for one in asked:
        order = np.argsort(one.place, kind="stable")
        ends = np.cumsum(np.bincount(one.place, minlength=one.n_group))
        by_region = [
            np.ascontiguousarray(table[:, :, order[start:end]])
            for start, end in zip(np.r_[0, ends[:-1]], ends, strict=True)
        ]
        squared = [part**2 for part in by_region] if one.is_drawn else by_region
        for place, pair in enumerate(pairs):
            within, squares = (_joint(parts, pair) for parts in (by_region, squared))
            total[place] += one.weight * float(_told(within[None], squares[None], one)[0])
    return total


def _joint(by_region: Sequence[Single], pair: tuple[int, int]) -> Array:
    """Mean chance of both outcomes of a pair within each region, ``(region, outcome)``."""
    first, second = pair
    means = [(part[first] @ part[second].T).ravel() / max(part.shape[2], 1) for part in by_region]
    return np.stack(means).astype(np.float64)


def _within(table: Single, one: Regions) -> Array:
    """Mean chance of each outcome within each region, ``(candidate, region, outcome)``."""
    member = (one.place[:, None] == np.arange(one.n_group)).astype(np.float32)
    member /= np.maximum(member.sum(axis=0), 1)
    within = (table.reshape(-1, table.shape[2]) @ member).reshape(*table.shape[:2], -1)
    found: Array = within.swapaxes(1, 2).astype(np.float64)
    return found


def _told(within: Array, squares: Array, one: Regions) -> Array:
    """Mutual information from means ``(..., region, outcome)`` of chances and of their squares."""
    shares = one.shares
    mean = np.einsum("r,...ro->...o", shares, within)
    told = entr(mean).sum(axis=-1) - entr(within).sum(axis=-1) @ shares
    if one.is_drawn:
        told = told - _luck(within, squares, mean, one)
    found: Array = np.maximum(told, 0.0)
    return found


def _luck(within: Array, squares: Array, mean: Array, one: Regions) -> Array:
    """What differences between regions by luck alone add to the information, to first order."""
    shares, n_draw = one.shares, one.place.size

    def relative(squared: Array, means: Array) -> Array:
        spread = np.maximum(squared - means**2, 0.0)
        found: Array = (spread / np.maximum(means, TINY)).sum(axis=-1)
        return found

    # A region of share s has s n draws, and counts by s: each region adds alike.
    by_region = relative(squares, within)[..., shares > 0].sum(axis=-1)
    whole = relative(np.einsum("r,...ro->...o", shares, squares), mean)
    found: Array = (by_region - whole) / (2 * n_draw)
    return found
