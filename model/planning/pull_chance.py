"""The chance of what pulls showed, under every draw: one outcome a pull, no table of the others."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from model.outcomes.prediction import sigmoid
from model.planning.outcome_table import OutcomeSpace, seen_chances
from model.planning.reduced import Reduced

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Places = NDArray[np.int64]


def pull_chances(
    draws: Reduced, rows: Places, outcomes: Places, today: tuple[Array, Array], space: OutcomeSpace
) -> Single:
    """Chance of the outcome of each pull under each draw.

    Parameters
    ----------
    rows, outcomes : (pull,) int
        Row of the reduced draws, and position in the space.
    today : (pull, draw) and (pull, draw)
        Effects of each pull's day on log load and on the logit of upright.

    Returns
    -------
    (pull, draw) array
    """
    row = {name: values[rows] for name, values in draws.by_row.items()}
    sets = sigmoid(row["logit_sets"]).astype(np.float32)
    upright = sigmoid(row["logit_upright"] + today[1]).astype(np.float32)
    end, seen = np.divmod(np.maximum(outcomes - 1, 0), space.n_seen)
    shown = seen_chances(draws)[:, seen] if space.has_camera else np.ones((2, 1, 1), np.float32)
    has_ended = sets * (
        upright * shown[0] * _ends(draws, row, "upright", end, today[0], space)
        + (1 - upright) * shown[1] * _ends(draws, row, "on_side", end, today[0], space)
    )
    found: Single = np.where((outcomes == 0)[:, None], 1 - sets, has_ended)
    return found


def _ends(
    draws: Reduced,
    row: dict[str, Array],
    mode: str,
    end: Places,
    today_load: Array,
    space: OutcomeSpace,
) -> Single:
    """Chance that a bite of one mode ends as each pull's did, ``(pull, draw)``."""
    draw = draws.by_draw
    variance = np.exp(2 * draw["log_gauge"]) + np.exp(2 * draw["log_pull_load"])
    per_sd = 1 / np.sqrt(np.exp(2 * row[f"log_sd_{mode}"]) + variance)
    mean = row[f"log_{mode}"] + draw["boat_bias"] + today_load
    edges = space.log_edges(draw["log_hold_exponent"])
    n_step = len(edges)
    above = edges[np.minimum(end, n_step - 1)]
    below = edges[np.maximum(end - 1, 0)]
    is_held, is_first = (end == n_step)[:, None], (end == 0)[:, None]
    upper = np.where(is_held, 1.0, ndtr(((above - mean) * per_sd).astype(np.float32)))
    lower = np.where(is_first, 0.0, ndtr(((below - mean) * per_sd).astype(np.float32)))
    spoilt = sigmoid(draw["logit_spoilt"])
    found: Single = (
        (1 - spoilt) * (upper - lower) + np.where(is_held, 0.0, spoilt / n_step)
    ).astype(np.float32)
    return found
