"""How likely each bite was upright given everything seen of its pull, and what moved it.

The log odds of the mode add up: what the set-up says before any evidence, then
the load, then each kind of evidence. Each part is exact, the pull effect that
the bites of one pull share integrated out.
"""

from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.special import logsumexp

from model.base.names import BITE, ON_SIDE, UPRIGHT
from model.outcomes.formula import Parameters
from model.outcomes.likelihood import (
    BURIED,
    CAMERA,
    SIGNS,
    TermLogs,
    bite_data,
    log_evidence,
    log_terms,
    pull_rows,
)
from model.outcomes.terms import Terms, likelihood_terms, quadrature

Array = NDArray[np.float64]

SET_UP: Final = "set-up"
LOAD: Final = "load"
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
        ``bite``; their sum is the log odds given everything. NaN for a next
        bite that never came: what was not there has no mode.
    """
    terms = likelihood_terms(arrays)
    logs = log_terms(parameters, arrays, pull_rows(arrays), terms)
    found = {
        SET_UP: _by_row(logs.logit, terms),
        LOAD: _load_part(logs, terms),
        **evidence_parts(parameters, arrays),
    }
    is_unseen = arrays["is_unseen"].to_numpy() > 0
    return {name: np.where(is_unseen, np.nan, found[name]) for name in PARTS}


def evidence_parts(parameters: Parameters, arrays: xr.Dataset) -> dict[str, Array]:
    """Log P(seen | upright) less log P(seen | on its side) of every kind, ``(draw, bite)`` each.

    A kind of which nothing was recorded for a bite is exactly 0 there.
    """
    rows, data = pull_rows(arrays), bite_data(arrays, np.arange(arrays.sizes[BITE]))
    up, side = (log_evidence(parameters, rows, data, mode) for mode in (UPRIGHT, ON_SIDE))
    return {kind: up[kind] - side[kind] for kind in up}


def _by_row(by_term: Array, terms: Terms) -> Array:
    """What is alike at every node, from terms to rows ``(draw, bite)``."""
    found = np.empty((len(by_term), terms.row_index.max(initial=-1) + 1))
    found[:, terms.row_index] = by_term
    return found


def _load_part(logs: TermLogs, terms: Terms) -> Array:
    """Log ratio of the chances that the two modes give to all the ranges of a bite's pull.

    Alone in its pull, a bite has its own range only. Otherwise the other bites
    tell which pull effects are likely, and with them what the range is worth.
    """
    n_single = terms.single_pull_index.size
    difference = logs.log_range[UPRIGHT] - logs.log_range[ON_SIDE]
    found = _by_row(difference, terms)
    others = _other_bites(logs.total[:, n_single:], terms)
    up, side = (
        logsumexp(logs.log_range[mode][:, n_single:].reshape(others.shape) + others, axis=-1)
        for mode in (UPRIGHT, ON_SIDE)
    )
    found[:, _joint_rows(terms)] = up - side
    return found


def _joint_rows(terms: Terms) -> NDArray[np.int64]:
    """Rows that share a pull effect with others, in the order of their terms."""
    n_nodes = quadrature()[0].size
    return terms.row_index[terms.single_pull_index.size :: n_nodes]


def _other_bites(joint: Array, terms: Terms) -> Array:
    """Log weight of each node by the other bites of the pull, ``(draw, joint row, node)``."""
    nodes, log_weight = quadrature()
    by_row = joint.reshape(len(joint), -1, nodes.size)
    by_pull = np.zeros((len(joint), terms.joint_pull_index.size, nodes.size))
    np.add.at(by_pull.swapaxes(0, 1), terms.joint_row_group, by_row.swapaxes(0, 1))
    return by_pull[:, terms.joint_row_group] - by_row + log_weight
