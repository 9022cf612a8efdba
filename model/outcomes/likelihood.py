"""Log-likelihood of every pull under every draw, in NumPy.

The sampler's density holds the same likelihood as a compiled kernel with a gradient
derived by hand (:mod:`model.graph.kernel`); a test ties the two.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.special import logsumexp

from model.base.names import NOT_SEEN, ON_SIDE, PULL, SEEN_ON_SIDE, SEEN_UPRIGHT, UPRIGHT
from model.outcomes.formula import (
    Parameters,
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
from model.outcomes.log_probability import log1mexp, log_interval, log_sigmoid
from model.outcomes.terms import Terms, likelihood_terms, quadrature

Array = NDArray[np.float64]

MODE_SIGN = {UPRIGHT: 1.0, ON_SIDE: -1.0}
CAMERA: Final = "camera"
BURIED: Final = "buried rode"
SIGNS: Final = "signs"
DRAWS_AT_ONCE: Final = 500
"""Draws that are worked out together, to bound the memory: a bite has a place at every node."""
PLACES_AT_ONCE: Final = 150_000
"""More draws at once where few pulls are asked of: 1 MB for each array on the way."""
NO_SPOILT_LOG = -1e8
"""Stands for log 0 where a spoilt bite cannot end so; finite, so gradients stay finite."""


def pull_rows(arrays: xr.Dataset) -> Rows:
    """Covariates of the pulls of a campaign's arrays, in their order."""
    anchor_index = arrays["anchor_index"].to_numpy()
    return Rows(
        anchor_index=anchor_index,
        seabed_index=arrays["seabed_index"].to_numpy(),
        site_index=arrays["site_index"].to_numpy(),
        outing_index=arrays["outing_index"].to_numpy(),
        log_mass_ratio=arrays["log_mass_ratio"].to_numpy()[anchor_index],
        inverse_scope_shift=arrays["inverse_scope_shift"].to_numpy(),
        level=arrays["level"].to_numpy().T,
    )


@dataclass(frozen=True, kw_only=True)
class BiteData:
    """What bites recorded, each ``(term,)``; see the bite variables of the arrays."""

    log_lower: Array
    log_upper: Array
    lower_log_hold: Array
    upper_log_hold: Array
    log_spoilt_share: Array
    seen: NDArray[np.int64]
    log_buried_lower: Array
    log_buried_upper: Array
    signs: NDArray[np.int64]
    is_later: Array
    is_reset: Array
    is_turn: Array
    is_unseen: Array
    pull_index: NDArray[np.int64]


def bite_data(arrays: xr.Dataset, row_index: NDArray[np.int64]) -> BiteData:
    """Gather the bite variables of rows of the dim ``bite``; ends go to log scale."""
    bite = {name: arrays[name].to_numpy()[row_index] for name in arrays if
            arrays[name].dims == ("bite",)}  # fmt: skip
    with np.errstate(divide="ignore"):
        log_share = np.log(bite["spoilt_share"])
        log_lower, log_upper = np.log(bite["lower_kn"]), np.log(bite["upper_kn"])
        buried = (np.log(bite["buried_lower_m"]), np.log(bite["buried_upper_m"]))
    return BiteData(
        log_lower=log_lower,
        log_upper=log_upper,
        lower_log_hold=bite["lower_log_hold"],
        upper_log_hold=bite["upper_log_hold"],
        log_spoilt_share=np.maximum(log_share, NO_SPOILT_LOG),
        seen=bite["seen"],
        log_buried_lower=buried[0],
        log_buried_upper=buried[1],
        signs=arrays["signs"].to_numpy()[row_index],
        is_later=bite["is_later"],
        is_reset=bite["is_reset"],
        is_turn=bite["is_turn"],
        is_unseen=bite["is_unseen"],
        pull_index=bite["pull_index"],
    )


def log_likelihood(parameters: Parameters, arrays: xr.Dataset) -> Array:
    """Log-likelihood of each pull.

    Parameters
    ----------
    parameters : mapping
        ``(draw, *dims)`` arrays for :data:`model.base.names.PARAMETER_DIMS`.
    arrays : xarray.Dataset
        From :func:`model.arrays.campaign_arrays.campaign_arrays`.

    Returns
    -------
    numpy.ndarray
        ``(draw, pull)``.
    """
    n_draw = max(len(drawn) for drawn in parameters.values())
    n_term = max(likelihood_terms(arrays).row_index.size, arrays.sizes[PULL], 1)
    at_once = max(DRAWS_AT_ONCE, PLACES_AT_ONCE // n_term)
    return np.concatenate(
        [
            _log_likelihood(
                {name: drawn[start : start + at_once] for name, drawn in parameters.items()},
                arrays,
            )
            for start in range(0, n_draw, at_once)
        ]
    )


def _log_likelihood(parameters: Parameters, arrays: xr.Dataset) -> Array:
    rows = pull_rows(arrays)
    terms = likelihood_terms(arrays)
    total = _log_sets(parameters, rows, arrays["has_set"].to_numpy())
    by_term = log_terms(parameters, arrays, rows, terms).total
    n_single = terms.single_pull_index.size
    total[:, terms.single_pull_index] += by_term[:, :n_single]
    return _add_joint(total, by_term[:, n_single:], terms)


def _log_sets(parameters: Parameters, rows: Rows, has_set: Array) -> Array:
    logit = logit_sets(parameters, rows)
    result: Array = log_sigmoid(np.where(has_set > 0, logit, -logit))
    return result


def _add_joint(total: Array, by_term: Array, terms: Terms) -> Array:
    nodes, log_weight = quadrature()
    by_row = by_term.reshape(total.shape[0], -1, nodes.size)
    by_group = np.zeros((total.shape[0], terms.joint_pull_index.size, nodes.size))
    np.add.at(by_group.swapaxes(0, 1), terms.joint_row_group, by_row.swapaxes(0, 1))
    total[:, terms.joint_pull_index] += logsumexp(by_group + log_weight, axis=-1)
    return total


@dataclass(frozen=True, kw_only=True)
class TermLogs:
    """What a term is made of, each ``(draw, term)``.

    Parameters
    ----------
    logit : array
        Log odds of upright before anything of the bite is known.
    log_range : dict of int to array
        By mode: log probability of the range, a spoilt bite's share in it.
    total : array
        Log probability of the bite, over both modes, with all that was seen of it.
    """

    logit: Array
    log_range: dict[int, Array]
    total: Array


def log_terms(parameters: Parameters, arrays: xr.Dataset, rows: Rows, terms: Terms) -> TermLogs:
    """Log probability of every term, and what it is made of."""
    data = bite_data(arrays, terms.row_index)
    pull = data.pull_index
    shift = (
        parameters["boat_bias"][..., arrays["boat_index"].to_numpy()][..., pull]
        + parameters["later_bite_load"][..., None] * data.is_later
        + parameters["pull_load_scale"][..., None] * terms.node
    )
    gauge = parameters["gauge_scatter"][..., arrays["gauge_index"].to_numpy()][..., pull]
    extra_variance = gauge**2 + parameters["pull_load_scale"][..., None] ** 2 * terms.is_single
    logit = logit_upright(parameters, rows)[..., pull]
    logit = logit + parameters["later_bite_upright"][..., None] * data.is_later
    hold = parameters["hold_exponent"][..., None]
    ends = (
        data.log_lower + hold * data.lower_log_hold,
        data.log_upper + hold * data.upper_log_hold,
    )
    spoilt = parameters["spoilt_share"][..., None]
    log_spoilt, log_sound = np.log(spoilt) + data.log_spoilt_share, np.log1p(-spoilt)
    by_mode, ranges = [], {}
    for mode, log_load in ((UPRIGHT, log_load_upright), (ON_SIDE, log_load_on_side)):
        mean = log_load(parameters, rows)[..., pull] + shift
        scatter = np.exp(log_scatter(parameters, rows, mode))[..., pull]
        sd = np.sqrt(scatter**2 + extra_variance)
        log_range = log_interval((ends[0] - mean) / sd, (ends[1] - mean) / sd)
        log_mode = log_sigmoid(MODE_SIGN[mode] * logit)
        for part in log_evidence(parameters, rows, data, mode).values():
            log_mode = log_mode + part
        ranges[mode] = np.logaddexp(log_sound + log_range, log_spoilt)
        by_mode.append(log_mode + ranges[mode])
    log_bite = np.logaddexp(*by_mode)
    again = logit_resets(parameters, rows)[..., pull], logit_turns(parameters, rows)[..., pull]
    log_resets = log_sigmoid(np.where(data.is_turn > 0, again[1], again[0]))
    seen_again = log_bite + data.is_reset * log_resets
    not_again = log1mexp(np.minimum(log_resets + log_bite, -1e-12))
    total = np.where(data.is_unseen > 0, not_again, seen_again)
    return TermLogs(logit=logit, log_range=ranges, total=total)


def log_evidence(parameters: Parameters, rows: Rows, data: BiteData, mode: int) -> dict[str, Array]:
    """Log probability of each kind of evidence given the mode, ``(draw, term)`` each.

    Given the mode they tell nothing of each other, nor of the load.
    """
    return {
        CAMERA: log_camera(parameters, data.seen, mode),
        BURIED: _log_buried(parameters, rows, data, mode),
        SIGNS: _log_signs(parameters, data.signs, mode),
    }


def _log_buried(parameters: Parameters, rows: Rows, data: BiteData, mode: int) -> Array:
    """Log probability of the range of buried rode: log-normal within a mode."""
    mean = log_buried(parameters, rows)[..., data.pull_index]
    if mode == ON_SIDE:
        mean = mean - parameters["buried_gap"][..., None]
    scatter = parameters["buried_scatter"][..., None]
    return log_interval(
        (data.log_buried_lower - mean) / scatter, (data.log_buried_upper - mean) / scatter
    )


def _log_signs(parameters: Parameters, signs: NDArray[np.int64], mode: int) -> Array:
    """Log probability of every sign's yes or no; one not written down adds nothing."""
    rate = parameters["sign_upright_rate" if mode == UPRIGHT else "sign_on_side_rate"]
    yes, no = np.log(rate)[..., None, :], np.log1p(-rate)[..., None, :]
    result: Array = np.where(signs == 1, yes, np.where(signs == 0, no, 0.0)).sum(axis=-1)
    return result


def log_camera(parameters: Parameters, seen: NDArray[np.int64], mode: int) -> Array:
    """Log probability of what the camera showed, given the mode, ``(draw, row)``."""
    base, difference = parameters["not_seen_base"], parameters["not_seen_difference"]
    logit_lost = (base + MODE_SIGN[mode] * difference / 2)[..., None]
    right: dict[int, Any] = {
        UPRIGHT: parameters["seen_upright_rate"],
        ON_SIDE: parameters["seen_on_side_rate"],
    }
    called_own = np.log(right[mode])[..., None]
    called_other = np.log1p(-right[mode])[..., None]
    own, other = (SEEN_UPRIGHT, SEEN_ON_SIDE) if mode == UPRIGHT else (SEEN_ON_SIDE, SEEN_UPRIGHT)
    log_seen = log_sigmoid(-logit_lost)
    result: Array = (
        np.where(seen == NOT_SEEN, log_sigmoid(logit_lost), 0.0)
        + np.where(seen == own, log_seen + called_own, 0.0)
        + np.where(seen == other, log_seen + called_other, 0.0)
    )
    return result
