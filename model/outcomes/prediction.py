"""What each draw predicts for a set-up, also one that was never pulled.

Fresh ground (no site's own effect) on an average day. The dim ``anchor`` gets
one more slot, an anchor never pulled, drawn from what the campaign's anchors
have in common: the *next anchor like these*.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from model.base.names import ON_SIDE, UPRIGHT
from model.outcomes.formula import (
    Rows,
    log_buried,
    log_load_on_side,
    log_load_upright,
    log_scatter,
    logit_resets,
    logit_sets,
    logit_turns,
    logit_upright,
)

Array = NDArray[np.float64]

BY_ANCHOR_WITH_SCALE = (
    "anchor_load",
    "anchor_scatter",
    "anchor_upright",
    "anchor_sets",
    "anchor_resets",
    "anchor_turns",
    "anchor_buried",
)
BY_ANCHOR_AND_MORE: Final = {
    "anchor_seabed_load": 1,
    "anchor_seabed_upright": 1,
    "treatment_anchor_load": 2,
    "treatment_anchor_upright": 2,
    "treatment_anchor_buried": 2,
}
"""What differs by anchor and by something else: the axis of the anchors."""
SCALES_OF_THE_NEXT: Final = tuple(
    f"{name}_scale" for name in (*BY_ANCHOR_WITH_SCALE, "mode_gap", *BY_ANCHOR_AND_MORE)
)
"""Scales from which the next anchor is drawn."""


@dataclass(frozen=True, kw_only=True)
class SetUpRow:
    """A set-up as positions: `anchor_index` beyond the last means the next anchor."""

    anchor_index: int
    seabed_index: int
    level: tuple[float, ...]
    inverse_scope_shift: float


@dataclass(frozen=True, kw_only=True)
class Prediction:
    """Per draw and set-up, each ``(draw, row)``; loads are mean log kN of a first bite.

    Parameters
    ----------
    sd_upright, sd_on_side : array
        Scatter of one pull: bite and pull effect, no day.
    pull_load : (draw,)
        Scale of the pull effect, which the bites of one pull share.
    logit_upright : array
        On an average day, first bite; later bites add `later_logit`.
    log_buried : array
        Mean log length of rode that an upright bite buries, log m.
    buried_gap : (draw,)
        How much less one on its side buries, log scale.
    day_load, day_logit : (draw,)
        Scales of a day's effects.
    """

    log_upright: Array
    log_on_side: Array
    sd_upright: Array
    sd_on_side: Array
    logit_upright: Array
    p_sets: Array
    p_resets: Array
    p_turns: Array
    log_buried: Array
    buried_gap: Array
    later_load: Array
    later_logit: Array
    pull_load: Array
    day_load: Array
    day_logit: Array


def predict(
    parameters: Mapping[str, Array],
    rows: Sequence[SetUpRow],
    log_mass_ratio: Array,
    rng: np.random.Generator,
) -> Prediction:
    """Predict set-ups under every draw.

    Parameters
    ----------
    parameters : mapping of str to array
        ``(draw, *dims)`` for :data:`model.base.names.PARAMETER_DIMS`.
    rows : sequence of SetUpRow
        What to predict.
    log_mass_ratio : (anchor,) array
        log(mass / reference); the next anchor takes their mean.
    rng : numpy.random.Generator
        Draws the next anchor.
    """
    extended = _extend(parameters, rng)
    covariates = _covariates(rows, np.append(log_mass_ratio, log_mass_ratio.mean()))
    pull_variance = parameters["pull_load_scale"][:, None] ** 2

    def sd(mode: int) -> Array:
        scatter: Array = np.exp(log_scatter(extended, covariates, mode))
        return np.sqrt(scatter**2 + pull_variance)

    return Prediction(
        log_upright=log_load_upright(extended, covariates),
        log_on_side=log_load_on_side(extended, covariates),
        sd_upright=sd(UPRIGHT),
        sd_on_side=sd(ON_SIDE),
        logit_upright=logit_upright(extended, covariates),
        p_sets=sigmoid(logit_sets(extended, covariates)),
        p_resets=sigmoid(logit_resets(extended, covariates)),
        p_turns=sigmoid(logit_turns(extended, covariates)),
        log_buried=log_buried(extended, covariates),
        buried_gap=parameters["buried_gap"],
        later_load=parameters["later_bite_load"],
        later_logit=parameters["later_bite_upright"],
        pull_load=parameters["pull_load_scale"],
        day_load=parameters["day_load_scale"],
        day_logit=parameters["day_upright_scale"],
    )


def sigmoid(logit: Array) -> Array:
    """Inverse logit, without overflow."""
    result: Array = 0.5 * (1 + np.tanh(0.5 * logit))
    return result


def _covariates(rows: Sequence[SetUpRow], log_mass_ratio: Array) -> Rows:
    anchor_index = np.array([row.anchor_index for row in rows])
    last = np.full(len(rows), -1)  # the slots of an average site and an average day
    return Rows(
        anchor_index=anchor_index,
        seabed_index=np.array([row.seabed_index for row in rows]),
        site_index=last,
        outing_index=last,
        log_mass_ratio=log_mass_ratio[anchor_index],
        inverse_scope_shift=np.array([row.inverse_scope_shift for row in rows]),
        level=np.array([row.level for row in rows], dtype=float).reshape(len(rows), -1).T,
    )


def _extend(parameters: Mapping[str, Array], rng: np.random.Generator) -> dict[str, Any]:
    """Append the slots: an average site and day (0), and the next anchor (drawn)."""
    found = dict(parameters)
    for name in ("site_load", "day_load", "day_upright"):
        found[name] = np.concatenate([found[name], np.zeros((len(found[name]), 1))], axis=1)
    for name in BY_ANCHOR_WITH_SCALE:
        new = found[f"{name}_scale"][:, None] * rng.standard_normal((len(found[name]), 1))
        found[name] = np.concatenate([found[name], new], axis=1)
    deviation = found["mode_gap_scale"] * rng.standard_normal(len(found["mode_gap"]))
    gap = np.exp(found["mode_gap_centre"] + deviation)[:, None]
    found["mode_gap"] = np.concatenate([found["mode_gap"], gap], axis=1)
    for name, axis in BY_ANCHOR_AND_MORE.items():
        found[name] = _append_scaled(found[name], found[f"{name}_scale"], axis, rng)
    return found


def _append_scaled(values: Array, scale: Array, axis: int, rng: np.random.Generator) -> Array:
    shape = list(values.shape)
    shape[axis] = 1
    new = scale[:, None, None] * rng.standard_normal(shape)
    return np.concatenate([values, new], axis=axis)
