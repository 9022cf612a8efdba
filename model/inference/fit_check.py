"""Whether draws may be used: convergence, energy, divergences, effective size.

Thresholds of Vehtari et al. (2021) and Betancourt (2016), as commonly used.
"""

from typing import Any, Final

import numpy as np
import xarray as xr
from arviz_stats.base.array import array_stats
from numpy.typing import NDArray

from model.base.names import ON_SIDE, UPRIGHT
from model.outcomes.formula import (
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
from model.outcomes.prediction import SCALES_OF_THE_NEXT
from model.posterior.posterior import FitCheck

Array = NDArray[np.float64]

_statistics: Any = array_stats  # ships no types

RHAT_MAX: Final = 1.01
"""Beyond it the chains have not mixed: they tell different stories."""
BFMI_MIN: Final = 0.3
"""Below it the sampler moves too little in energy to reach the tails."""
ESS_MIN: Final = 400
"""Below it a quantile of a reported quantity is not stable in its second digit."""

SHARED: Final = ("later_bite_load", "later_bite_upright", "buried_gap")
"""Parameters of the whole campaign that answers take as they are."""


def check_fit(draws: xr.Dataset, arrays: xr.Dataset, energy: Array, divergences: int) -> FitCheck:
    """Judge the draws of one fit on what answers are made of.

    Parameters
    ----------
    draws : xarray.Dataset
        From :func:`model.inference.draws.named_draws`.
    arrays : xarray.Dataset
        What was fitted.
    energy : (chain, draw)
        The sampler's energy at each step, thinned by nothing: the energy of
        every other draw alone would look better mixed than it is.
    divergences : int
        After warm-up, all chains.
    """
    quantities = reported_quantities(draws, arrays)
    by_chain = quantities.reshape(energy.shape[0], -1, quantities.shape[1])
    axes = {"chain_axis": 0, "draw_axis": 1}
    rhat = float(np.max(_statistics.rhat(by_chain, **axes)))
    bulk = float(np.min(_statistics.ess(by_chain, method="bulk", **axes)))
    tail = float(np.min(_statistics.ess(by_chain, method="tail", prob=(0.05, 0.95), **axes)))
    bfmi = float(np.min(np.mean(np.diff(energy, axis=1) ** 2, axis=1) / np.var(energy, axis=1)))
    reasons = _reasons(divergences, rhat, bfmi, bulk, tail)
    return FitCheck(
        status="failed" if reasons else "passed",
        reasons=tuple(reasons),
        divergences=divergences,
        rhat_max=rhat,
        bfmi_min=bfmi,
        ess_bulk_min=bulk,
        ess_tail_min=tail,
    )


def _reasons(divergences: int, rhat: float, bfmi: float, bulk: float, tail: float) -> list[str]:
    found = {
        f"{divergences} divergent draws (none allowed)": divergences > 0,
        f"chains disagree: R-hat {rhat:.3f} (at most {RHAT_MAX})": not rhat <= RHAT_MAX,
        f"low energy information: BFMI {bfmi:.2f} (at least {BFMI_MIN})": not bfmi >= BFMI_MIN,
        f"too few effective draws: {bulk:.0f} (at least {ESS_MIN})": not bulk >= ESS_MIN,
        f"too few effective draws in a tail: {tail:.0f} (at least {ESS_MIN})": not tail >= ESS_MIN,
    }
    return [reason for reason, is_so in found.items() if is_so]


def reported_quantities(draws: xr.Dataset, arrays: xr.Dataset) -> Array:
    """What answers are made of, ``(draw, quantity)``.

    Typical load, both modes' loads and scatters, the logits and the buried rode of
    every distinct pull (its day's effects included), what a later bite adds, every
    treatment's effects, and how the next anchor differs from the average one.
    """
    parameters = {str(name): draws[name].to_numpy() for name in draws.data_vars}
    rows = _distinct_rows(arrays)
    by_anchor = parameters["treatment_load"][..., None] + parameters["treatment_anchor_load"]
    parts: list[Any] = [
        *_of_setting(parameters, rows),
        *_of_load(parameters, rows),
        log_buried(parameters, rows),
        by_anchor,
        parameters["treatment_upright"][..., None] + parameters["treatment_anchor_upright"],
        parameters["treatment_buried"][..., None] + parameters["treatment_anchor_buried"],
        parameters["treatment_load"] + parameters["treatment_upright_load"],
        *(parameters[name] for name in SHARED),
        _next_anchor(parameters),
    ]
    n_draw = draws.sizes["draw"]
    return np.concatenate([part.reshape(n_draw, -1) for part in parts], axis=1)


def _next_anchor(parameters: dict[str, Array]) -> Array:
    """How the next anchor differs, ``(draw, scale)``: answers take no scale as it is."""
    scales = np.column_stack([parameters[name] for name in SCALES_OF_THE_NEXT])
    found: Array = scales * np.random.default_rng(0).standard_normal(scales.shape)
    found[:, SCALES_OF_THE_NEXT.index("mode_gap_scale")] += parameters["mode_gap_centre"]
    return found


def _of_setting(parameters: dict[str, Array], rows: Rows) -> list[Any]:
    return [by(parameters, rows) for by in (logit_upright, logit_sets, logit_resets, logit_turns)]


def _of_load(parameters: dict[str, Array], rows: Rows) -> list[Any]:
    """Typical load, and both modes' loads and scatters, each ``(draw, row)``."""
    upright = log_load_upright(parameters, rows)
    on_side = log_load_on_side(parameters, rows)
    p = 1 / (1 + np.exp(-logit_upright(parameters, rows)))
    spreads = [_log_spread(parameters, rows, mode) for mode in (UPRIGHT, ON_SIDE)]
    return [p * upright + (1 - p) * on_side, upright, on_side, *spreads]


def _log_spread(parameters: dict[str, Array], rows: Rows, mode: int) -> Array:
    """Log scatter of one pull in a mode, the pull effect in it, ``(draw, row)``."""
    scatter: Array = log_scatter(parameters, rows, mode)
    pull = parameters["pull_load_scale"][:, None]
    return 0.5 * np.log(np.exp(2 * scatter) + pull**2)


def _distinct_rows(arrays: xr.Dataset) -> Rows:
    """One row for each distinct set-up and outing among the pulls."""
    table = np.column_stack(
        [
            *(arrays[f"{dim}_index"] for dim in ("anchor", "seabed", "site", "outing")),
            arrays["inverse_scope_shift"],
            arrays["level"],
        ]
    )
    distinct = np.unique(table, axis=0)
    index = distinct[:, :4].astype(np.int64)
    return Rows(
        anchor_index=index[:, 0],
        seabed_index=index[:, 1],
        site_index=index[:, 2],
        outing_index=index[:, 3],
        log_mass_ratio=arrays["log_mass_ratio"].to_numpy()[index[:, 0]],
        inverse_scope_shift=distinct[:, 4],
        level=distinct[:, 5:].T,
    )
