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
COARSE_GAUGE = 0.1
"""Log-scale scatter of a gauge as coarse as the loads themselves, so that it can be told."""

UNSEEN = {"mode_gap_centre", *(n for n in PARAMETER_DIMS if n.endswith("_scale"))} - {
    "pull_load_scale"
}
"""Parameters that no pull sees directly: scales of deviations."""

SMALL_STEP = {"gauge_scatter", "spoilt_share", "hold_exponent", "pull_load_scale"}


@pytest.fixture(scope="module")
def campaign() -> Campaign:
    return read_campaign(CAMPAIGN_FILE)


Draw = dict[str, np.ndarray]
TruthAsDraw = Callable[[World, xr.Dataset], Draw]
Slopes = Callable[..., dict[str, float]]


def _arrays(world: World, protocol: Protocol, seed: int) -> xr.Dataset:
    """The demo's plans pulled many times over."""
    plans = [
        replace(plan, code=f"{plan.code}.{repeat}")
        for repeat in range(REPEATS)
        for plan in hollow_sound_plans()
    ]
    pulls = simulate_campaign(world, plans, protocol, np.random.default_rng(seed))
    return campaign_arrays(world.campaign, pulls)


def _slope(truth: Draw, arrays: xr.Dataset, name: str, where: np.ndarray | float = 1.0) -> float:
    """Mean slope of the log-likelihood in one parameter over its error."""
    step = 1e-6 if name in SMALL_STEP else 1e-4
    high, low = (
        log_likelihood({**truth, name: truth[name] + sign * step * where}, arrays)[0]
        for sign in (1, -1)
    )
    slope = (high - low) / (2 * step)
    # A parameter that no pull of this world tells of has no slope at all.
    error = slope.std() / np.sqrt(slope.size)
    return float(slope.mean() / error) if error > 0 else 0.0


@pytest.fixture
def slopes_of(truth_as_draw: TruthAsDraw) -> Slopes:
    """Every parameter's slope at the truth, after a fault if one is planted."""

    def slopes(
        world: World, protocol: Protocol, seed: int, fault: Callable = lambda a: a
    ) -> dict[str, float]:
        arrays = fault(_arrays(world, protocol, seed))
        truth = truth_as_draw(world, arrays)
        return {label: _slope(truth, arrays, name, where) for label, name, where in _moves(world)}

    return slopes


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
def test_slopes_are_nil_at_the_demos_truth(
    campaign: Campaign, slopes_of: Slopes, crew: str
) -> None:
    slopes = slopes_of(_visible(hollow_sound_world(campaign)), CREWS[crew], seed=1)
    assert len(slopes) == 48
    assert {name: z for name, z in slopes.items() if abs(z) > LARGEST_Z} == {}


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_slopes_are_nil_at_truths_from_the_priors(
    campaign: Campaign, slopes_of: Slopes, seed: int
) -> None:
    drawn = draw_world(campaign, DEFAULT_PRIORS, np.random.default_rng(seed))
    slopes = slopes_of(_visible(drawn), PROTOCOL, seed=seed)
    assert {name: z for name, z in slopes.items() if abs(z) > LARGEST_Z} == {}


def test_slopes_are_nil_for_each_of_two_boats(campaign: Campaign, slopes_of: Slopes) -> None:
    slopes = slopes_of(_two_boats(campaign), PROTOCOL, seed=1)
    assert {"boat_bias: workboat 6.5 m", "boat_bias: launch"} <= set(slopes)
    assert {name: z for name, z in slopes.items() if abs(z) > LARGEST_Z} == {}


def test_the_first_boats_bias_for_all_would_show(campaign: Campaign, slopes_of: Slopes) -> None:
    def of_the_first(arrays: xr.Dataset) -> xr.Dataset:
        return arrays.assign(boat_index=0 * arrays["boat_index"])

    slopes = slopes_of(_two_boats(campaign), PROTOCOL, seed=1, fault=of_the_first)
    assert abs(slopes["boat_bias: workboat 6.5 m"]) > LARGEST_Z
    assert abs(slopes["load_base"]) > LARGEST_Z


# --- planted faults: each shows in the very pulls that show nothing without it ---


@pytest.fixture(scope="module")
def coarse(campaign: Campaign) -> World:
    """The demo's truth read by a coarse gauge."""
    world = hollow_sound_world(campaign)
    return World(
        campaign=campaign, values={**world.values, "gauge_scatter": np.array([COARSE_GAUGE])}
    )


@pytest.fixture(scope="module")
def pulled(coarse: World) -> xr.Dataset:
    """Its pulls, the same for every fault."""
    return _arrays(coarse, PROTOCOL, seed=1)


Faulty = tuple[Draw, xr.Dataset]


def _held_taken_as_released(truth: Draw, arrays: xr.Dataset) -> Faulty:
    is_held = np.isinf(arrays["upper_kn"]) & (arrays["is_unseen"] == 0)
    below = arrays["lower_kn"] * 0.85
    return truth, arrays.assign(
        upper_kn=arrays["upper_kn"].where(~is_held, arrays["lower_kn"]),
        lower_kn=arrays["lower_kn"].where(~is_held, below),
        lower_log_hold=arrays["lower_log_hold"].where(~is_held, 0.0),
    )


def _resets_start_at_nothing(truth: Draw, arrays: xr.Dataset) -> Faulty:
    """0 in the place of the thrust that is on, where the new bite held no step of its own."""
    before = (
        arrays["upper_kn"]
        .shift(bite=1)
        .where(arrays["pull_index"] == arrays["pull_index"].shift(bite=1))
    )
    is_reset = (arrays["is_reset"] == 1) & (arrays["is_unseen"] == 0)
    is_thrust = is_reset & (arrays["lower_kn"] == before)
    assert int(is_thrust.sum()) > 100
    return truth, arrays.assign(lower_kn=arrays["lower_kn"].where(~is_thrust, 0.0))


def _unseen_resets_start_at_nothing(truth: Draw, arrays: xr.Dataset) -> Faulty:
    """As if a bite that does not stand the thrust that is on would be seen."""
    is_seen = arrays["is_unseen"] == 0
    return truth, arrays.assign(lower_kn=arrays["lower_kn"].where(is_seen, 0.0))


def _unseen_resets_left_out(truth: Draw, arrays: xr.Dataset) -> Faulty:
    return truth, arrays.isel(bite=np.flatnonzero(arrays["is_unseen"].to_numpy() == 0))


def _modes_swapped_as_seen(truth: Draw, arrays: xr.Dataset) -> Faulty:
    seen = arrays["seen"].to_numpy()
    other = {SEEN_UPRIGHT: SEEN_ON_SIDE, SEEN_ON_SIDE: SEEN_UPRIGHT}
    swapped = np.array([other.get(value, value) for value in seen])
    return truth, arrays.assign(seen=("bite", swapped))


def _modes_swapped_in_load(truth: Draw, arrays: xr.Dataset) -> Faulty:
    """Upright holds what lying on its side does, and the other way round."""
    gap = truth["mode_gap"]
    swapped = {"mode_gap": -gap, "anchor_load": truth["anchor_load"] - gap}
    return {**truth, **swapped}, arrays


def _gauge_counted_twice(truth: Draw, arrays: xr.Dataset) -> Faulty:
    """Its variance added to that of the load once more."""
    return {**truth, "gauge_scatter": np.sqrt(2) * truth["gauge_scatter"]}, arrays


@pytest.mark.parametrize(
    ("fault", "shown_by"),
    [
        (_held_taken_as_released, "load_base"),
        (_resets_start_at_nothing, "later_bite_load"),
        (_unseen_resets_start_at_nothing, "resets_base"),
        (_unseen_resets_left_out, "resets_base"),
        (_modes_swapped_as_seen, "seen_upright_rate"),
        (_modes_swapped_in_load, "mode_gap"),
        (_gauge_counted_twice, "gauge_scatter"),
    ],
)
def test_a_planted_fault_shows_and_nothing_without_it(
    coarse: World, pulled: xr.Dataset, truth_as_draw: TruthAsDraw, fault: Callable, shown_by: str
) -> None:
    truth = truth_as_draw(coarse, pulled)
    assert abs(_slope(truth, pulled, shown_by)) < LARGEST_Z
    assert abs(_slope(*fault(truth, pulled), shown_by)) > LARGEST_Z
