"""Draws of a measure on both sides, and of the effect of A against B."""

from dataclasses import dataclass
from math import log
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from model.arrays.campaign_arrays import log_mass_ratios
from model.base.constants import INTERVAL_PROB, LOG_CAP
from model.outcomes import measures
from model.outcomes.prediction import Prediction, predict
from model.posterior.posterior import Posterior
from model.questions.answer import Estimate
from model.questions.sides import setup_rows
from model.records.answer import Interval
from model.records.question import Band, Measure, Question

Array = NDArray[np.float64]

UNITS: Final = {"load": "kN", "length": "m", "ratio": "×", "chance": "chance"}


@dataclass(frozen=True, kw_only=True)
class Predictions:
    """Both sides of a question under every draw, rows in the same order.

    Parameters
    ----------
    source : (draw,) int array or None
        Draws of one number, side by side, say the same: weighted draws that stand in several
        times. None where all are told apart.
    """

    a: Prediction
    b: Prediction
    source: NDArray[np.int64] | None = None


@dataclass(frozen=True, kw_only=True)
class MeasureDraws:
    """A measure on both sides, ``(draw,)`` each, and the effect between them.

    Parameters
    ----------
    a, b : (draw,) array
        Loads as log kN, lengths as log m, chances as they are; averaged over the rows.
    effect : (draw,) array
        Difference A minus B on that scale: a log ratio for loads.
    """

    measure: Measure
    a: Array
    b: Array
    effect: Array

    @property
    def is_ratio(self) -> bool:
        """Whether the effect is a log ratio."""
        return not self.measure.is_chance


def parameters_of(posterior: Posterior) -> dict[str, Array]:
    """Draws as plain arrays."""
    # Variables, not labelled arrays: making sixty of those takes longer than a prediction.
    return {
        str(name): posterior.draws.variables[name].to_numpy() for name in posterior.draws.data_vars
    }


def predictions(
    posterior: Posterior, question: Question, rng: np.random.Generator, *, is_additive: bool = False
) -> Predictions:
    """Predict both sides under every draw, the next anchor being the same on both.

    Additive: without what treatments do together beyond the sum of what each does.
    """
    campaign = posterior.campaign
    rows_a, rows_b = (
        setup_rows(campaign, question, setup, is_additive=is_additive)
        for setup in (question.a, question.b)
    )
    both = predict(parameters_of(posterior), rows_a + rows_b, log_mass_ratios(campaign), rng)
    n = len(rows_a)
    # The next anchor is another one in each draw, also where the draw stands in several times.
    weighed = posterior.weighed if question.over != "next" else None
    return Predictions(
        a=rows_of(both, slice(None, n)),
        b=rows_of(both, slice(n, None)),
        source=None if weighed is None else weighed.source,
    )


def rows_of(prediction: Prediction, rows: slice) -> Prediction:
    """Some rows of a prediction."""
    by_row: dict[str, Any] = {
        name: values[:, rows] if values.ndim == 2 else values
        for name, values in vars(prediction).items()
    }
    return Prediction(**by_row)


def measure_draws(
    question: Question,
    measure: Measure,
    sides: Predictions,
    cap_kn: float,
    rng: np.random.Generator,
) -> MeasureDraws:
    """A measure of both sides and the effect, averaged over anchors and seabeds.

    Parameters
    ----------
    cap_kn : float
        Where the measure ``capped`` cuts off, kN: what every pull behind the
        two sides could have reached.
    """
    if measure is Measure.NEXT:
        return _next_draws(sides, rng)
    distinct, place = _distinct(sides)
    values = [
        _values(question, measure, _of_draws(side, distinct), cap_kn).mean(axis=1)[place]
        for side in (sides.a, sides.b)
    ]
    return MeasureDraws(measure=measure, a=values[0], b=values[1], effect=values[0] - values[1])


def _distinct(sides: Predictions) -> tuple[slice | NDArray[np.int64], slice | NDArray[np.int64]]:
    """The first of each draws that say the same, and where among these each draw is found."""
    if sides.source is None:
        return slice(None), slice(None)
    is_first = np.diff(sides.source, prepend=-1) != 0
    return np.flatnonzero(is_first), np.cumsum(is_first) - 1


def _of_draws(prediction: Prediction, draws: slice | NDArray[np.int64]) -> Prediction:
    by_draw: dict[str, Any] = {name: values[draws] for name, values in vars(prediction).items()}
    return Prediction(**by_draw)


def _values(question: Question, measure: Measure, side: Prediction, cap_kn: float) -> Array:
    if measure is Measure.CAPPED:
        return measures.capped(side, cap_kn)
    if measure is Measure.HOLD and question.hold_kn is not None:
        return measures.hold(side, question.hold_kn)
    return measures.BY_NAME[measure.value](side)


def _next_draws(sides: Predictions, rng: np.random.Generator) -> MeasureDraws:
    both = {
        name: values if values.ndim == 1 else np.concatenate([values, vars(sides.b)[name]], axis=1)
        for name, values in vars(sides.a).items()
    }
    loads = measures.next_pull(Prediction(**both), rng)
    n = sides.a.p_sets.shape[1]
    which = rng.integers(n, size=len(loads))
    a, b = loads[np.arange(len(loads)), which], loads[np.arange(len(loads)), n + which]
    with np.errstate(invalid="ignore"):
        effect = np.where(np.isneginf(a) & np.isneginf(b), 0.0, a - b)
    clipped = np.clip(effect, -LOG_CAP, LOG_CAP)
    return MeasureDraws(measure=Measure.NEXT, a=a, b=b, effect=clipped)


@dataclass(frozen=True, kw_only=True)
class BandShares:
    """Chances that the effect is above 0, and above, inside, below its band."""

    higher: float
    above: float
    inside: float
    below: float


def band_ends(band: Band) -> tuple[float, float]:
    """Ends of a band on the scale of the effect draws."""
    if band.kind == "ratio":
        return log(band.lower), log(band.upper)
    return band.lower, band.upper


def band_shares(effect: Array, band: Band, weights: Array | None = None) -> BandShares:
    """Chances over draws, weighted if asked; the last three sum to 1."""
    weights = np.full(effect.size, 1 / effect.size) if weights is None else weights
    lower, upper = band_ends(band)
    above = min(float(weights[effect > upper].sum()), 1.0)
    below = min(float(weights[effect < lower].sum()), 1.0)
    higher = float(weights[effect > 0].sum() + 0.5 * weights[effect == 0].sum())
    return BandShares(
        higher=min(higher, 1.0), above=above, inside=max(0.0, 1.0 - above - below), below=below
    )


def interval(values: Array, prob: float = INTERVAL_PROB) -> Interval:
    """Equal-tailed interval of draws."""
    lower, upper = np.quantile(values, [(1 - prob) / 2, (1 + prob) / 2])
    return Interval(prob=prob, lower=float(lower), upper=float(upper))


def estimate(values: Array, unit: str) -> Estimate:
    """Median and interval of draws as they are shown."""
    return Estimate(median=float(np.median(values)), interval=interval(values), unit=unit)


def side_estimate(values: Array, measure: Measure) -> Estimate:
    """A side's own value: kN for loads, m for buried rode, a chance otherwise."""
    if measure.is_chance:
        return estimate(values, UNITS["chance"])
    return estimate(np.exp(values), UNITS["load" if measure.is_load else "length"])


def effect_estimate(draws: MeasureDraws) -> Estimate:
    """The effect as it is shown: a ratio of loads or lengths, a difference of chances."""
    if draws.is_ratio:
        return estimate(np.exp(draws.effect), UNITS["ratio"])
    return estimate(draws.effect, UNITS["chance"])
