"""The linear predictors, written once, in NumPy.

Each function only indexes with ``[..., index]``, adds, multiplies and sums
over treatment levels. Given draws with a leading ``draw`` dim it predicts any
set-up, also one never pulled; given unit vectors it yields the sparse matrix by
which the sampler's kernel multiplies (:mod:`model.outcomes.design`), so the
formula stands nowhere else. Parameters are named as in :data:`model.base.names.PARAMETER_DIMS`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

Parameters = Mapping[str, Any]
"""Name to array, ``(draw, *dims)``."""


@dataclass(frozen=True, kw_only=True)
class Rows:
    """Covariates of the rows to predict; every array ends in the dim ``row``.

    Parameters
    ----------
    anchor_index, seabed_index, site_index, outing_index : (row,) int
        Positions on the parameter dims.
    log_mass_ratio : (row,) float
        log(mass / reference mass).
    inverse_scope_shift : (row,) float
        1/scope minus 1/usual scope: the sine of the pull angle, shifted.
    level : (treatment_level, row) float
        1 where a changed level is on.
    """

    anchor_index: Any
    seabed_index: Any
    site_index: Any
    outing_index: Any
    log_mass_ratio: Any
    inverse_scope_shift: Any
    level: Any


def _sum_levels(rows: Rows, effect: Any) -> Any:
    return (rows.level * effect).sum(axis=-2)


def logit_sets(parameters: Parameters, rows: Rows) -> Any:
    """Logit of the chance that a pull sets at all, ``(..., row)``."""
    return (
        parameters["sets_base"][..., None]
        + parameters["anchor_sets"][..., rows.anchor_index]
        + parameters["seabed_sets"][..., rows.seabed_index]
        + _sum_levels(rows, parameters["treatment_sets"][..., None])
    )


def logit_upright(parameters: Parameters, rows: Rows) -> Any:
    """Logit of the chance that a fresh bite is upright, ``(..., row)``."""
    effect = (
        parameters["treatment_upright"][..., None]
        + parameters["treatment_anchor_upright"][..., rows.anchor_index]
    )
    return (
        parameters["upright_base"][..., None]
        + parameters["anchor_upright"][..., rows.anchor_index]
        + parameters["anchor_seabed_upright"][..., rows.anchor_index, rows.seabed_index]
        + parameters["day_upright"][..., rows.outing_index]
        + _sum_levels(rows, effect)
    )


def logit_resets(parameters: Parameters, rows: Rows) -> Any:
    """Logit of the chance that a released anchor digs in again, ``(..., row)``."""
    return (
        parameters["resets_base"][..., None] + parameters["anchor_resets"][..., rows.anchor_index]
    )


def logit_turns(parameters: Parameters, rows: Rows) -> Any:
    """Logit of the chance that an anchor sets again after a turn, ``(..., row)``."""
    return parameters["turns_base"][..., None] + parameters["anchor_turns"][..., rows.anchor_index]


def log_buried(parameters: Parameters, rows: Rows) -> Any:
    """Mean log length of buried rode of an upright bite, log m, ``(..., row)``."""
    effect = (
        parameters["treatment_buried"][..., None]
        + parameters["treatment_anchor_buried"][..., rows.anchor_index]
    )
    return (
        parameters["buried_base"][..., None]
        + parameters["anchor_buried"][..., rows.anchor_index]
        + _sum_levels(rows, effect)
    )


def log_load_common(parameters: Parameters, rows: Rows) -> Any:
    """Mean log capacity shared by both modes (upright, before delta), log kN, ``(..., row)``."""
    effect = (
        parameters["treatment_load"][..., None]
        + parameters["treatment_anchor_load"][..., rows.anchor_index]
        + parameters["treatment_seabed_load"][..., rows.seabed_index]
    )
    return (
        parameters["load_base"][..., None]
        + parameters["anchor_load"][..., rows.anchor_index]
        + parameters["mass_exponent"][..., rows.seabed_index] * rows.log_mass_ratio
        + parameters["seabed_load"][..., rows.seabed_index]
        + parameters["anchor_seabed_load"][..., rows.anchor_index, rows.seabed_index]
        + parameters["site_load"][..., rows.site_index]
        - parameters["scope_slope"][..., None] * rows.inverse_scope_shift
        + parameters["day_load"][..., rows.outing_index]
        + _sum_levels(rows, effect)
    )


def log_load_upright(parameters: Parameters, rows: Rows) -> Any:
    """Mean log capacity of a fresh upright bite, log kN, ``(..., row)``."""
    only_upright = _sum_levels(rows, parameters["treatment_upright_load"][..., None])
    return log_load_common(parameters, rows) + only_upright


def log_load_on_side(parameters: Parameters, rows: Rows) -> Any:
    """Mean log capacity of a fresh bite on its side, log kN, ``(..., row)``."""
    return log_load_common(parameters, rows) - parameters["mode_gap"][..., rows.anchor_index]


def log_scatter(parameters: Parameters, rows: Rows, mode: int) -> Any:
    """Log of the scatter of log capacity within a mode, ``(..., row)``."""
    return (
        parameters["log_scatter"][..., mode][..., None]
        + parameters["anchor_scatter"][..., rows.anchor_index]
    )
