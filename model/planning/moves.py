"""Draws moved to where the pulls so far have put what is believed.

Once weights rest on few draws, these are drawn again by their weights and each is moved by a
Markov chain that leaves "the density before, times the chance of all that was seen" as it is.
Pulls tell of few directions: those in which the log chance is steepest, on average over what is
believed (likelihood-informed directions: Cui and others 2014; Zahm and others 2022). There a
proposal keeps the draws' own mean and covariance, elsewhere the density before: Crank-Nicolson
steps (Cotter, Roberts, Stuart, White 2013), taken by the ratio of chances against that proposal.
The chain is exact but for one thing: its proposal and its step are fitted to the draws it moves.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.planning.past import PastChance
from model.planning.reduced import Reduced
from model.planning.reference import Reference
from model.planning.standard import Standard
from model.questions.weights import effective_draws, resampled

Array = NDArray[np.float64]
Single = NDArray[np.float32]

INFORMED: Final = 15
"""Directions, at most, in which the proposal is fitted: with 40 a covariance of some hundred
effective draws is too rough, and pure Crank-Nicolson steps had not moved after sixty."""
SLOPED: Final = 300
"""Draws at which slopes are taken."""
STEPS: Final = (3, 60)
"""Steps after which it is looked whether draws have moved, and the most of them."""
TAKEN: Final = 0.25
LEAST_STEP: Final = 0.02
EAGERNESS: Final = 1.5
"""How fast a step follows the share that was taken."""
MOVED_ENOUGH: Final = 0.5
"""Correlation of the draws' effect before and after a move below which it has moved."""
STILL: Final = 0.8
"""Such a correlation from which on it has not moved at all."""


@dataclass(frozen=True, kw_only=True)
class Moved:
    """Draws after a move.

    Parameters
    ----------
    correlation : float
        Of what is asked, before and after, -1 to 1: near 1 the draws stand where they stood,
        copies beside each other, and are worth no more than before.
    """

    standard: Standard
    correlation: float

    @property
    def has_stood_still(self) -> bool:
        """Whether the draws are worth no more than they were."""
        return self.correlation > STILL


def moved(
    reference: Reference,
    weighted: tuple[Standard, Array],
    chance: PastChance,
    effect: Callable[[Reduced], Array],
    n_draw: int,
    rng: np.random.Generator,
) -> Moved:
    """Draw again by weights, and move; the draws follow what is believed after some pulls.

    Parameters
    ----------
    weighted : Standard and (draw,) array
        Draws, and their weights summing to 1.
    chance : PastChance
        Of those pulls.
    effect : callable
        What is asked, of draws: moves go on until it has moved, but not for ever.
    n_draw : int
        How many draws to end with.
    """
    standard, weights = weighted
    worth = effective_draws(weights)
    begun = standard.chosen(resampled(weights, rng, n_draw))
    proposal = _Proposal.of(begun, chance, worth, rng)
    before = effect(reference.reduced(begun.of_reference))
    state = _State.of(begun.flat, begun, chance, proposal)
    step, correlation = 1.0, 1.0
    every, most = STEPS
    for number in range(1, most + 1):
        other = _State.of(proposal.stepped(state.flat, step, rng), begun, chance, proposal)
        is_taken = np.log(rng.random(n_draw)) < other.level - state.level
        state = state.where(is_taken, other)
        change = np.exp(EAGERNESS * (is_taken.mean() - TAKEN))
        step = float(np.clip(step * change, LEAST_STEP, 1.0))
        if number % every == 0:
            after = effect(reference.reduced(begun.like(state.flat).of_reference))
            correlation = _correlation(before, after)
            if correlation < MOVED_ENOUGH:
                break
    return Moved(standard=begun.like(state.flat), correlation=correlation)


@dataclass(frozen=True, kw_only=True)
class _Proposal:
    """A normal density: fitted in the informed directions, standard in all others.

    Parameters
    ----------
    informed : (direction, informed) array
        Orthonormal.
    mean : (informed,) array
    root : (informed, informed) array
        Of the covariance (Cholesky).
    inverse : (informed, informed) array
        Of the root.
    """

    informed: Single
    mean: Single
    root: Single
    inverse: Single

    @classmethod
    def of(
        cls, draws: Standard, chance: PastChance, worth: float, rng: np.random.Generator
    ) -> "_Proposal":
        """Fit it to draws that are worth so many independent ones."""
        few = draws.chosen(rng.integers(0, draws.n_draw, SLOPED))
        _, _, directions = np.linalg.svd(chance.slopes(few), full_matrices=False)
        informed = directions[:INFORMED].T.astype(np.float32)
        along = (draws.flat @ informed).astype(np.float64)
        n = informed.shape[1]
        # Drawn a little towards the density before, or few draws would leave a flat covariance.
        own = np.cov(along.T).reshape(n, n)
        root = np.linalg.cholesky((worth * own + n * np.eye(n)) / (worth + n))
        return cls(
            informed=informed,
            mean=along.mean(axis=0).astype(np.float32),
            root=root.astype(np.float32),
            inverse=np.linalg.inv(root).astype(np.float32),
        )

    def stepped(self, flat: Single, step: float, rng: np.random.Generator) -> Single:
        """A step that leaves this density as it is; 1 is a fresh draw of it."""
        news = rng.standard_normal(flat.shape, dtype=np.float32)
        along: Single = flat @ self.informed
        fresh: Single = news @ self.informed
        # What pulls tell little of goes further at a time.
        others: Single = _mixed(
            flat - along @ self.informed.T, news - fresh @ self.informed.T, step**0.5
        )
        there: Single = self.mean + _mixed(along - self.mean, fresh @ self.root.T, step)
        found: Single = others + there @ self.informed.T
        return found

    def log_ratio(self, flat: Single) -> Array:
        """Log of the density before over this one, ``(draw,)``, up to a constant."""
        along = flat @ self.informed
        own = (along - self.mean) @ self.inverse.T
        found: Array = 0.5 * ((own**2).sum(axis=1) - (along**2).sum(axis=1))
        return found


def _mixed(old: Single, new: Single, share: float) -> Single:
    found: Single = np.float32(np.sqrt(1 - share**2)) * old + np.float32(share) * new
    return found


@dataclass(frozen=True, kw_only=True)
class _State:
    """Draws and how likely each is, against the proposal, ``(draw,)``."""

    flat: Single
    level: Array

    @classmethod
    def of(cls, flat: Single, like: Standard, chance: PastChance, proposal: _Proposal) -> "_State":
        level = chance.log_chance(like.like(flat)) + proposal.log_ratio(flat)
        return cls(flat=flat, level=level)

    def where(self, is_taken: NDArray[np.bool_], other: "_State") -> "_State":
        return _State(
            flat=np.where(is_taken[:, None], other.flat, self.flat),
            level=np.where(is_taken, other.level, self.level),
        )


def _correlation(before: Array, after: Array) -> float:
    if not np.ptp(before):
        return 0.0  # nothing that could move: one draw, or an effect that is the same in all
    if not np.ptp(after):
        return 1.0
    return float(np.corrcoef(before, after)[0, 1])
