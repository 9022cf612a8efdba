"""How far the chances of an answer move as its draws are weighed, with Monte Carlo errors."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from arviz_stats.base.array import array_stats
from numpy.typing import NDArray

from model.checks.asked import Asked
from model.questions.effect import band_ends
from model.questions.weights import ALIKE, EFFECTIVE_DRAWS_MIN, Weights

Array = NDArray[np.float64]

_statistics: Any = array_stats  # ships no types

HIGHER: Final = "higher"
REGION_WORDS: Final = {
    "above": "higher beyond the band",
    "inside": "no practical difference",
    "below": "lower beyond the band",
}
"""Regions of an effect that make a whole, with what each is called."""
ERRORS: Final = 2.0
"""A move of fewer Monte Carlo standard errors is not told from none."""


@dataclass(frozen=True, kw_only=True)
class Move:
    """A chance before and after, and the standard error of how far it moved."""

    before: float
    after: float
    error: float

    @property
    def size(self) -> float:
        """How far, either way."""
        return abs(self.after - self.before)


def can_tell(weights: Weights) -> bool:
    """Whether weighed draws are enough to tell a chance by."""
    # A hair less, as equal weights of just as many draws come to that by rounding.
    are_enough = weights.effective_draws >= EFFECTIVE_DRAWS_MIN * (1 - 1e-9)
    return weights.is_within_limit and are_enough


def moves(one: Asked, shares: Array, n_chain: int) -> dict[str, Move]:
    """How far the chance of each region moves, and that of higher.

    Parameters
    ----------
    shares : (draw,) array
        Weights that sum to 1; before, all draws count alike.
    """
    lower, upper = band_ends(one.question.band)
    effect = one.effect
    found = {
        HIGHER: (effect > 0) + 0.5 * (effect == 0),
        "above": effect > upper,
        "inside": (effect >= lower) & (effect <= upper),
        "below": effect < lower,
    }
    return {name: _move(each.astype(float), shares, n_chain) for name, each in found.items()}


def furthest_move(found: dict[str, Move]) -> Move:
    """The one that moved most."""
    return max(found.values(), key=lambda move: move.size)


def _move(indicator: Array, shares: Array, n_chain: int) -> Move:
    before, after = float(indicator.mean()), float(shares @ indicator)
    by_draw = indicator.size * shares * (indicator - after) - (indicator - before)
    if np.ptp(by_draw) < ALIKE:
        return Move(before=before, after=after, error=0.0)
    by_chain = by_draw.reshape(n_chain, -1)
    ess = float(_statistics.ess(by_chain, method="mean", chain_axis=0, draw_axis=1))
    error = float(np.sqrt(np.mean(by_draw**2) / ess)) if ess > 0 else float("inf")
    return Move(before=before, after=after, error=error)
