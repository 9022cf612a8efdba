"""What a linked specimen shares with the one it was made from, before any pull.

A bent, modified or long-laid-up anchor is a specimen of its own, but not a
stranger: each of its effects is a share of the old one's plus news of its own,
so that what the old one showed counts for it, and it may still have changed.
"""

from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from model.base.names import ANCHOR, PARAMETER_DIMS
from model.outcomes.design import positions
from model.outcomes.shape import Shape
from model.outcomes.variates import FROM_SCALE, VARIATES

Array = NDArray[np.float64]

BY_ANCHOR: Final = tuple(name for name in FROM_SCALE if ANCHOR in PARAMETER_DIMS[name])
"""Parameters that every anchor has a deviation of."""


def kinship(arrays: xr.Dataset, shape: Shape, correlation: float) -> Array:
    """Matrix ``(variate, variate)`` from independent standard normals to those of kin.

    Parameters
    ----------
    arrays : xarray.Dataset
        ``modified_from_index (anchor)``: position of the older specimen, -1 for none.
    shape : Shape
        Size of each dim.
    correlation : float
        Between a specimen and the one it was made from, 0 to 1; twice removed its square.
    """
    where = positions(shape)
    found = np.eye(sum(where[name].size for name in VARIATES))
    mixed = of_anchors(arrays["modified_from_index"].to_numpy(), shape.anchor, correlation)
    for name in BY_ANCHOR:
        by_anchor = np.moveaxis(where[name], PARAMETER_DIMS[name].index(ANCHOR), 0)
        for index in by_anchor.reshape(shape.anchor, -1).T:
            found[np.ix_(index, index)] = mixed
    return found


def of_anchors(older: NDArray[np.int64], n_anchor: int, correlation: float) -> Array:
    """The same for anchors, ``(anchor, anchor)``; a newer one may stand before its older."""
    found, waiting = np.eye(n_anchor), dict(enumerate(older.tolist()))
    while waiting:
        for anchor, source in list(waiting.items()):
            if source in waiting:
                continue
            if source >= 0:
                found[anchor] = correlation * found[source]
                found[anchor, anchor] = np.sqrt(1 - correlation**2)
            del waiting[anchor]
    return found
