"""Truths: their shape, and that those from the priors follow the priors."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.stats import halfnorm, kstest, norm

from model.base.errors import InputError
from model.base.names import PARAMETER_DIMS
from model.base.priors import DEFAULT_PRIORS
from model.records.campaign import Campaign, Gauge
from model.simulate.nature import gauge_scatter
from model.simulate.prior_world import draw_world
from model.simulate.world import DEFAULT_GAUGE, World, dim_names, world_to_json

MakeWorld = Callable[..., World]
DRAWS = 800
SCALES = {
    "anchor_load": 0.4,
    "anchor_seabed_load": 0.2,
    "site_load": 0.2,
    "treatment_anchor_load": 0.05,
    "treatment_seabed_load": 0.05,
    "day_load": 0.15,
    "anchor_scatter": 0.3,
    "anchor_upright": 2.5,
    "anchor_seabed_upright": 0.5,
    "treatment_anchor_upright": 0.4,
    "day_upright": 0.5,
    "anchor_sets": 0.8,
    "anchor_resets": 0.8,
}  # the model page's scales, typed here again


@pytest.fixture
def worlds(small_campaign: Campaign) -> list[World]:
    """Many truths from the priors."""
    rng = np.random.default_rng(2)
    return [draw_world(small_campaign, DEFAULT_PRIORS, rng) for _ in range(DRAWS)]


def _of(worlds: list[World], name: str) -> np.ndarray:
    return np.array([world.values[name] for world in worlds])


def test_scales_and_deviations_follow_their_priors(worlds: list[World]) -> None:
    for name, prior_scale in SCALES.items():
        scale = _of(worlds, f"{name}_scale")
        first = _of(worlds, name).reshape(DRAWS, -1)[:, 0]
        assert kstest(scale, halfnorm(scale=prior_scale).cdf).pvalue > 1e-4, name
        assert kstest(first / scale, norm.cdf).pvalue > 1e-4, name


def test_the_scale_check_notices_another_prior(worlds: list[World]) -> None:
    scale = _of(worlds, "treatment_anchor_load_scale")
    assert kstest(scale, halfnorm(scale=0.10).cdf).pvalue < 1e-6


@pytest.mark.parametrize(
    ("name", "mean", "sd", "is_log"),
    [
        ("load_base", np.log(25 * 10 * 9.80665 / 1000), 0.8, False),
        ("seabed_load", 0.0, 0.5, False),
        ("scope_slope", np.log(2.6), 0.4, True),
        ("treatment_load", 0.0, 0.10, False),
        ("treatment_upright_load", 0.0, 0.10, False),
        ("later_bite_load", 0.0, 0.15, False),
        ("mode_gap_centre", np.log(0.4), 0.5, False),
        ("log_scatter", np.log(0.15), 0.4, False),
        ("upright_base", 0.5, 1.5, False),
        ("treatment_upright", 0.0, 2.0, False),
        ("later_bite_upright", 0.5, 1.0, False),
        ("sets_base", 2.5, 1.2, False),
        ("seabed_sets", 0.0, 0.8, False),
        ("treatment_sets", 0.0, 0.7, False),
        ("resets_base", 0.0, 1.5, False),
        ("boat_bias", 0.0, 0.05, False),
        ("gauge_scatter", np.log(0.02), 0.05, True),
    ],
)
def test_plain_parameters_follow_their_priors(
    worlds: list[World], name: str, mean: float, sd: float, is_log: bool
) -> None:
    values = _of(worlds, name).reshape(DRAWS, -1)[:, 0]
    values = np.log(values) if is_log else values
    assert kstest(values, norm(mean, sd).cdf).pvalue > 1e-4


def test_mass_exponents_go_by_the_bottoms_class(worlds: list[World]) -> None:
    sand, mud = _of(worlds, "mass_exponent").T
    assert kstest(sand, norm(0.80, 0.06).cdf).pvalue > 1e-4
    assert kstest(mud, norm(0.92, 0.06).cdf).pvalue > 1e-4


def test_gaps_are_positive_and_spread_about_their_centre(worlds: list[World]) -> None:
    gap = _of(worlds, "mode_gap")
    assert (gap > 0).all()
    z = (np.log(gap[:, 0]) - _of(worlds, "mode_gap_centre")) / _of(worlds, "mode_gap_scale")
    assert kstest(z, norm.cdf).pvalue > 1e-4


def test_an_outing_without_a_gauge_has_the_default_one(small_campaign: Campaign) -> None:
    first, second = small_campaign.outings
    bare = small_campaign.model_copy(
        update={"outings": (first, second.model_copy(update={"gauge": None}))}
    )
    assert dim_names(small_campaign)["gauge"] == ("cell",)
    assert dim_names(bare)["gauge"] == ("cell", DEFAULT_GAUGE)
    world = draw_world(bare, DEFAULT_PRIORS, np.random.default_rng(1))
    assert gauge_scatter(world, "day 1") == world.values["gauge_scatter"][0]
    assert gauge_scatter(world, "day 2") == world.values["gauge_scatter"][1]


def test_an_uncalibrated_gauge_has_the_wide_prior(small_campaign: Campaign) -> None:
    campaign = small_campaign.model_copy(update={"gauges": (Gauge(name="cell"),)})
    rng = np.random.default_rng(3)
    drawn = [draw_world(campaign, DEFAULT_PRIORS, rng).values["gauge_scatter"] for _ in range(400)]
    assert kstest(np.log(np.array(drawn)[:, 0]), norm(np.log(0.02), 0.3).cdf).pvalue > 1e-4


def test_a_truth_must_be_whole(plain_world: MakeWorld) -> None:
    world = plain_world()
    broken = {**world.values, "day_load": np.zeros(3), "made_up": np.zeros(1)}
    del broken["mode_gap"]
    broken["load_base"] = np.array(np.nan)
    with pytest.raises(InputError) as caught:
        World(campaign=world.campaign, values=broken)
    for fault in (
        "made_up is not",
        "day_load has shape",
        "mode_gap is missing",
        "load_base is not",
    ):
        assert fault in str(caught.value)


def test_values_are_looked_up_by_name(plain_world: MakeWorld) -> None:
    world = plain_world()
    values = {**world.values, "anchor_seabed_load": np.array([[1.0, 2.0], [3.0, 4.0]])}
    named = World(campaign=world.campaign, values=values)
    assert named.value("anchor_seabed_load", anchor="P9", seabed="firm sand") == 3.0
    with pytest.raises(InputError, match="no anchor 'X'"):
        named.value("anchor_load", anchor="X")


def test_a_truth_as_plain_data_names_every_parameter(plain_world: MakeWorld) -> None:
    data = world_to_json(plain_world())
    assert isinstance(data["parameters"], dict)
    assert set(data["parameters"]) == set(PARAMETER_DIMS)
