"""The chance of what pulls showed, under every draw: one outcome a pull, no table of the others."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from model.outcomes.prediction import sigmoid
from model.planning.outcome_table import OutcomeSpace, seen_chances
from model.planning.reduced import Reduced

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Places = NDArray[np.int64]

BY_ROW_TOLD: Final = (
    "log_upright",
    "log_on_side",
    "log_sd_upright",
    "log_sd_on_side",
    "logit_upright",
    "logit_sets",
)
BY_DRAW_TOLD: Final = (
    "log_gauge",
    "log_pull_load",
    "log_day_load",
    "log_day_logit",
    "boat_bias",
    "logit_spoilt",
    "log_hold_exponent",
    "logit_seen_upright",
    "logit_seen_on_side",
    "not_seen_base",
    "not_seen_difference",
    "today_load",
    "today_logit",
)
"""What of the draws a pull's outcome and its day's effects go by; all else tells of it nothing."""


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
    row = {name: draws.by_row[name][rows] for name in BY_ROW_TOLD}
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
