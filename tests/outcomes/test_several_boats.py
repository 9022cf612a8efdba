"""Two boats with a ladder, a bias and a gauge each: every pull against its own boat's, by count."""

import numpy as np
import pytest

from model.arrays.campaign_arrays import campaign_arrays
from model.outcomes.likelihood import log_likelihood
from model.records.campaign import Boat, Gauge, Ladder, Outing, Step
from model.records.pull import Pull

DWELL_S, FINAL_S = 15.0, 15.0
LADDERS_KN = {"tug": (1.0, 1.5, 2.2, 3.0), "launch": (0.8, 1.3, 1.8)}
BIAS = {"tug": 0.2, "launch": -0.3}
GAUGE = {"tug": 0.05, "launch": 0.15}
MEAN = {"upright": np.log(1.9), "on_side": np.log(1.2)}
SCATTER = {"upright": 0.18, "on_side": 0.25}
P_UPRIGHT = 0.6

TRUTH = {
    "load_base": MEAN["upright"],
    "mode_gap": MEAN["upright"] - MEAN["on_side"],
    "upright_base": np.log(P_UPRIGHT / (1 - P_UPRIGHT)),
    "log_scatter": [np.log(SCATTER["upright"]), np.log(SCATTER["on_side"])],
    "boat_bias": [BIAS["tug"], BIAS["launch"]],
    "gauge_scatter": [GAUGE["tug"], GAUGE["launch"], 1e-30],
}


@pytest.fixture
def campaign(make_bench):
    """Their outings stand the other way round than the boats do: no index fits by luck."""
    ladders = [
        Ladder(
            name=boat,
            steps=tuple(Step(load_kn=load_kn, dwell_s=DWELL_S) for load_kn in loads_kn),
            final_hold_s=FINAL_S,
        )
        for boat, loads_kn in LADDERS_KN.items()
    ]
    return make_bench(1.0).campaign.model_copy(
        update={
            "boats": tuple(
                Boat(name=boat, top_thrust_kn=loads_kn[-1]) for boat, loads_kn in LADDERS_KN.items()
            ),
            "gauges": tuple(Gauge(name=boat) for boat in LADDERS_KN),
            "ladders": tuple(ladders),
            "outings": tuple(
                Outing(name=f"{boat} day", ladder=boat, boat=boat, gauge=boat)
                for boat in reversed(LADDERS_KN)
            ),
        }
    )


@pytest.fixture
def endings(make_bite):
    """Every way for a lone bite to end on a boat's ladder."""

    def make(boat):
        top_kn = LADDERS_KN[boat][-1]
        let_go = [make_bite("released_then_stopped", load_kn) for load_kn in LADDERS_KN[boat]]
        return [*let_go, make_bite("held", top_kn, held_s=FINAL_S)]

    return make


@pytest.fixture
def arrays(campaign, endings):
    """A pull of every ending, the boats taking turns."""
    pulls = [
        Pull(code=f"{i}", outing=f"{boat} day", anchor="S6", seabed="ground", bites=(bite,))
        for boat in LADDERS_KN
        for i, bite in enumerate(endings(boat))
    ]
    return campaign_arrays(campaign, pulls)


def counted(boat: str) -> np.ndarray:
    """Share of bites that end in each way: capacities laid out densely, read, and counted."""
    at = (np.arange(1500) + 0.5) / 1500
    sds = 6 * (2 * at - 1)
    weight = np.exp(-0.5 * sds**2)
    share = np.outer(weight, weight) / weight.sum() ** 2
    found = np.zeros(len(LADDERS_KN[boat]) + 1)
    for mode, p_mode in (("upright", P_UPRIGHT), ("on_side", 1 - P_UPRIGHT)):
        true_kn = np.exp(MEAN[mode] + SCATTER[mode] * sds)
        read_as = np.exp(BIAS[boat] + GAUGE[boat] * sds)
        steps_held = np.searchsorted(LADDERS_KN[boat], np.outer(true_kn, read_as), side="left")
        found += p_mode * np.bincount(steps_held.ravel(), share.ravel(), minlength=found.size)
    return found


def chances(arrays, plain_parameters, boat: str) -> np.ndarray:
    """Chance of each ending of a boat's bites, in the order of its ladder."""
    by_pull = np.exp(log_likelihood(plain_parameters(arrays, **TRUTH), arrays))[0]
    names = [str(name) for name in arrays["pull"].to_numpy()]
    return by_pull[[i for i, name in enumerate(names) if name.startswith(boat)]]


@pytest.mark.parametrize("boat", LADDERS_KN)
def test_every_ending_is_as_likely_as_it_is_frequent(boat, arrays, plain_parameters):
    found = chances(arrays, plain_parameters, boat)
    assert found.sum() == pytest.approx(1, abs=1e-12)
    np.testing.assert_allclose(found, counted(boat), atol=2e-4)


@pytest.mark.parametrize("reader", ["boat_index", "gauge_index"])
def test_readings_of_the_first_boat_or_gauge_for_all_would_show(reader, arrays, plain_parameters):
    one = arrays.assign({reader: 0 * arrays[reader]})
    gap = chances(one, plain_parameters, "launch") - counted("launch")
    assert np.abs(gap).max() > 5e-3
