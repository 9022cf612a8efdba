"""Worlds for the simulator's tests: everything plain unless changed by name."""

from collections.abc import Callable

import numpy as np
import pytest

from model.base.names import PARAMETER_DIMS
from model.records.campaign import Campaign
from model.simulate.world import World, dim_names

PLAIN = {
    "load_base": np.log(3.0),
    "mass_exponent": 0.8,
    "scope_slope": 2.6,
    "mode_gap": 0.5,
    "log_scatter": np.log(0.15),
    "upright_base": 0.5,
    "sets_base": 50.0,  # always sets
    "resets_base": -50.0,  # never re-sets
    "gauge_scatter": 1e-9,
    "seen_upright_rate": 1.0,
    "seen_on_side_rate": 1.0,
    "not_seen_base": -50.0,
}


@pytest.fixture
def plain_world(small_campaign: Campaign) -> Callable[..., World]:
    """Make a world of the small campaign; keywords change whole arrays to one value."""

    def make(**changes: float) -> World:
        names = dim_names(small_campaign)
        values = {
            name: np.full(tuple(len(names[dim]) for dim in dims), {**PLAIN, **changes}.get(name, 0))
            for name, dims in PARAMETER_DIMS.items()
        }
        return World(campaign=small_campaign, values={k: v * 1.0 for k, v in values.items()})

    return make
