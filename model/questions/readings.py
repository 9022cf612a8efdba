"""Loads as the boat of the next pull reads them: its ladder, its bias, its gauge's scatter.

A prediction is of true loads. A pull climbs the steps of its ladder, which are
readings: beside them a capacity counts with the boat's bias and its gauge's
shift, as it does in the likelihood.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.arrays.campaign_arrays import coordinates
from model.base.names import UNNAMED
from model.outcomes.prediction import Prediction
from model.records.campaign import Campaign, Ladder

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Readings:
    """What the next pull climbs, and how far from true its loads are read.

    Parameters
    ----------
    ladder : Ladder
        Its steps are readings.
    boat : str
        Name of the boat that pulls.
    log_bias : (draw,) array
        Log of recorded over true load, the same for all that the boat pulls.
    gauge_scatter : (draw,) array
        Log scale; one shift of the whole ladder a bite.
    """

    ladder: Ladder
    boat: str
    log_bias: Array
    gauge_scatter: Array


def newest_readings(
    campaign: Campaign, parameters: Mapping[str, Array], *, outing: str | None = None
) -> Readings | None:
    """Those of the last outing that has a ladder; None where the campaign knows none.

    Parameters
    ----------
    parameters : mapping of str to array
        ``boat_bias (draw, boat)`` and ``gauge_scatter (draw, gauge)`` among them.
    outing : str or None
        An outing that comes first, if it has a ladder.
    """
    first = [] if outing is None else [campaign.outing(outing)]
    for each in [*first, *reversed(campaign.outings)]:
        ladder = campaign.ladder_of(each.name)
        if ladder is not None:
            names = coordinates(campaign)
            boat, gauge = names["boat"], names["gauge"]
            return Readings(
                ladder=ladder,
                boat=each.boat,
                log_bias=parameters["boat_bias"][:, boat.index(each.boat)],
                gauge_scatter=parameters["gauge_scatter"][:, gauge.index(each.gauge or UNNAMED)],
            )
    return None


def as_read(prediction: Prediction, readings: Readings) -> Prediction:
    """The same set-ups, their loads as the boat reads them in place of true ones."""

    def with_gauge(sd: Array) -> Array:
        result: Array = np.hypot(sd, readings.gauge_scatter[:, None])
        return result

    bias = readings.log_bias[:, None]
    return replace(
        prediction,
        log_upright=prediction.log_upright + bias,
        log_on_side=prediction.log_on_side + bias,
        sd_upright=with_gauge(prediction.sd_upright),
        sd_on_side=with_gauge(prediction.sd_on_side),
    )
