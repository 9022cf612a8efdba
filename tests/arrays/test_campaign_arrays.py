"""Records to labelled arrays: who stands where, and which rows there are."""

from math import inf, log

import numpy as np
import pytest
import xarray as xr

from model.arrays import campaign_arrays as module
from model.arrays.campaign_arrays import campaign_arrays, used_pulls
from model.base.names import NOT_SEEN, NOTHING_SEEN, SEEN_ON_SIDE, SEEN_UPRIGHT, UNNAMED
from model.records.pull import Start


@pytest.fixture
def arrays(small_campaign, small_pulls) -> xr.Dataset:
    return campaign_arrays(small_campaign, small_pulls)


def _bites_of(arrays: xr.Dataset, name: str) -> xr.Dataset:
    index = list(arrays["pull"].to_numpy()).index(name)
    return arrays.isel(bite=np.flatnonzero(arrays["pull_index"].to_numpy() == index))


def test_void_pulls_are_left_out_and_the_others_are_sorted(arrays, small_pulls):
    names = list(arrays["pull"].to_numpy())
    assert names == sorted(pull.id for pull in small_pulls if not pull.is_void)
    assert ("day 1/8" in names, len(names), len(small_pulls)) == (False, 15, 16)


def test_the_order_of_the_pulls_does_not_matter(arrays, small_campaign, small_pulls, monkeypatch):
    assert campaign_arrays(small_campaign, small_pulls[::-1]).identical(arrays)
    monkeypatch.setattr(
        module, "used_pulls", lambda pulls: tuple(pull for pull in pulls if not pull.is_void)
    )
    assert not campaign_arrays(small_campaign, small_pulls[::-1]).identical(arrays)


def test_indices_name_what_the_pull_names(arrays, small_campaign, small_pulls):
    for i, pull in enumerate(used_pulls(small_pulls)):
        outing = small_campaign.outing(pull.outing)
        named = {
            "anchor": pull.anchor,
            "seabed": pull.seabed,
            "site": pull.site,
            "outing": pull.outing,
            "boat": outing.boat,
            "gauge": outing.gauge,
        }
        found = {dim: str(arrays[dim][int(arrays[f"{dim}_index"][i])].values) for dim in named}
        assert found == named
        level = dict(zip(small_campaign.treatment_level_names, arrays["level"][i], strict=True))
        assert level["leader=wire 2 m"] == (pull.levels["leader"] == "wire 2 m")
        assert level["chain=6 mm"] == 0.0


def test_what_names_no_site_or_gauge_shares_the_unnamed_one(small_campaign, small_pulls):
    bare = [day.model_copy(update={"gauge": None, "site": None}) for day in small_campaign.outings]
    campaign = small_campaign.model_copy(update={"outings": tuple(bare)})
    arrays = campaign_arrays(campaign, [small_pulls[0].model_copy(update={"site": None})])
    for dim in ("site", "gauge"):
        assert str(arrays[dim][int(arrays[f"{dim}_index"][0])].values) == UNNAMED
    assert np.isnan(arrays["repeatability"].sel(gauge=UNNAMED))
    of_outing = campaign_arrays(small_campaign, [small_pulls[0].model_copy(update={"site": None})])
    assert str(of_outing["site"][int(of_outing["site_index"][0])].values) == "north"


def test_fixed_covariates(small_campaign, small_pulls):
    short = small_pulls[0].model_copy(update={"scope": 3.0})
    usual = small_pulls[1].model_copy(update={"scope": None})
    arrays = campaign_arrays(small_campaign, [short, usual])
    assert arrays["inverse_scope_shift"].to_numpy() == pytest.approx([1 / 3 - 1 / 5, 0.0])
    assert arrays["log_mass_ratio"].to_numpy() == pytest.approx([log(0.6), log(0.9)])
    assert arrays["calibration_error"].to_numpy() == pytest.approx([0.05])
    assert list(arrays["seabed_class"].to_numpy()) == ["sand", "mud"]


def test_a_pull_that_never_set_has_no_bite(arrays):
    assert _bites_of(arrays, "day 1/6").sizes["bite"] == 0
    assert float(arrays["has_set"][list(arrays["pull"].to_numpy()).index("day 1/6")]) == 0.0
    assert arrays["has_set"].sum() == 14


def test_a_release_brings_the_next_bite_that_was_not_seen(arrays):
    rows = _bites_of(arrays, "day 1/1")
    assert rows["is_unseen"].to_numpy().tolist() == [0, 1]
    assert (rows["lower_kn"].to_numpy()[1], rows["upper_kn"].to_numpy()[1]) == (2.6, inf)
    assert rows["is_reset"].to_numpy().tolist() == rows["is_later"].to_numpy().tolist() == [0, 1]
    assert rows["seen"].to_numpy()[1] == NOTHING_SEEN


def test_a_slip_is_two_bites_and_held_needs_no_next_one(arrays):
    rows = _bites_of(arrays, "day 2/1")
    assert rows["lower_kn"].to_numpy().tolist() == [1.5, 4.6]
    assert rows["is_reset"].to_numpy().tolist() == [0, 1]
    assert rows["is_unseen"].to_numpy().tolist() == [0, 0]
    assert _bites_of(arrays, "day 1/4").sizes["bite"] == 1


@pytest.mark.parametrize("ending", ["released_then_stopped", "stopped", "held"])
def test_only_a_release_left_alone_says_that_nothing_set_again(
    ending, small_campaign, small_pulls, make_bite
):
    pull = small_pulls[0].model_copy(
        update={"bites": (make_bite(ending, 3.2),), "reason": "ferry wash"}
    )
    assert campaign_arrays(small_campaign, [pull])["is_unseen"].to_numpy().tolist() == [0]


def test_a_bite_after_a_turn_is_later_and_set_again(small_campaign, small_pulls, make_bite):
    turned = make_bite("held", 4.6, 2, start=Start.AFTER_TURN)
    first = make_bite("stopped", 2.0)
    pull = small_pulls[0].model_copy(update={"bites": (first, turned), "reason": "turned"})
    rows = campaign_arrays(small_campaign, [pull])
    assert rows["is_later"].to_numpy().tolist() == [0, 1]
    assert rows["is_reset"].to_numpy().tolist() == [0, 1]
    assert rows["is_turn"].to_numpy().tolist() == [0, 1]
    slipped = pull.model_copy(
        update={"bites": (make_bite("released", 2.0), make_bite("held", 4.6, 2))}
    )
    assert campaign_arrays(small_campaign, [slipped])["is_turn"].to_numpy().tolist() == [0, 0]


def test_thrust_eased_before_a_reset_moves_its_range(small_campaign, small_pulls, make_bite):
    first, eased = make_bite("released", 3.2), make_bite("released", 1.5, 2, start_kn=1.2)
    pull = small_pulls[0].model_copy(update={"bites": (first, eased)})
    rows = campaign_arrays(small_campaign, [pull])
    assert rows["lower_kn"].to_numpy().tolist() == [2.6, 1.2, 1.5]
    full = pull.model_copy(update={"bites": (first, make_bite("released", 3.9, 2))})
    assert campaign_arrays(small_campaign, [full])["lower_kn"].to_numpy().tolist() == [
        2.6, 3.2, 3.9,
    ]  # fmt: skip


SEEN = {
    "upright": ({"mode": "upright", "has_camera": True}, SEEN_UPRIGHT),
    "on its side": ({"mode": "on_side"}, SEEN_ON_SIDE),
    "a camera that lost it": ({"has_camera": True}, NOT_SEEN),
    "no camera": ({"has_camera": False}, NOTHING_SEEN),
    "not said": ({}, NOTHING_SEEN),
}


@pytest.mark.parametrize("case", SEEN)
def test_what_the_camera_showed(case, small_campaign, small_pulls, make_bite):
    more, code = SEEN[case]
    pull = small_pulls[0].model_copy(update={"bites": (make_bite("held", 4.6, **more),)})
    assert campaign_arrays(small_campaign, [pull])["seen"].to_numpy().tolist() == [code]


def test_no_pulls_are_arrays_too(small_campaign):
    arrays = campaign_arrays(small_campaign, [])
    assert (arrays.sizes["pull"], arrays.sizes["bite"], arrays["level"].shape) == (0, 0, (0, 2))
