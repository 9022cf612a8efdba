"""How likely each bite was upright given everything seen of its pull, and what moved it.

The log odds of the mode add up: what the set-up says before any evidence, then
the load, then each kind of evidence. Each part is exact, the pull effect that
the bites of one pull share integrated out.
"""

from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from model.outcomes.formula import Parameters

Array = NDArray[np.float64]

SET_UP: Final = "set-up"
LOAD: Final = "load"
CAMERA: Final = "camera"
BURIED: Final = "buried rode"
SIGNS: Final = "signs"
PARTS: Final = (SET_UP, LOAD, CAMERA, BURIED, SIGNS)
"""What the log odds of a bite's mode are made of, in the order in which they are added."""


def mode_log_odds(parameters: Parameters, arrays: xr.Dataset) -> dict[str, Array]:
    """Parts of the log odds of upright against on its side, of every bite that was seen.

    Parameters
    ----------
    parameters : mapping
        ``(draw, *dims)`` arrays for :data:`model.base.names.PARAMETER_DIMS`.
    arrays : xarray.Dataset
        From :func:`model.arrays.campaign_arrays.campaign_arrays`.

    Returns
    -------
    dict of str to array
        ``(draw, bite)`` for each of ``PARTS``, over all rows of the dim
        ``bite``; their sum is the log odds given everything.
    """
    raise NotImplementedError
