"""What pulls tell of the variates, roughly: by which they are sampled in their own units.

See :mod:`model.graph.kernel_whitening`.
"""

from itertools import pairwise
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from model.base.names import SEEN_ON_SIDE, SEEN_UPRIGHT
from model.outcomes.design import PREDICTORS, design, positions
from model.outcomes.shape import Shape
from model.outcomes.variates import VARIATES

Array = NDArray[np.float64]

INFORMATION: Final = {
    # One pull's rough Fisher information about each predictor: loads with a
    # scatter of 0.15 and a step's width; logits as p (1 - p), less where what is
    # told of is rarely seen. Upright as told by a seen mode (0.12), and scatters
    # (0.4, 0.2) brought nothing: see DEVELOPERS.md.
    "log_load_upright": 1 / 0.25**2,
    "log_load_on_side": 1 / 0.25**2,
    "logit_upright": 0.03,
    "logit_resets": 0.10,
    "logit_turns": 0.02,
    "logit_sets": 0.05,
    "log_buried": 1 / 0.5**2,
}

SHARE_HELD: Final = 0.3
"""How far a bite that held tells of the load, of what one that let go would: that it is no lower.

Taken for nothing, an anchor that only ever held moved by so small steps that some ran into the
wall all the same; taken for a load, it moved through its long tail like a known one.
"""

SHARE_UNSEEN: Final = 0.1
"""How far a bite whose mode was not seen tells of either mode's load."""


def whitening(
    arrays: xr.Dataset, prior: dict[str, NDArray[Any]], shape: Shape, kin: Array
) -> dict[str, NDArray[Any]]:
    """Variates that pulls tell of, in blocks that have no pull in common.

    Parameters
    ----------
    arrays : xarray.Dataset
        From :func:`model.arrays.campaign_arrays.campaign_arrays`.
    prior : dict
        From :func:`model.outcomes.prior_arrays.prior_arrays`.
    shape : Shape
        Size of each dim.
    kin : (variate, variate)
        From :func:`model.outcomes.kinship.kinship`: what is whitened is mixed by it after.

    Returns
    -------
    dict of str to array
        ``told (told,)``: positions of those variates, block by block; ``block_start (block + 1,)``;
        ``information (told, widest block)`` at scales of 1, each row from its block's first column.
    """
    rows = _predictor_rows(arrays, shape) * (prior["prior_sd"] * _slope(prior, shape))
    rows = rows @ kin
    everywhere = np.ones(arrays.sizes["pull"])
    is_told = _share_told(arrays)
    weight = np.concatenate(
        [INFORMATION.get(name, 0.0) * is_told.get(name, everywhere) for name in PREDICTORS]
    )
    information = rows.T @ (rows * weight[:, None])
    told = np.flatnonzero(np.diag(information) > 0)
    _, block = connected_components(csr_array(information[np.ix_(told, told)]), directed=False)
    order = np.argsort(block, kind="stable")
    start = np.concatenate([[0], np.cumsum(np.bincount(block))]).astype(np.int64)
    return {
        "told": told[order].astype(np.int64),
        "block_start": start,
        "information": _by_block(information[np.ix_(told[order], told[order])], start),
    }


def _by_block(information: Array, start: NDArray[np.int64]) -> Array:
    """The blocks on the diagonal one under another: other columns would only take up room."""
    widest = int(np.diff(start).max(initial=0))
    found = np.zeros((len(information), widest))
    for a, b in pairwise(start):
        found[a:b, : b - a] = information[a:b, a:b]
    return found


def _predictor_rows(arrays: xr.Dataset, shape: Shape) -> Array:
    """Dense predictor matrix by variate.

    All that is told of the gaps counts for their centre: an anchor that hardly ever lies on its
    side has a gap that nothing tells of, and taken for known it moved half as freely.
    """
    found = design(arrays, shape)
    n_row, where = found.row_start.size - 1, positions(shape)
    n_variate = sum(where[name].size for name in VARIATES)
    dense = np.zeros((n_row, sum(index.size for index in where.values())))
    row = np.repeat(np.arange(n_row), np.diff(found.row_start))
    dense[row, found.column] = found.value
    dense[:, where["mode_gap_centre"]] = dense[:, where["mode_gap"]].sum(axis=1)
    dense[:, where["mode_gap"]] = 0.0
    return dense[:, :n_variate]


def _share_told(arrays: xr.Dataset) -> dict[str, Array]:
    """How much each pull tells of a predictor, of what one that shows it would, ``(pull,)``.

    A bite whose mode was not seen tells of a mixture, of neither mode's load alone: taken for a
    third of each, chains of a campaign without a camera did not always mix.
    """
    is_turn = arrays["is_turn"].to_numpy() > 0
    seen = arrays["seen"].to_numpy()
    has_let_go = np.isfinite(arrays["upper_kn"].to_numpy())
    is_buried = (arrays["buried_lower_m"] > 0) | (arrays["buried_upper_m"] < np.inf)
    of_load = np.where(has_let_go, 1.0, SHARE_HELD)
    is_upright, is_on_side = seen == SEEN_UPRIGHT, seen == SEEN_ON_SIDE
    unseen = SHARE_UNSEEN * ~(is_upright | is_on_side)
    by_bite = {
        "log_load_upright": of_load * (is_upright + unseen),
        "log_load_on_side": of_load * (is_on_side + unseen),
        "log_buried": is_buried.to_numpy(),
        "logit_resets": (arrays["is_reset"].to_numpy() > 0) & ~is_turn,
        "logit_turns": is_turn,
    }
    found = {name: np.zeros(arrays.sizes["pull"]) for name in by_bite}
    for name, share in by_bite.items():
        np.maximum.at(found[name], arrays["pull_index"].to_numpy(), share.astype(float))
    return found


def _slope(prior: dict[str, NDArray[Any]], shape: Shape) -> Array:
    """Derivative of each parameter by its variate, where the prior puts it."""
    where = positions(shape)
    slope = np.ones(prior["prior_mean"].size)
    slope[where["mode_gap_centre"]] = np.exp(prior["prior_mean"][where["mode_gap_centre"]])
    slope[where["scope_slope"]] = np.exp(prior["prior_mean"][where["scope_slope"]])
    return slope
