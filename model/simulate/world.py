"""A world: one truth for every parameter of a campaign."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.errors import InputError
from model.base.names import (
    ANCHOR,
    BOAT,
    GAUGE,
    MODE,
    MODES,
    OUTING,
    PARAMETER_DIMS,
    SEABED,
    SIGN,
    SITE,
    TREATMENT_LEVEL,
)
from model.records.campaign import Campaign
from model.simulate.departures import AS_MODELLED, Departures

DEFAULT_GAUGE: Final = "default"
"""Gauge of an outing that names none; it has the gauge prior of an uncalibrated one."""

Values = Mapping[str, NDArray[np.float64]]


def dim_names(campaign: Campaign) -> dict[str, tuple[str, ...]]:
    """Coordinates of every dim of a truth, in the campaign's order.

    The dim ``gauge`` ends with :data:`DEFAULT_GAUGE` if some outing names no gauge.
    """
    gauges = tuple(gauge.name for gauge in campaign.gauges)
    needs_default = any(outing.gauge is None for outing in campaign.outings)
    if needs_default and DEFAULT_GAUGE not in gauges:
        gauges = (*gauges, DEFAULT_GAUGE)
    return {
        ANCHOR: tuple(anchor.code for anchor in campaign.anchors),
        SEABED: tuple(seabed.name for seabed in campaign.seabeds),
        SITE: tuple(site.name for site in campaign.sites),
        OUTING: tuple(outing.name for outing in campaign.outings),
        BOAT: tuple(boat.name for boat in campaign.boats),
        GAUGE: gauges,
        TREATMENT_LEVEL: campaign.treatment_level_names,
        SIGN: tuple(sign.name for sign in campaign.signs),
        MODE: MODES,
    }


@dataclass(frozen=True, kw_only=True)
class World:
    """The truth behind a campaign's pulls.

    Parameters
    ----------
    campaign : Campaign
        The campaign whose names the arrays are indexed by.
    values : mapping of str to ndarray
        One array for each name of ``PARAMETER_DIMS``, dims in its order
        (without ``draw``); log scale for loads, logit scale for chances.
    departures : Departures
        Where the world is not as the model supposes; by default it is.

    Raises
    ------
    InputError
        If a parameter is missing, unknown, of another shape or not finite.
    """

    campaign: Campaign
    values: Values
    departures: Departures = AS_MODELLED

    def __post_init__(self) -> None:
        faults = [
            f"{name} is not a parameter" for name in self.values if name not in PARAMETER_DIMS
        ]
        for name, dims in PARAMETER_DIMS.items():
            shape = tuple(len(self.names[dim]) for dim in dims)
            if name not in self.values:
                faults.append(f"{name} is missing")
            elif self.values[name].shape != shape:
                faults.append(f"{name} has shape {self.values[name].shape}, not {shape}")
            elif not np.isfinite(self.values[name]).all():
                faults.append(f"{name} is not finite")
        if faults:
            raise InputError("; ".join(faults), hint="A truth gives every parameter a value.")

    @cached_property
    def names(self) -> dict[str, tuple[str, ...]]:
        """Coordinates of every dim; see :func:`dim_names`."""
        return dim_names(self.campaign)

    def value(self, name: str, **where: str) -> float:
        """One number of the truth.

        Parameters
        ----------
        name : str
            A name of ``PARAMETER_DIMS``.
        **where : str
            The coordinate on each of the parameter's dims, as ``anchor="S6"``.

        Raises
        ------
        InputError
            If a coordinate is not one of the campaign's names.
        """
        place = []
        for dim in PARAMETER_DIMS[name]:
            known = self.names[dim]
            if where[dim] not in known:
                raise InputError(f"no {dim} {where[dim]!r}", hint=f"Use one of: {known}.")
            place.append(known.index(where[dim]))
        return float(self.values[name][tuple(place)])


def world_to_json(world: World) -> dict[str, object]:
    """The truth as plain data: coordinates of the dims, and each parameter with its dims."""
    return {
        "coordinates": {dim: list(names) for dim, names in world.names.items()},
        "parameters": {
            name: {"dims": list(dims), "value": np.asarray(world.values[name]).tolist()}
            for name, dims in PARAMETER_DIMS.items()
        },
    }
