"""The shape of a campaign: how many of each dim its parameters have."""

from dataclasses import asdict, dataclass

from model.base.names import PARAMETER_DIMS
from model.records.campaign import Campaign


@dataclass(frozen=True, kw_only=True)
class Shape:
    """Size of each parameter dim; sites and gauges with one more, the unnamed."""

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
        """What a campaign needs."""
        return cls(
            anchor=len(campaign.anchors),
            seabed=len(campaign.seabeds),
            site=len(campaign.sites) + 1,
            outing=len(campaign.outings),
            boat=len(campaign.boats),
            gauge=len(campaign.gauges) + 1,
            treatment_level=len(campaign.treatment_level_names),
            sign=len(campaign.signs),
        )

    def sizes(self, parameter: str) -> tuple[int, ...]:
        """Shape of one parameter."""
        size = asdict(self)
        return tuple(size[dim] for dim in PARAMETER_DIMS[parameter])
