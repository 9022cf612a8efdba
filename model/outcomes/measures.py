"""The measures of a set-up under each draw, on the scale on which they are compared.

Loads are returned as log kN (compared by ratio), chances as they are
(compared by difference). All are for fresh ground on an average day.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from model.outcomes.prediction import Prediction, sigmoid

Array = NDArray[np.float64]

GRID: Final = 48
"""Cells of log load for the best load of a pull; 1 % of the cell's width in error."""
TAIL_SD: Final = 4.0
"""How far the grid reaches beyond both modes, in scatters: 3e-5 are left out."""
BISECTIONS: Final = 27
"""Halvings for a quantile: 20 scatters shrink to 2e-7 of one."""
DAY_NODES: Final = 7
LEAST_SCATTER: Final = 1e-6
"""Keeps the grid of a bite's loads from having no width."""


def typical(prediction: Prediction) -> Array:
    """Mean log capacity over the two modes: log of a geometric mean, log kN."""
    p = sigmoid(prediction.logit_upright)
    return p * prediction.log_upright + (1 - p) * prediction.log_on_side


def capped(prediction: Prediction, top_kn: float) -> Array:
    """Mean of log min(C, top), log kN: needs no belief above the boat's limit."""
    p, log_top = sigmoid(prediction.logit_upright), np.log(top_kn)
    upright = _capped_mean(prediction.log_upright, prediction.sd_upright, log_top)
    on_side = _capped_mean(prediction.log_on_side, prediction.sd_on_side, log_top)
    return p * upright + (1 - p) * on_side


def _capped_mean(mean: Array, sd: Array, log_top: float) -> Array:
    z = (log_top - mean) / sd
    below: Array = mean * ndtr(z) - sd * np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi)
    return below + log_top * ndtr(-z)


def log_quantile(prediction: Prediction, prob: float) -> Array:
    """Quantile of the two-mode mixture of log capacity, log kN."""
    p = sigmoid(prediction.logit_upright)
    low = np.minimum(prediction.log_on_side, prediction.log_upright) - 10 * prediction.sd_on_side
    high = np.maximum(prediction.log_on_side, prediction.log_upright) + 10 * prediction.sd_upright
    low = np.minimum(low, high - 20 * prediction.sd_upright)
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        below = p * ndtr((middle - prediction.log_upright) / prediction.sd_upright)
        below += (1 - p) * ndtr((middle - prediction.log_on_side) / prediction.sd_on_side)
        low, high = np.where(below < prob, middle, low), np.where(below < prob, high, middle)
    return (low + high) / 2


def nine_in_ten(prediction: Prediction) -> Array:
    """Load that nine pulls in ten outhold, once set, log kN."""
    return log_quantile(prediction, 0.1)


def hold(prediction: Prediction, load_kn: float) -> Array:
    """Chance that a pull sets and holds a load on a day like any other."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(DAY_NODES)
    day = prediction.day_logit[:, None, None] * nodes
    p = (sigmoid(prediction.logit_upright[..., None] + day) * (weights / weights.sum())).sum(-1)
    log_load = np.log(load_kn)
    day_variance = prediction.day_load[:, None] ** 2

    def above(mean: Array, sd: Array) -> Array:
        result: Array = ndtr((mean - log_load) / np.sqrt(sd**2 + day_variance))
        return result

    upright = above(prediction.log_upright, prediction.sd_upright)
    on_side = above(prediction.log_on_side, prediction.sd_on_side)
    return prediction.p_sets * (p * upright + (1 - p) * on_side)


def upright(prediction: Prediction) -> Array:
    """Chance that a first bite is upright, on an average day."""
    return sigmoid(prediction.logit_upright)


def sets(prediction: Prediction) -> Array:
    """Chance that a pull sets at all."""
    return prediction.p_sets


def resets(prediction: Prediction) -> Array:
    """Chance that an anchor that let go digs in again."""
    return prediction.p_resets


def turns(prediction: Prediction) -> Array:
    """Chance that an anchor sets again after the pull direction has changed."""
    return prediction.p_turns


def buried(prediction: Prediction) -> Array:
    """Mean log length of buried rode over the two modes: log of a geometric mean, log m."""
    p = sigmoid(prediction.logit_upright)
    return prediction.log_buried - (1 - p) * prediction.buried_gap[:, None]


def best(prediction: Prediction) -> Array:
    """Log of (chance to set times the geometric mean of the best load of a pull), log kN.

    The best load is the last bite's: an anchor that lets go at c digs in again
    with its re-set chance, and is seen only if the new bite stands c. Thrust is
    taken to rise without steps. The bites of a pull share its effect, which
    moves them all alike: it drops out of the mean, and of what a re-set gains
    (counted in each bite's scatter, re-setting would seem to gain more).
    """
    return np.log(prediction.p_sets) + _best_load(of_bites(prediction))


def of_bites(prediction: Prediction) -> Prediction:
    """The same set-ups with the scatter of the bites of one pull, its own effect left out."""

    def of_a_bite(sd: Array) -> Array:
        variance = sd**2 - prediction.pull_load[:, None] ** 2
        result: Array = np.sqrt(np.maximum(variance, LEAST_SCATTER**2))
        return result

    return replace(
        prediction,
        sd_upright=of_a_bite(prediction.sd_upright),
        sd_on_side=of_a_bite(prediction.sd_on_side),
    )


def _best_load(prediction: Prediction) -> Array:
    """Mean log of the last bite's load, by backward recursion over a grid of loads."""
    low = np.minimum(prediction.log_on_side, prediction.log_upright) - TAIL_SD * np.maximum(
        prediction.sd_upright, prediction.sd_on_side
    )
    high = np.maximum(prediction.log_on_side, prediction.log_upright) + TAIL_SD * np.maximum(
        prediction.sd_upright, prediction.sd_on_side
    )
    low, high = (
        low + np.minimum(prediction.later_load[:, None], 0),
        high + np.maximum(prediction.later_load[:, None], 0),
    )
    first = _cell_masses(prediction, low, high, is_later=False)
    later = _cell_masses(prediction, low, high, is_later=True)
    width = (high - low) / GRID
    above, above_value, total = np.zeros_like(low), np.zeros_like(low), np.zeros_like(low)
    for cell in reversed(range(GRID)):
        middle = low + (cell + 0.5) * width
        reach = above + 0.5 * later[cell]  # half of the own cell lies above its middle
        value = (1 - prediction.p_resets * reach) * middle + prediction.p_resets * (
            above_value + 0.5 * later[cell] * middle
        )
        total += first[cell] * value
        above, above_value = above + later[cell], above_value + later[cell] * value
    return total


def _cell_masses(prediction: Prediction, low: Array, high: Array, *, is_later: bool) -> Array:
    """Probability of each grid cell, ``(cell, draw, row)``; tails go to the end cells."""
    shift = prediction.later_load[:, None] * is_later
    logit = prediction.logit_upright + prediction.later_logit[:, None] * is_later
    p = sigmoid(logit)
    below = [np.zeros_like(low)]
    for edge in range(1, GRID):
        at = low + (high - low) * (edge / GRID) - shift
        upright = ndtr((at - prediction.log_upright) / prediction.sd_upright)
        on_side = ndtr((at - prediction.log_on_side) / prediction.sd_on_side)
        below.append(p * upright + (1 - p) * on_side)
    return np.diff(np.stack([*below, np.ones_like(low)]), axis=0)


def next_pull(prediction: Prediction, rng: np.random.Generator) -> Array:
    """Log first-release load of one next pull per draw; minus infinity if it never sets.

    A day's effects are drawn once per draw and shared by the rows: both next
    pulls are taken on the same day.
    """
    n_draw, n_row = prediction.log_upright.shape
    day_load = prediction.day_load[:, None] * rng.standard_normal((n_draw, 1))
    day_logit = prediction.day_logit[:, None] * rng.standard_normal((n_draw, 1))
    is_upright = rng.random((n_draw, n_row)) < sigmoid(prediction.logit_upright + day_logit)
    mean = np.where(is_upright, prediction.log_upright, prediction.log_on_side) + day_load
    sd = np.where(is_upright, prediction.sd_upright, prediction.sd_on_side)
    log_load = mean + sd * rng.standard_normal((n_draw, n_row))
    has_set = rng.random((n_draw, n_row)) < prediction.p_sets
    return np.where(has_set, log_load, -np.inf)


BY_NAME: Final[dict[str, Callable[[Prediction], Array]]] = {
    "typical": typical,
    "best": best,
    "nine_in_ten": nine_in_ten,
    "upright": upright,
    "sets": sets,
    "resets": resets,
    "turns": turns,
    "buried": buried,
}
"""Measures that need nothing but the prediction."""
