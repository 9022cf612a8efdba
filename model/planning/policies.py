"""Ways to choose the next two pulls of a rehearsed campaign."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.special import entr

from model.planning.costs import minutes_matrix
from model.planning.information import N_REGION
from model.planning.particles import Particles
from model.planning.start import Start

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Places = NDArray[np.int64]

UNIT: Final = 2
"""Pulls that are chosen together: a look one pull ahead can stay for ever with an anchor that
tells nothing."""


@dataclass(frozen=True, kw_only=True)
class Moment:
    """Where rehearsed campaigns stand when the next pulls are chosen.

    Parameters
    ----------
    weights : (campaign, draw) array
        Summing to 1 by campaign.
    last : (campaign,) int
        Candidate pulled last today; the number of candidates where a day begins.
    n_pulled : int
        Pulls made so far.
    """

    particles: Particles
    weights: Single
    last: Places
    n_pulled: int


class Policy(Protocol):
    """Chooses the next two pulls of every campaign."""

    @property
    def name(self) -> str:
        """In words, as reports show it."""

    @property
    def is_in_order(self) -> bool:
        """Whether the first of two is pulled first; else a coin says."""

    def choose(self, moment: Moment) -> Places:
        """Candidates of the next two pulls, ``(campaign, 2)``."""


@dataclass(frozen=True, kw_only=True)
class Rotate:
    """Every candidate in its turn."""

    candidates: Sequence[int]
    name: str = "each in turn"
    is_in_order: bool = False

    def choose(self, moment: Moment) -> Places:
        """The next two in the order of the candidates."""
        turn = [
            moment.n_pulled % len(self.candidates),
            (moment.n_pulled + 1) % len(self.candidates),
        ]
        both = [self.candidates[place] for place in turn]
        return np.tile(np.array(both, dtype=np.int64), (len(moment.weights), 1))


@dataclass(frozen=True, kw_only=True)
class Alternate:
    """Two arms, one after the other."""

    first: int
    second: int
    name: str = "two arms in turn"
    is_in_order: bool = False

    def choose(self, moment: Moment) -> Places:
        """The two arms."""
        return np.tile(
            np.array([self.first, self.second], dtype=np.int64), (len(moment.weights), 1)
        )


@dataclass(frozen=True, kw_only=True)
class Follow:
    """A plan made beforehand, pull by pull; its order is kept as it is."""

    candidates: Sequence[int]
    name: str = "as planned"
    is_in_order: bool = True

    def choose(self, moment: Moment) -> Places:
        """The next two of the plan."""
        both = list(self.candidates[moment.n_pulled : moment.n_pulled + UNIT])
        both += both[-1:] * (UNIT - len(both))  # the last of an odd plan: no second is pulled
        return np.tile(np.array(both, dtype=np.int64), (len(moment.weights), 1))


@dataclass(frozen=True, kw_only=True)
class Informative:
    """The pair that tells most about the answer; per hour if asked.

    Parameters
    ----------
    pairs : (pair, 2) int array
        Candidates that may be pulled together; one may stand twice in a pair.
    is_shared : bool
        The same pair for all campaigns: the best on average, as a plan made beforehand.
    """

    start: Start
    pairs: Places
    per_hour: bool = False
    is_shared: bool = False
    is_in_order: bool = False
    minutes: Array = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Work out what each pair costs after each candidate."""
        between = minutes_matrix(self.start.campaign.minutes, self.start.candidates)
        first, second = self.pairs.T
        object.__setattr__(self, "minutes", between[:, first] + between[first, second])

    @property
    def name(self) -> str:
        """In words."""
        return "by what it tells an hour" if self.per_hour else "by what it tells"

    def choose(self, moment: Moment) -> Places:
        """The best pair of each campaign."""
        told = self._told(moment)
        if self.per_hour:
            told = told / self.minutes[moment.last]
        if self.is_shared:
            told = np.broadcast_to(told.mean(axis=0), told.shape)
        best: Places = self.pairs[told.argmax(axis=1)]
        return best

    def _told(self, moment: Moment) -> Array:
        """Information of each pair for each campaign, nats."""
        joint, few = moment.particles.joint(self.pairs)
        weights = np.ascontiguousarray(moment.weights[:, few])
        weights /= weights.sum(axis=1, keepdims=True)
        place = moment.particles.place[few]
        shape = (len(weights), len(self.pairs), -1)
        mean = np.zeros((len(weights), joint.shape[1]), dtype=np.float32)
        told = np.zeros(shape[:2])
        for region in range(N_REGION):
            mine = place == region
            share = weights[:, mine].sum(axis=1)
            both = weights[:, mine] @ joint[mine]
            mean += both
            within = both / np.maximum(share, 1e-12)[:, None]
            told -= share[:, None] * entr(within).reshape(shape).sum(axis=2)
        return told + entr(mean).reshape(shape).sum(axis=2)
