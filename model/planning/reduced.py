"""Draws reduced to what planned pulls and their questions touch, as one plain vector a draw.

A fit has some thousands of draws; a rehearsal needs a hundred thousand, or the weights of a dozen
pulls rest on a handful. What set-ups predict is a short vector, unbounded in each place, so that
more draws can be had from a smooth density (:mod:`model.planning.reference`).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.outcomes.measures import of_bites
from model.outcomes.prediction import Prediction, sigmoid
from model.questions.readings import Readings

Array = NDArray[np.float64]

LEAST: Final = 1e-6
"""Scales and chances nearer to their bound than this are taken as this far from it."""

BY_ROW: Final = (
    "log_upright",
    "log_on_side",
    "log_sd_upright",
    "log_sd_on_side",
    "logit_upright",
    "logit_sets",
    "logit_resets",
    "logit_turns",
    "log_buried",
)
"""What a set-up predicts, each without bounds; scatters are of one bite, its pull's left out."""

BY_DRAW: Final = (
    "log_buried_gap",
    "later_load",
    "later_logit",
    "log_pull_load",
    "log_day_load",
    "log_day_logit",
    "log_gauge",
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
"""What all set-ups share; ``today`` is the day on which is pulled, drawn once a draw."""


@dataclass(frozen=True, kw_only=True)
class Reduced:
    """Draws of what the rows predict.

    Parameters
    ----------
    by_row : dict of str to (row, draw) array
        For each of ``BY_ROW``.
    by_draw : dict of str to (draw,) array
        For each of ``BY_DRAW``, and whatever else goes along.
    """

    by_row: Mapping[str, Array]
    by_draw: Mapping[str, Array]

    @property
    def n_draw(self) -> int:
        """How many draws."""
        return int(self.by_row["log_upright"].shape[1])

    def vectors(self) -> Array:
        """One vector a draw, ``(draw, place)``."""
        rows = [self.by_row[name].T for name in BY_ROW]
        others = np.stack(list(self.by_draw.values()), axis=1)
        return np.concatenate([*rows, others], axis=1)

    def places_of(self, names: frozenset[str]) -> NDArray[np.bool_]:
        """Which places of a vector are of these names, ``(place,)``."""
        n_row = self.by_row["log_upright"].shape[0]
        of_rows = np.repeat([name in names for name in BY_ROW], n_row)
        return np.concatenate([of_rows, [name in names for name in self.by_draw]])

    def like(self, vectors: NDArray[np.floating]) -> "Reduced":
        """Other draws ``(draw, place)`` of the same rows."""
        n_row = self.by_row["log_upright"].shape[0]
        parts = np.ascontiguousarray(vectors.T)
        by_row = {name: parts[i * n_row : (i + 1) * n_row] for i, name in enumerate(BY_ROW)}
        rest = parts[len(BY_ROW) * n_row :]
        return Reduced(by_row=by_row, by_draw=dict(zip(self.by_draw, rest, strict=True)))

    def chosen(self, which: NDArray[np.int64]) -> "Reduced":
        """Some of the draws."""
        return Reduced(
            by_row={name: values[:, which] for name, values in self.by_row.items()},
            by_draw={name: values[which] for name, values in self.by_draw.items()},
        )

    def prediction(self, rows: NDArray[np.int64] | slice = slice(None)) -> Prediction:
        """What some rows predict, as measures take it, ``(draw, row)``."""
        row = {name: values[rows].T for name, values in self.by_row.items()}
        draw = self.by_draw
        pull_load = np.exp(draw["log_pull_load"])

        def sd(name: str) -> Array:
            found: Array = np.hypot(np.exp(row[name]), pull_load[:, None])
            return found

        return Prediction(
            log_upright=row["log_upright"],
            log_on_side=row["log_on_side"],
            sd_upright=sd("log_sd_upright"),
            sd_on_side=sd("log_sd_on_side"),
            logit_upright=row["logit_upright"],
            p_sets=sigmoid(row["logit_sets"]),
            p_resets=sigmoid(row["logit_resets"]),
            p_turns=sigmoid(row["logit_turns"]),
            log_buried=row["log_buried"],
            buried_gap=np.exp(draw["log_buried_gap"]),
            later_load=draw["later_load"],
            later_logit=draw["later_logit"],
            pull_load=pull_load,
            day_load=np.exp(draw["log_day_load"]),
            day_logit=np.exp(draw["log_day_logit"]),
        )


def reduce(
    prediction: Prediction,
    parameters: Mapping[str, Array],
    readings: Readings,
    today: tuple[Array, Array],
    also: Mapping[str, Array],
) -> Reduced:
    """Reduce draws to what the rows of a prediction say.

    Parameters
    ----------
    prediction : Prediction
        ``(draw, row)``, true loads on an average day.
    parameters : mapping of str to array
        Draws of the campaign's parameters.
    readings : Readings
        Of the boat that will pull.
    today : (draw,) and (draw,)
        The day's effects on log load and on the logit of upright.
    also : mapping of str to (draw,) array
        More that goes along with each draw.
    """
    bites = of_bites(prediction)
    by_row = {
        "log_upright": prediction.log_upright,
        "log_on_side": prediction.log_on_side,
        "log_sd_upright": np.log(bites.sd_upright),
        "log_sd_on_side": np.log(bites.sd_on_side),
        "logit_upright": prediction.logit_upright,
        "logit_sets": _logit(prediction.p_sets),
        "logit_resets": _logit(prediction.p_resets),
        "logit_turns": _logit(prediction.p_turns),
        "log_buried": prediction.log_buried,
    }
    by_draw = {
        "log_buried_gap": _log(prediction.buried_gap),
        "later_load": prediction.later_load,
        "later_logit": prediction.later_logit,
        "log_pull_load": _log(prediction.pull_load),
        "log_day_load": _log(prediction.day_load),
        "log_day_logit": _log(prediction.day_logit),
        "log_gauge": _log(readings.gauge_scatter),
        "boat_bias": readings.log_bias,
        "logit_spoilt": _logit(parameters["spoilt_share"]),
        "log_hold_exponent": _log(parameters["hold_exponent"]),
        "logit_seen_upright": _logit(parameters["seen_upright_rate"]),
        "logit_seen_on_side": _logit(parameters["seen_on_side_rate"]),
        "not_seen_base": parameters["not_seen_base"],
        "not_seen_difference": parameters["not_seen_difference"],
        "today_load": today[0],
        "today_logit": today[1],
    }
    return Reduced(
        by_row={name: by_row[name].T for name in BY_ROW},
        by_draw={**{name: by_draw[name] for name in BY_DRAW}, **also},
    )


def _log(values: Array) -> Array:
    found: Array = np.log(np.maximum(values, LEAST))
    return found


def _logit(chances: Array) -> Array:
    within = np.clip(chances, LEAST, 1 - LEAST)
    found: Array = np.log(within) - np.log1p(-within)
    return found
