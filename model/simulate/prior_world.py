"""A truth drawn from the priors."""

from collections.abc import Mapping
from math import log

import numpy as np
from numpy.typing import NDArray

from model.base.names import ANCHOR, OUTING, PARAMETER_DIMS, SEABED, SITE, TREATMENT_LEVEL
from model.base.priors import Normal, Priors
from model.records.campaign import Campaign
from model.simulate.world import World, dim_names

Array = NDArray[np.float64]


def draw_world(campaign: Campaign, priors: Priors, rng: np.random.Generator) -> World:
    """Draw one truth for a campaign from the priors.

    Parameters
    ----------
    campaign : Campaign
        Gives the names, the seabeds' classes, the boats' calibration errors
        and the gauges' repeatability.
    priors : Priors
        What is believed before any pull.

    Returns
    -------
    World
        Every parameter, those the campaign cannot inform included.
    """
    sizes = {dim: len(names) for dim, names in dim_names(campaign).items()}
    values = {
        **_load(campaign, priors, rng, sizes),
        **_modes(priors, rng, sizes),
        **_setting(priors, rng, sizes),
        **_measuring(campaign, priors, rng),
        **_burial(priors, rng, sizes),
        **_signs(campaign, priors, rng),
    }
    values |= _of_kin(campaign, priors.kin_correlation, values)
    return World(campaign=campaign, values={name: values[name] for name in PARAMETER_DIMS})


def _of_kin(
    campaign: Campaign, correlation: float, values: Mapping[str, Array]
) -> dict[str, Array]:
    """Effects by anchor, a linked specimen's mostly those of the one it was made from."""
    descent = _oldest_first(campaign)
    found = {}
    for name, dims in PARAMETER_DIMS.items():
        if ANCHOR not in dims:
            continue
        is_gap = name == "mode_gap"
        middle = values["mode_gap_centre"] if is_gap else 0.0
        away = (np.log(values[name]) if is_gap else values[name]) - middle
        by_anchor = np.moveaxis(away, dims.index(ANCHOR), 0)  # a view: `away` is written to
        for new, old in descent:
            own = np.sqrt(1 - correlation**2) * by_anchor[new]
            by_anchor[new] = correlation * by_anchor[old] + own
        found[name] = np.exp(middle + away) if is_gap else away
    return found


def _oldest_first(campaign: Campaign) -> list[tuple[int, int]]:
    """Positions of each linked specimen and of the one it was made from, that one's own first."""
    codes = [anchor.code for anchor in campaign.anchors]
    older = {anchor.code: anchor.modified_from for anchor in campaign.anchors}

    def age(code: str) -> int:
        source = older[code]
        return 0 if source is None else 1 + age(source)

    return [
        (codes.index(code), codes.index(source))
        for code in sorted(codes, key=age)
        if (source := older[code]) is not None
    ]


def _normal(rng: np.random.Generator, prior: Normal, size: int | tuple[int, ...] = ()) -> Array:
    return np.asarray(rng.normal(prior.mean, prior.sd, size), dtype=np.float64)


def _half_normal(rng: np.random.Generator, scale: float) -> Array:
    return np.asarray(abs(rng.normal(0.0, scale)), dtype=np.float64)


def _spread(
    rng: np.random.Generator, name: str, prior_scale: float, size: int | tuple[int, ...]
) -> dict[str, Array]:
    """A scale and the deviations that have it: ``name_scale`` and ``name``."""
    scale = _half_normal(rng, prior_scale)
    return {
        f"{name}_scale": scale,
        name: np.asarray(rng.normal(0.0, float(scale), size), dtype=np.float64),
    }


def _load(
    campaign: Campaign, priors: Priors, rng: np.random.Generator, sizes: Mapping[str, int]
) -> dict[str, Array]:
    anchors, seabeds, levels = sizes[ANCHOR], sizes[SEABED], sizes[TREATMENT_LEVEL]
    exponents = [priors.mass_exponent[seabed.seabed_class] for seabed in campaign.seabeds]
    return {
        "load_base": _normal(rng, priors.load_base),
        "mass_exponent": np.array([rng.normal(prior.mean, prior.sd) for prior in exponents]),
        "seabed_load": _normal(rng, priors.seabed_load, seabeds),
        **_spread(rng, "anchor_load", priors.anchor_load_scale, anchors),
        **_spread(rng, "anchor_seabed_load", priors.anchor_seabed_load_scale, (anchors, seabeds)),
        **_spread(rng, "site_load", priors.site_load_scale, sizes[SITE]),
        "scope_slope": np.exp(_normal(rng, priors.scope_slope)),
        "treatment_load": _normal(rng, priors.treatment_load, levels),
        **_spread(
            rng, "treatment_anchor_load", priors.treatment_anchor_load_scale, (levels, anchors)
        ),
        **_spread(
            rng, "treatment_seabed_load", priors.treatment_seabed_load_scale, (levels, seabeds)
        ),
        "treatment_upright_load": _normal(rng, priors.treatment_upright_load, levels),
        **_spread(rng, "day_load", priors.day_load_scale, sizes[OUTING]),
        "later_bite_load": _normal(rng, priors.later_bite_load),
        "pull_load_scale": _half_normal(rng, priors.pull_load_scale),
    }


def _modes(priors: Priors, rng: np.random.Generator, sizes: Mapping[str, int]) -> dict[str, Array]:
    anchors, seabeds, levels = sizes[ANCHOR], sizes[SEABED], sizes[TREATMENT_LEVEL]
    centre = _normal(rng, priors.mode_gap_centre)
    gap = _spread(rng, "mode_gap", priors.mode_gap_scale, anchors)
    return {
        "mode_gap": np.exp(centre + gap["mode_gap"]),
        "mode_gap_centre": centre,
        "mode_gap_scale": gap["mode_gap_scale"],
        "log_scatter": _normal(rng, priors.log_scatter, 2),
        **_spread(rng, "anchor_scatter", priors.anchor_scatter_scale, anchors),
        "upright_base": _normal(rng, priors.upright_base),
        **_spread(rng, "anchor_upright", priors.anchor_upright_scale, anchors),
        **_spread(
            rng, "anchor_seabed_upright", priors.anchor_seabed_upright_scale, (anchors, seabeds)
        ),
        "treatment_upright": _normal(rng, priors.treatment_upright, levels),
        **_spread(
            rng,
            "treatment_anchor_upright",
            priors.treatment_anchor_upright_scale,
            (levels, anchors),
        ),
        **_spread(rng, "day_upright", priors.day_upright_scale, sizes[OUTING]),
        "later_bite_upright": _normal(rng, priors.later_bite_upright),
    }


def _setting(
    priors: Priors, rng: np.random.Generator, sizes: Mapping[str, int]
) -> dict[str, Array]:
    return {
        "sets_base": _normal(rng, priors.sets_base),
        **_spread(rng, "anchor_sets", priors.anchor_sets_scale, sizes[ANCHOR]),
        "seabed_sets": _normal(rng, priors.seabed_sets, sizes[SEABED]),
        "treatment_sets": _normal(rng, priors.treatment_sets, sizes[TREATMENT_LEVEL]),
        "resets_base": _normal(rng, priors.resets_base),
        **_spread(rng, "anchor_resets", priors.anchor_resets_scale, sizes[ANCHOR]),
        "turns_base": _normal(rng, priors.turns_base),
        **_spread(rng, "anchor_turns", priors.anchor_turns_scale, sizes[ANCHOR]),
    }


def _burial(priors: Priors, rng: np.random.Generator, sizes: Mapping[str, int]) -> dict[str, Array]:
    anchors, levels = sizes[ANCHOR], sizes[TREATMENT_LEVEL]
    return {
        "buried_base": _normal(rng, priors.buried_base),
        **_spread(rng, "anchor_buried", priors.anchor_buried_scale, anchors),
        "treatment_buried": _normal(rng, priors.treatment_buried, levels),
        **_spread(
            rng, "treatment_anchor_buried", priors.treatment_anchor_buried_scale, (levels, anchors)
        ),
        "buried_gap": np.exp(_normal(rng, priors.buried_gap)),
        "buried_scatter": np.exp(_normal(rng, priors.buried_scatter)),
    }


def _signs(campaign: Campaign, priors: Priors, rng: np.random.Generator) -> dict[str, Array]:
    rates: dict[str, list[float]] = {"upright": [], "on_side": []}
    for sign in campaign.signs:
        for mode, drawn in rates.items():
            is_pointed_at = sign.points_to == mode
            prior = priors.sign_pointed_at if is_pointed_at else priors.sign_pointed_away
            drawn.append(rng.beta(prior.a, prior.b))
    return {f"sign_{mode}_rate": np.array(drawn) for mode, drawn in rates.items()}


def _measuring(campaign: Campaign, priors: Priors, rng: np.random.Generator) -> dict[str, Array]:
    rate = priors.seen_rate
    return {
        "hold_exponent": _half_normal(rng, priors.hold_exponent_scale),
        "gauge_scatter": np.array(
            [_gauge_scatter(campaign, name, priors, rng) for name in dim_names(campaign)["gauge"]]
        ),
        "boat_bias": np.array([rng.normal(0.0, boat.calibration_error) for boat in campaign.boats]),
        "spoilt_share": np.asarray(rng.beta(priors.spoilt_share.a, priors.spoilt_share.b)),
        "seen_upright_rate": np.asarray(rng.beta(rate.a, rate.b)),
        "seen_on_side_rate": np.asarray(rng.beta(rate.a, rate.b)),
        "not_seen_base": _normal(rng, priors.not_seen_base),
        "not_seen_difference": _normal(rng, priors.not_seen_difference),
    }


def _gauge_scatter(
    campaign: Campaign, name: str, priors: Priors, rng: np.random.Generator
) -> float:
    stated = {gauge.name: gauge.repeatability for gauge in campaign.gauges}.get(name)
    if stated is None:
        prior = priors.gauge_scatter
    else:
        prior = Normal(mean=log(stated), sd=priors.gauge_scatter_known_sd)
    return float(np.exp(rng.normal(prior.mean, prior.sd)))
