"""What every draw says of the first bite of every pull, its day and ground included."""

from dataclasses import dataclass

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.special import ndtr

from model.base.names import NOT_SEEN, ON_SIDE, SEEN_ON_SIDE, SEEN_UPRIGHT, UPRIGHT
from model.outcomes.formula import (
    Parameters,
    log_load_on_side,
    log_load_upright,
    log_scatter,
    logit_sets,
    logit_upright,
)
from model.outcomes.likelihood import log_camera, pull_rows
from model.outcomes.prediction import sigmoid

Array = NDArray[np.float64]

SEEN: tuple[int, ...] = (SEEN_UPRIGHT, SEEN_ON_SIDE, NOT_SEEN)
"""What a camera can show, by the codes of the arrays."""


@dataclass(frozen=True, kw_only=True)
class FirstBites:
    """Chances of the first bites, ``(draw, pull)`` unless said otherwise.

    Parameters
    ----------
    p_sets, p_upright : array
        That it sets at all; of one that did, that it is upright.
    mean, sd : (mode, draw, pull) array
        Of the recorded log load, log kN: boat and gauge counted, the pull effect in the sd.
    hold_exponent, spoilt : (draw,) array
        How much a long hold adds, and the share of spoilt bites.
    seen : (mode, 3, draw) array
        Chance of each of ``SEEN`` where a camera was used.
    """

    p_sets: Array
    p_upright: Array
    mean: Array
    sd: Array
    hold_exponent: Array
    spoilt: Array
    seen: Array

    @property
    def p_mode(self) -> Array:
        """Chance of each mode of a bite that set, ``(mode, draw, pull)``."""
        return np.stack([self.p_upright, 1 - self.p_upright])

    def below(self, log_kn: Array, log_hold: Array) -> Array:
        """Chance of a sound bite below a load, ``(mode, draw, pull)``.

        Parameters
        ----------
        log_kn : (pull,) array
            Log load; minus infinity for none.
        log_hold : (pull,) array
            Log of how many dwells it was held there.
        """
        edge = log_kn + self.hold_exponent[:, None] * log_hold
        found: Array = ndtr((edge - self.mean) / self.sd)
        return found


def first_bites(parameters: Parameters, arrays: xr.Dataset) -> FirstBites:
    """Work out the first bites of the pulls of a campaign's arrays, in their order.

    Parameters
    ----------
    parameters : mapping
        ``(draw, *dims)`` arrays for :data:`model.base.names.PARAMETER_DIMS`.
    arrays : xarray.Dataset
        From :func:`model.arrays.campaign_arrays.campaign_arrays`.
    """
    rows = pull_rows(arrays)
    bias = parameters["boat_bias"][:, arrays["boat_index"].to_numpy()]
    gauge = parameters["gauge_scatter"][:, arrays["gauge_index"].to_numpy()]
    extra = gauge**2 + parameters["pull_load_scale"][:, None] ** 2
    scatters = [np.exp(2 * log_scatter(parameters, rows, mode)) for mode in (UPRIGHT, ON_SIDE)]
    codes = np.array(SEEN, dtype=np.int64)
    return FirstBites(
        p_sets=sigmoid(logit_sets(parameters, rows)),
        p_upright=sigmoid(logit_upright(parameters, rows)),
        mean=np.stack(
            [log_load_upright(parameters, rows) + bias, log_load_on_side(parameters, rows) + bias]
        ),
        sd=np.sqrt(np.stack(scatters) + extra),
        hold_exponent=parameters["hold_exponent"],
        spoilt=parameters["spoilt_share"],
        seen=np.exp(
            np.stack([log_camera(parameters, codes, mode).T for mode in (UPRIGHT, ON_SIDE)])
        ),
    )


def thinned(parameters: Parameters, most: int) -> dict[str, Array]:
    """At most so many draws, evenly from all chains."""
    n_draw = max(len(drawn) for drawn in parameters.values())
    chosen = np.linspace(0, n_draw - 1, min(most, n_draw)).astype(np.int64)
    return {name: drawn[chosen] for name, drawn in parameters.items()}
