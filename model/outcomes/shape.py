"""The shape of a campaign: what a compiled graph depends on.

Slots are rounded up, so that a new anchor or outing mostly fits the graph
already compiled; a slot that no pull refers to is an exact draw from the
prior of an anchor never pulled, and changes no other parameter's posterior.
"""

from dataclasses import asdict, dataclass
from math import ceil
from typing import Final

from model.base.names import PARAMETER_DIMS
from model.records.campaign import Campaign

ROUND_UP: Final = {"anchor": 2, "outing": 4, "site": 2, "gauge": 1, "boat": 1}
"""Multiple to which the slots of a dim are rounded; 1 for what seldom grows."""


@dataclass(frozen=True, kw_only=True)
class Shape:
    """Number of slots of each parameter dim."""

    anchor: int
    seabed: int
    site: int
    outing: int
    boat: int
    gauge: int
    treatment_level: int
    sign: int = 0
    mode: int = 2

    @classmethod
    def of(cls, campaign: Campaign) -> "Shape":
        """Slots that a campaign needs, rounded up."""
        counts = {
            "anchor": len(campaign.anchors),
            "site": len(campaign.sites) + 1,
            "outing": len(campaign.outings),
            "boat": len(campaign.boats),
            "gauge": len(campaign.gauges) + 1,
        }
        slots = {dim: ROUND_UP[dim] * ceil(n / ROUND_UP[dim]) for dim, n in counts.items()}
        return cls(
            **slots,
            seabed=len(campaign.seabeds),
            treatment_level=len(campaign.treatment_level_names),
            sign=len(campaign.signs),
        )

    def sizes(self, parameter: str) -> tuple[int, ...]:
        """Shape of one parameter."""
        slots = asdict(self)
        return tuple(slots[dim] for dim in PARAMETER_DIMS[parameter])
