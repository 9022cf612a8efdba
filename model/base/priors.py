"""The priors as data, each with its reason.

They are starting points; the prior-predictive check decides whether they
stay. Where no source is named, the reason is common practice or judgement.
Scales written ``HalfNormal(s)`` are given by their s.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from math import log
from typing import Any, Final

from model.base.constants import REFERENCE_MASS_KG, STANDARD_GRAVITY_M_S2


@dataclass(frozen=True, kw_only=True)
class Normal:
    """A normal prior: mean and standard deviation on the stated scale."""

    mean: float
    sd: float


@dataclass(frozen=True, kw_only=True)
class Beta:
    """A beta prior on a chance."""

    a: float
    b: float


MASS_EXPONENT_BY_CLASS: Final[dict[str, Normal]] = {
    # UFC 4-159-03 (2005) eq. 26: 0.80 in hard, 0.92 in soft seabeds; widened.
    "sand": Normal(mean=0.80, sd=0.06),
    "gravel": Normal(mean=0.80, sd=0.06),
    "stiff clay": Normal(mean=0.80, sd=0.06),
    "mud": Normal(mean=0.92, sd=0.06),
    "other": Normal(mean=0.86, sd=0.08),
}


@dataclass(frozen=True, kw_only=True)
class Priors:
    """Every prior of the model; log scale for loads, logit scale for chances."""

    # The Navy power law carried down to small-boat mass gives 7 to 40 times the
    # anchor's weight; far outside its fitted range, so wide.
    load_base: Normal = Normal(
        mean=log(25 * REFERENCE_MASS_KG * STANDARD_GRAVITY_M_S2 / 1000), sd=0.8
    )
    mass_exponent: dict[str, Normal] = field(default_factory=lambda: dict(MASS_EXPONENT_BY_CLASS))
    seabed_load: Normal = Normal(mean=0.0, sd=0.5)  # few seabeds: no scale to learn
    anchor_load_scale: float = 0.4
    anchor_seabed_load_scale: float = 0.2
    site_load_scale: float = 0.2
    # Log-normal; fits commonly quoted fractions of holding at short scope, no primary source.
    scope_slope: Normal = Normal(mean=log(2.6), sd=0.4)
    # A total treatment ratio beyond 1.3 either way should be rare.
    treatment_load: Normal = Normal(mean=0.0, sd=0.10)
    treatment_anchor_load_scale: float = 0.05
    treatment_seabed_load_scale: float = 0.05
    treatment_upright_load: Normal = Normal(mean=0.0, sd=0.10)
    day_load_scale: float = 0.15
    later_bite_load: Normal = Normal(mean=0.0, sd=0.15)
    pull_load_scale: float = 0.07
    # Ratio between the modes: median 1.5, 95 % below 3.1.
    mode_gap_centre: Normal = Normal(mean=log(0.4), sd=0.5)
    mode_gap_scale: float = 0.4
    log_scatter: Normal = Normal(mean=log(0.15), sd=0.4)  # no citable scatter of repeat pulls
    anchor_scatter_scale: float = 0.3
    upright_base: Normal = Normal(mean=0.5, sd=1.5)
    # How an anchor sets is what anchors differ in most: one that lies on its side every other time
    # stands beside one that hardly ever does. Of five anchors under a scale of 1.0, one is below
    # 0.5 and another above 0.97 in 3 campaigns of 100; under 2.5 in 23.
    anchor_upright_scale: float = 2.5
    anchor_seabed_upright_scale: float = 0.5
    # From an even chance, every chance is left about equally likely (the middle 90 % reach from
    # 0.03 to 0.97); under a tighter prior what cures an erratic anchor is drawn towards no effect.
    treatment_upright: Normal = Normal(mean=0.0, sd=2.0)
    treatment_anchor_upright_scale: float = 0.4
    day_upright_scale: float = 0.5
    later_bite_upright: Normal = Normal(mean=0.5, sd=1.0)
    sets_base: Normal = Normal(mean=2.5, sd=1.2)  # most pulls set
    anchor_sets_scale: float = 0.8
    seabed_sets: Normal = Normal(mean=0.0, sd=0.8)
    treatment_sets: Normal = Normal(mean=0.0, sd=0.7)
    resets_base: Normal = Normal(mean=0.0, sd=1.5)  # as for upright: no chance ruled out
    anchor_resets_scale: float = 0.8
    turns_base: Normal = Normal(mean=0.5, sd=1.2)  # no source: most anchors turn or set again
    anchor_turns_scale: float = 0.8
    # A hand's breadth to some metres of rode go under; a treatment that doubles it should be rare.
    buried_base: Normal = Normal(mean=log(0.6), sd=0.8)
    anchor_buried_scale: float = 0.4
    treatment_buried: Normal = Normal(mean=0.0, sd=0.4)
    treatment_anchor_buried_scale: float = 0.2
    # A modified or long-laid-up specimen and the one it was: the two differ by 0.63 (the root of
    # 2 - 2 * 0.8) of what sets anchors apart. No source; most changes are less than another anchor.
    kin_correlation: float = 0.8
    # Log-normal in the place of half-normals of 0.8 and 0.4 (same medians, nearly the same upper
    # 95 %): a gap or scatter of 0 has no density, and the sampler no edge to run into.
    buried_gap: Normal = Normal(mean=log(0.5), sd=0.7)
    buried_scatter: Normal = Normal(mean=log(0.27), sd=0.6)
    # Of a sign that points upright; one that points to the side has the two exchanged.
    sign_pointed_at: Beta = Beta(a=3.0, b=2.0)
    sign_pointed_away: Beta = Beta(a=2.0, b=5.0)
    hold_exponent_scale: float = 0.03  # a long hold is a little harder than one dwell
    gauge_scatter: Normal = Normal(mean=log(0.02), sd=0.3)  # log-normal, unless calibrated
    gauge_scatter_known_sd: float = 0.05  # log sd where a calibration gives the repeatability
    spoilt_share: Beta = Beta(a=1.0, b=49.0)  # a spoilt pull now and then
    seen_rate: Beta = Beta(a=38.0, b=2.0)  # a seen mode is rarely misread
    not_seen_base: Normal = Normal(mean=0.0, sd=1.5)
    not_seen_difference: Normal = Normal(mean=0.0, sd=1.0)

    def canonical(self) -> dict[str, object]:
        """The priors as plain data, for a posterior's identity."""
        return asdict(self)

    @classmethod
    def of(cls, canonical: Mapping[str, Any]) -> "Priors":
        """The priors again from plain data, as a posterior's provenance keeps them."""
        return cls(**{name: _prior(value) for name, value in canonical.items()})


def _prior(value: Any) -> Any:  # noqa: ANN401 - whatever a field of the priors is
    if not isinstance(value, Mapping):
        return value
    if set(value) == {"mean", "sd"}:
        return Normal(**value)
    if set(value) == {"a", "b"}:
        return Beta(**value)
    return {name: _prior(each) for name, each in value.items()}


DEFAULT_PRIORS: Final = Priors()
