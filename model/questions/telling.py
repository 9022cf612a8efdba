"""How much of the doubt about an answer one more pull would take away.

A stepped pull has finitely many outcomes, so what its outcome tells of where the
effect lies (above, inside or below the band) is a finite sum over the draws.
"""

from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import entr

from model.outcomes.measures import hold
from model.outcomes.prediction import Prediction
from model.posterior.posterior import Posterior
from model.questions.effect import MeasureDraws, Predictions, band_ends, parameters_of
from model.questions.readings import Readings, as_read, newest_readings
from model.questions.sides import question_seabeds
from model.records.campaign import Campaign
from model.records.question import Question

Array = NDArray[np.float64]

DOUBT_MIN_NATS: Final = 0.01
"""Below it the answer is all but certain: a share of next to nothing says nothing."""


@dataclass(frozen=True, kw_only=True)
class Telling:
    """What one more pull would tell on average.

    Parameters
    ----------
    side : str
        ``A`` or ``B``: whose set-up is pulled.
    share : float
        Of the doubt that it takes away, 0 to 1.
    """

    side: str
    anchor: str
    seabed: str
    share: float


def information(chances: Array, group: NDArray[np.int64]) -> float:
    """Mutual information of an outcome and the group that a draw is in, nats.

    Parameters
    ----------
    chances : (draw, outcome) array
        Chance of each outcome under each draw.
    group : (draw,) int
        With every draw in a group of its own: what the outcome tells of the draws themselves.
    """
    names, place = np.unique(group, return_inverse=True)
    count = np.bincount(place)
    within = np.zeros((names.size, chances.shape[1]))
    np.add.at(within, place, chances)
    within /= count[:, None]
    told = entr(chances.mean(axis=0)).sum() - (count / group.size) @ entr(within).sum(axis=1)
    return max(float(told), 0.0)


def outcome_chances(prediction: Prediction, readings: Readings) -> Array:
    """Chance of each outcome of a pull up a boat's ladder, ``(draw, row, outcome)``.

    Outcome 0 holds not even the first step (or never sets), outcome k holds step
    k and not the next, the last holds them all. What a camera would show is not in it.
    """
    seen = as_read(prediction, readings)
    held = np.stack([hold(seen, load_kn) for load_kn in readings.ladder.loads_kn], axis=-1)
    first, last = np.ones_like(held[..., :1]), np.zeros_like(held[..., :1])
    reached = np.concatenate([first, held, last], axis=-1)
    chances: Array = reached[..., :-1] - reached[..., 1:]
    return chances


def most_telling(
    posterior: Posterior, question: Question, draws: MeasureDraws, sides: Predictions
) -> Telling | None:
    """The single pull of either side that would tell most, up the newest ladder.

    None where there is hardly a doubt left, where no ladder is known, or for the
    next anchor, which cannot be pulled.
    """
    campaign = posterior.campaign
    readings = newest_readings(campaign, parameters_of(posterior))
    low, high = band_ends(question.band)
    region = (draws.effect > low).astype(np.int64) + (draws.effect > high)
    doubt = float(entr(np.bincount(region, minlength=3) / region.size).sum())
    if readings is None or question.over == "next" or doubt < DOUBT_MIN_NATS:
        return None
    found = [
        Telling(side=name, anchor=anchor, seabed=seabed, share=told / doubt)
        for name, side, codes in (
            ("A", sides.a, _anchors(campaign, question.a.anchor)),
            ("B", sides.b, _anchors(campaign, question.b.anchor)),
        )
        for (anchor, seabed), told in zip(
            product(codes, question_seabeds(campaign, question)),
            _told(side, readings, region),
            strict=True,
        )
    ]
    return max(found, key=lambda one: one.share)


def _anchors(campaign: Campaign, code: str | None) -> tuple[str, ...]:
    return tuple(anchor.code for anchor in campaign.anchors) if code is None else (code,)


def _told(side: Prediction, readings: Readings, region: NDArray[np.int64]) -> list[float]:
    chances = outcome_chances(side, readings)
    return [information(chances[:, row], region) for row in range(chances.shape[1])]
