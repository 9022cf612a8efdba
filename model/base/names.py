"""Names of dims and of posterior variables, written once.

A posterior is an ``xarray.Dataset`` whose variables all begin with the dim
``draw``; :data:`PARAMETER_DIMS` lists each variable's further dims in order.
The simulator's truths use the same names without ``draw``.
"""

from typing import Final

DRAW: Final = "draw"
PULL: Final = "pull"
BITE: Final = "bite"
ANCHOR: Final = "anchor"
SEABED: Final = "seabed"
SITE: Final = "site"
OUTING: Final = "outing"
BOAT: Final = "boat"
GAUGE: Final = "gauge"
TREATMENT_LEVEL: Final = "treatment_level"
MODE: Final = "mode"
SIGN: Final = "sign"

UPRIGHT: Final = 0
ON_SIDE: Final = 1
MODES: Final = ("upright", "on_side")
"""Coordinate of the dim ``mode``: deep set first, shallow set second."""

NOTHING_SEEN: Final = 0
NOT_SEEN: Final = 1
SEEN_UPRIGHT: Final = 2
SEEN_ON_SIDE: Final = 3
"""Codes of ``seen``: no camera (or not said); camera but lost; the mode that was seen."""

NO_SIGN: Final = -1
"""Code of a sign that was not written down; 0 is no, 1 is yes."""

PARAMETER_DIMS: Final[dict[str, tuple[str, ...]]] = {
    # --- load: mean log capacity in the upright mode, log kN ---
    "load_base": (),  # c0: seabed average, reference mass, usual scope, every baseline
    "mass_exponent": (SEABED,),  # b_s
    "seabed_load": (SEABED,),  # v_s
    "anchor_load": (ANCHOR,),  # u_a
    "anchor_load_scale": (),
    "anchor_seabed_load": (ANCHOR, SEABED),  # u_as
    "anchor_seabed_load_scale": (),
    "site_load": (SITE,),  # v_site
    "site_load_scale": (),
    "scope_slope": (),  # kappa, against 1/scope
    "treatment_load": (TREATMENT_LEVEL,),  # beta_f
    "treatment_anchor_load": (TREATMENT_LEVEL, ANCHOR),  # beta_fa
    "treatment_anchor_load_scale": (),
    "treatment_seabed_load": (TREATMENT_LEVEL, SEABED),  # beta_fs
    "treatment_seabed_load_scale": (),
    "treatment_upright_load": (TREATMENT_LEVEL,),  # delta_f: only once upright
    "day_load": (OUTING,),
    "day_load_scale": (),
    "later_bite_load": (),  # rho_C
    "pull_load_scale": (),  # tau_p: patch, gear and fouling shared by the bites of one pull
    # --- gap between the modes and scatter within one, log scale ---
    "mode_gap": (ANCHOR,),  # gamma_a > 0
    "mode_gap_centre": (),  # lambda
    "mode_gap_scale": (),
    "log_scatter": (MODE,),  # log sigma_k
    "anchor_scatter": (ANCHOR,),  # deviation of log sigma
    "anchor_scatter_scale": (),
    # --- setting mode: logit of P(upright) ---
    "upright_base": (),  # alpha
    "anchor_upright": (ANCHOR,),
    "anchor_upright_scale": (),
    "anchor_seabed_upright": (ANCHOR, SEABED),
    "anchor_seabed_upright_scale": (),
    "treatment_upright": (TREATMENT_LEVEL,),  # A_f
    "treatment_anchor_upright": (TREATMENT_LEVEL, ANCHOR),  # A_fa
    "treatment_anchor_upright_scale": (),
    "day_upright": (OUTING,),
    "day_upright_scale": (),
    "later_bite_upright": (),  # rho_up
    # --- setting at all, and setting again: logits ---
    "sets_base": (),  # eta
    "anchor_sets": (ANCHOR,),
    "anchor_sets_scale": (),
    "seabed_sets": (SEABED,),
    "treatment_sets": (TREATMENT_LEVEL,),
    "resets_base": (),  # logit pi_r
    "anchor_resets": (ANCHOR,),
    "anchor_resets_scale": (),
    "turns_base": (),  # logit of setting again after the pull direction has changed
    "anchor_turns": (ANCHOR,),
    "anchor_turns_scale": (),
    # --- buried rode: mean log length in the upright mode, log m ---
    "buried_base": (),
    "anchor_buried": (ANCHOR,),
    "anchor_buried_scale": (),
    "treatment_buried": (TREATMENT_LEVEL,),  # xi_f
    "treatment_anchor_buried": (TREATMENT_LEVEL, ANCHOR),  # xi_fa
    "treatment_anchor_buried_scale": (),
    "buried_gap": (),  # how much less on its side, > 0
    "buried_scatter": (),  # of the log length within a mode
    # --- how it was measured and seen ---
    "hold_exponent": (),  # h: a hold of t seconds counts as a load higher by (t/dwell)**h
    "gauge_scatter": (GAUGE,),  # epsilon, log scale
    "boat_bias": (BOAT,),  # log(recorded / true)
    "spoilt_share": (),  # w
    "seen_upright_rate": (),  # P(called upright | upright, seen)
    "seen_on_side_rate": (),  # P(called on its side | on its side, seen)
    "not_seen_base": (),  # logit of P(not seen), average of the two modes
    "not_seen_difference": (),  # logit P(not seen | upright) minus the same on its side
    "sign_upright_rate": (SIGN,),  # P(yes | upright)
    "sign_on_side_rate": (SIGN,),  # P(yes | on its side)
}

UNNAMED: Final = "(unnamed)"
"""Coordinate of the gauge or site of pulls that name none; none may be called so."""

NOT_BASELINE: Final = "="
"""A treatment level's coordinate is ``treatment=level``, e.g. ``leader=wire 2 m``."""

AND_ALSO: Final = " & "
"""An interaction's coordinate joins two levels: ``leader=wire 2 m & chain=6 mm``."""


def treatment_level_name(treatment: str, level: str) -> str:
    """Coordinate of a level other than the baseline on the dim ``treatment_level``."""
    return f"{treatment}{NOT_BASELINE}{level}"
