"""The simulator and the likelihood, written apart, must tell of the same world.

At the truth the expected slope of the log-likelihood is 0 in every parameter.
Over thousands of simulated pulls its mean is compared with its own error; a
likelihood that gets one kind of ending wrong shows slopes far from 0.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from model.arrays.campaign_arrays import campaign_arrays
from model.base.names import PARAMETER_DIMS, SEEN_ON_SIDE, SEEN_UPRIGHT
from model.base.priors import DEFAULT_PRIORS
from model.ingest.campaign_file import read_campaign
from model.outcomes.likelihood import log_likelihood
from model.records.campaign import Boat, Campaign, Gauge, Ladder, Step
from model.records.pull import Reading
from model.simulate.campaign import simulate_campaign
from model.simulate.hollow_sound import PROTOCOL, hollow_sound_plans, hollow_sound_world
from model.simulate.plan import Protocol
from model.simulate.prior_world import draw_world
from model.simulate.world import World

CAMPAIGN_FILE = Path(__file__).parents[2] / "data" / "hollow_sound" / "campaign.toml"
REPEATS = 25
LARGEST_Z = 4.5
"""48 or 50 slopes in 7 runs: one false alarm in about 400 runs of this file (normal tails)."""
LAUNCH_KN = (0.7, 1.2, 1.8, 2.5, 3.3, 4.2)
"""Steps of a second boat."""

UNSEEN = {"mode_gap_centre", *(n for n in PARAMETER_DIMS if n.endswith("_scale"))} - {
    "pull_load_scale"
}
"""Parameters that no pull sees directly: scales of deviations."""

SMALL_STEP = {"gauge_scatter", "spoilt_share", "hold_exponent", "pull_load_scale"}


@pytest.fixture(scope="module")
def campaign() -> Campaign:
    return read_campaign(CAMPAIGN_FILE)


def _parameters(world: World, arrays: xr.Dataset) -> dict[str, np.ndarray]:
    """The truth as one draw, by the coordinates that the arrays use."""
    draws = {}
    for name, dims in PARAMETER_DIMS.items():
        truth = xr.DataArray(world.values[name], coords={d: list(world.names[d]) for d in dims},
                             dims=dims)  # fmt: skip
        wider = {d: arrays[d].to_numpy() for d in dims if d in {"site", "gauge"}}
        # Places that the simulator does not know take no part in any pull here.
        filled = truth.reindex(wider, fill_value=0.02) if wider else truth
        draws[name] = filled.to_numpy()[None].astype(float)
    return draws


def _slopes(world: World, protocol: Protocol, seed: int, fault: Callable = lambda a: a) -> dict:
    """Mean slope of the log-likelihood over its error, by parameter."""
    plans = [
        replace(plan, code=f"{plan.code}.{repeat}")
        for repeat in range(REPEATS)
        for plan in hollow_sound_plans()
    ]
    pulls = simulate_campaign(world, plans, protocol, np.random.default_rng(seed))
    arrays = fault(campaign_arrays(world.campaign, pulls))
    truth = _parameters(world, arrays)
    found = {}
    for label, name, where in _moves(world):
        step = 1e-6 if name in SMALL_STEP else 1e-4
        high, low = (
            log_likelihood({**truth, name: truth[name] + sign * step * where}, arrays)[0]
            for sign in (1, -1)
        )
        slope = (high - low) / (2 * step)
        # A parameter that no pull of this world tells of has no slope at all.
        error = slope.std() / np.sqrt(slope.size)
        found[label] = slope.mean() / error if error > 0 else 0.0
    return found


def _moves(world: World) -> Iterator[tuple[str, str, np.ndarray]]:
    """Label, parameter, and which of its elements move: all of them; of two boats each alone."""
    for name in sorted(set(PARAMETER_DIMS) - UNSEEN):
        yield name, name, np.ones(1)
    boats = world.names["boat"]
    if len(boats) > 1:
        for boat, alone in zip(boats, np.eye(len(boats)), strict=True):
            yield f"boat_bias: {boat}", "boat_bias", alone


def _launched(campaign: Campaign) -> Campaign:
    """The demo's days, every other one by a launch with a ladder and a gauge of its own."""
    steps = tuple(Step(load_kn=load_kn, dwell_s=20.0) for load_kn in LAUNCH_KN)
    by_launch = {"boat": "launch", "ladder": "launch", "gauge": "spring"}
    return campaign.model_copy(
        update={
            "boats": (*campaign.boats, Boat(name="launch", top_thrust_kn=LAUNCH_KN[-1])),
            "gauges": (*campaign.gauges, Gauge(name="spring", repeatability=0.1)),
            "ladders": (*campaign.ladders, Ladder(name="launch", steps=steps, final_hold_s=40.0)),
            "outings": tuple(
                outing.model_copy(update=by_launch) if number % 2 else outing
                for number, outing in enumerate(campaign.outings)
            ),
        }
    )


def _two_boats(campaign: Campaign) -> World:
    """The demo's truth for two boats, one of which reads high and the other low."""
    world = hollow_sound_world(_launched(campaign))
    read = {"boat_bias": np.array([0.1, -0.2]), "gauge_scatter": np.array([0.02, 0.1])}
    return _visible(World(campaign=world.campaign, values={**world.values, **read}))


def _visible(world: World) -> World:
    """The same truth with loads on the ladder, and rare things frequent enough to tell."""
    shown = {"load_base": np.log(3.0), "spoilt_share": 0.05, "hold_exponent": 0.05}
    return World(
        campaign=world.campaign,
        values={**world.values, **{name: np.array(value) for name, value in shown.items()}},
    )


CREWS = {
    "the demo's crew": PROTOCOL,
    "always a camera": Protocol(),
    "peaks": Protocol(reading=Reading.PEAK, resolution_kn=0.02, camera_chance=0.5),
}


@pytest.mark.parametrize("crew", CREWS)
def test_slopes_are_nil_at_the_demos_truth(campaign: Campaign, crew: str) -> None:
    slopes = _slopes(_visible(hollow_sound_world(campaign)), CREWS[crew], seed=1)
    assert len(slopes) == 48
    assert {name: z for name, z in slopes.items() if abs(z) > LARGEST_Z} == {}


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_slopes_are_nil_at_truths_from_the_priors(campaign: Campaign, seed: int) -> None:
    drawn = draw_world(campaign, DEFAULT_PRIORS, np.random.default_rng(seed))
    slopes = _slopes(_visible(drawn), PROTOCOL, seed=seed)
    assert {name: z for name, z in slopes.items() if abs(z) > LARGEST_Z} == {}


def test_slopes_are_nil_for_each_of_two_boats(campaign: Campaign) -> None:
    slopes = _slopes(_two_boats(campaign), PROTOCOL, seed=1)
    assert {"boat_bias: workboat 6.5 m", "boat_bias: launch"} <= set(slopes)
    assert {name: z for name, z in slopes.items() if abs(z) > LARGEST_Z} == {}


def test_the_first_boats_bias_for_all_would_show(campaign: Campaign) -> None:
    def of_the_first(arrays: xr.Dataset) -> xr.Dataset:
        return arrays.assign(boat_index=0 * arrays["boat_index"])

    slopes = _slopes(_two_boats(campaign), PROTOCOL, seed=1, fault=of_the_first)
    assert abs(slopes["boat_bias: workboat 6.5 m"]) > LARGEST_Z
    assert abs(slopes["load_base"]) > LARGEST_Z


def _held_taken_as_released(arrays: xr.Dataset) -> xr.Dataset:
    is_held = np.isinf(arrays["upper_kn"]) & (arrays["is_unseen"] == 0)
    below = arrays["lower_kn"] * 0.85
    return arrays.assign(
        upper_kn=arrays["upper_kn"].where(~is_held, arrays["lower_kn"]),
        lower_kn=arrays["lower_kn"].where(~is_held, below),
        lower_log_hold=arrays["lower_log_hold"].where(~is_held, 0.0),
    )


def _resets_start_at_nothing(arrays: xr.Dataset) -> xr.Dataset:
    is_reset = (arrays["is_reset"] == 1) & (arrays["is_unseen"] == 0)
    return arrays.assign(lower_kn=arrays["lower_kn"].where(~is_reset, 0.0))


def _unseen_resets_left_out(arrays: xr.Dataset) -> xr.Dataset:
    return arrays.isel(bite=np.flatnonzero(arrays["is_unseen"].to_numpy() == 0))


def _modes_swapped(arrays: xr.Dataset) -> xr.Dataset:
    seen = arrays["seen"].to_numpy()
    other = {SEEN_UPRIGHT: SEEN_ON_SIDE, SEEN_ON_SIDE: SEEN_UPRIGHT}
    swapped = np.array([other.get(value, value) for value in seen])
    return arrays.assign(seen=("bite", swapped))


@pytest.mark.parametrize(
    ("fault", "shown_by"),
    [
        (_held_taken_as_released, "load_base"),
        (_resets_start_at_nothing, "later_bite_load"),
        (_unseen_resets_left_out, "resets_base"),
        (_modes_swapped, "seen_upright_rate"),
    ],
)
def test_a_planted_fault_shows(campaign: Campaign, fault: Callable, shown_by: str) -> None:
    slopes = _slopes(hollow_sound_world(campaign), PROTOCOL, seed=1, fault=fault)
    assert abs(slopes[shown_by]) > LARGEST_Z
