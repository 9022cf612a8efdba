"""Which boat's readings the next pull is told in, and what they make of true loads."""

import numpy as np
import pytest

from model.outcomes.prediction import Prediction
from model.questions.readings import as_read, newest_readings
from model.records.campaign import Boat, Outing

BIAS = np.array([[0.1, -0.2], [0.3, -0.4]])
GAUGE = np.array([[0.02, 0.5], [0.03, 0.6]])
PARAMETERS = {"boat_bias": BIAS, "gauge_scatter": GAUGE}


def with_outings(campaign, *outings):
    return campaign.model_copy(
        update={
            "boats": (*campaign.boats, Boat(name="launch", top_thrust_kn=5.0)),
            "outings": (*campaign.outings, *outings),
        }
    )


def launch_day(**more):
    return Outing.model_validate({"name": "launch day", "ladder": "steps", "boat": "launch"} | more)


@pytest.mark.parametrize(
    ("outings", "boat", "log_bias", "gauge_scatter"),
    [
        ((), "workboat", [0.1, 0.3], [0.02, 0.03]),
        ((launch_day(gauge="cell"),), "launch", [-0.2, -0.4], [0.02, 0.03]),
        ((launch_day(),), "launch", [-0.2, -0.4], [0.5, 0.6]),  # a gauge nobody named
        ((launch_day(ladder="unknown"),), "workboat", [0.1, 0.3], [0.02, 0.03]),
    ],
)
def test_they_are_of_the_last_outing_that_has_a_ladder(
    small_campaign, outings, boat, log_bias, gauge_scatter
):
    found = newest_readings(with_outings(small_campaign, *outings), PARAMETERS)
    assert (found.boat, found.ladder.name) == (boat, "steps")
    assert found.log_bias.tolist() == log_bias
    assert found.gauge_scatter.tolist() == gauge_scatter


def test_a_campaign_without_a_ladder_has_none(small_campaign):
    old = launch_day(ladder="unknown")
    bare = with_outings(small_campaign, old).model_copy(update={"outings": (old,), "ladders": ()})
    assert newest_readings(bare, PARAMETERS) is None


def test_bias_moves_loads_and_the_gauge_widens_each_bite(small_campaign):
    readings = newest_readings(with_outings(small_campaign, launch_day()), PARAMETERS)
    whole, each = np.arange(6.0).reshape(2, 3), np.array([0.7, 0.8])
    values = dict.fromkeys(Prediction.__dataclass_fields__, whole)
    by_draw = ("buried_gap", "later_load", "later_logit", "pull_load", "day_load", "day_logit")
    true = Prediction(**{**values, **dict.fromkeys(by_draw, each)})
    seen = as_read(true, readings)
    for name in ("log_upright", "log_on_side"):
        np.testing.assert_allclose(getattr(seen, name), whole - [[0.2], [0.4]])
    for name in ("sd_upright", "sd_on_side"):
        np.testing.assert_allclose(getattr(seen, name) ** 2, whole**2 + [[0.25], [0.36]])
    changed = {"log_upright", "log_on_side", "sd_upright", "sd_on_side"}
    for name in values.keys() - changed:
        assert getattr(seen, name) is getattr(true, name)
