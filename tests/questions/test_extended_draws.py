"""Draws for names that a fit does not know: from its own scales, and nothing known touched."""

import numpy as np
import pytest

from model.base.names import PARAMETER_DIMS
from model.base.priors import DEFAULT_PRIORS, Priors
from model.questions.extended_draws import extended_draws
from model.records.campaign import Anchor, Boat, Gauge, Outing, Seabed, Sign, Site
from model.records.treatment import Treatment

N = 4000


@pytest.fixture
def posterior(made_up_posterior, small_campaign, small_pulls):
    return made_up_posterior(small_campaign, small_pulls, n_draws=N)


@pytest.fixture
def grown(small_campaign):
    """Every list longer, the new names first or in between."""
    old = small_campaign
    day = Outing(name="day 0", ladder="steps", boat="launch", gauge="other", site="west")
    levels = ("chain only", "nylon 3 m", "wire 2 m")
    return old.model_copy(
        update={
            "boats": (Boat(name="launch", top_thrust_kn=3.0, calibration_error=0.1), *old.boats),
            "gauges": (Gauge(name="other", repeatability=0.04), *old.gauges),
            "outings": (day, *old.outings),
            "seabeds": (old.seabeds[0], Seabed(name="clay", seabed_class="mud"), old.seabeds[1]),
            "sites": (Site(name="west"), *old.sites),
            "anchors": (
                Anchor(code="S6b", mass_kg=6.0, modified_from="S6"),
                *old.anchors,
                Anchor(code="C7", mass_kg=7.5),
            ),
            "treatments": (
                Treatment(name="leader", baseline="chain only", levels=levels),
                *old.treatments[1:],
            ),
            "signs": (Sign(name="shank in sight", points_to="on_side"), *old.signs),
        }
    )


def test_what_the_fit_knows_stays_as_it_was(posterior, grown):
    found = extended_draws(posterior, grown)
    places = {"anchor": [1, 2], "seabed": [0, 2], "outing": [1, 2], "site": [1, 2, 3], "boat": [1],
              "gauge": [1, 2], "treatment_level": [1, 2], "sign": [1], "mode": [0, 1]}  # fmt: skip
    for name, dims in PARAMETER_DIMS.items():
        known = posterior.draws[name].to_numpy()
        there = np.ix_(range(N), *(places[dim] for dim in dims))
        assert np.array_equal(found[name][there], known), name
        assert np.isfinite(found[name]).all(), name


def test_the_same_names_are_the_same_draws(posterior, small_campaign):
    found = extended_draws(posterior, small_campaign)
    for name in PARAMETER_DIMS:
        assert np.array_equal(found[name], posterior.draws[name]), name


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("day_load", (0,)),
        ("day_upright", (0,)),
        ("site_load", (0,)),
        ("anchor_load", (3,)),
        ("anchor_upright", (3,)),
        ("anchor_seabed_load", (1, 1)),
        ("treatment_anchor_load", (0, 1)),
        ("treatment_seabed_load", (1, 1)),
    ],
)
def test_a_new_name_deviates_as_much_as_its_draws_scale_says(posterior, grown, name, place):
    found = extended_draws(posterior, grown)[name][(slice(None), *place)]
    scale = posterior.draws[f"{name}_scale"].to_numpy()
    standard = found / scale
    assert standard.mean() == pytest.approx(0, abs=0.06)
    assert standard.std() == pytest.approx(1, abs=0.05)
    # By draw, and not on the whole: the widest half of the scales has the widest deviations.
    is_wide = scale > np.median(scale)
    assert np.std(found[is_wide]) > 1.5 * np.std(found[~is_wide])


def test_what_has_no_scale_comes_from_its_prior(posterior, grown):
    found = extended_draws(posterior, grown)
    for name, place, mean, sd in (
        ("treatment_load", 0, 0.0, DEFAULT_PRIORS.treatment_load.sd),
        ("treatment_upright", 0, 0.0, DEFAULT_PRIORS.treatment_upright.sd),
        ("seabed_load", 1, 0.0, DEFAULT_PRIORS.seabed_load.sd),
        ("mass_exponent", 1, 0.92, 0.06),
        ("boat_bias", 0, 0.0, 0.1),
    ):
        assert found[name][:, place].mean() == pytest.approx(mean, abs=4 * sd / np.sqrt(N))
        assert found[name][:, place].std() == pytest.approx(sd, rel=0.05)
    assert np.log(found["gauge_scatter"][:, 0]).mean() == pytest.approx(np.log(0.04), abs=0.005)
    beta = DEFAULT_PRIORS.sign_pointed_away  # points to the side, so that upright it is rare
    assert found["sign_upright_rate"][:, 0].mean() == pytest.approx(beta.a / (beta.a + beta.b),
                                                                    abs=0.01)  # fmt: skip


@pytest.mark.parametrize("name", ["anchor_load", "anchor_upright", "mode_gap"])
def test_a_bent_specimen_is_kin_of_the_one_that_the_fit_knows(posterior, grown, name):
    found = extended_draws(posterior, grown)[name]
    if name == "mode_gap":
        found = np.log(found) - posterior.draws["mode_gap_centre"].to_numpy()[:, None]
    standard = found / posterior.draws[f"{name}_scale"].to_numpy()[:, None]
    bent, _, _, new = np.corrcoef(standard.T)
    assert bent[1] == pytest.approx(DEFAULT_PRIORS.kin_correlation, abs=0.03)
    assert bent[[2, 3]] == pytest.approx(np.zeros(2), abs=0.06)
    assert new[[0, 1, 2]] == pytest.approx(np.zeros(3), abs=0.06)
    assert standard[:, 0].std() == pytest.approx(1, abs=0.05)


def test_another_new_name_leaves_the_first_ones_draws(posterior, grown, small_campaign):
    """So that a further pull moves an answer by what it says, and not by other luck."""
    one = small_campaign.model_copy(
        update={"outings": (*small_campaign.outings, grown.outings[0].model_copy(
            update={"boat": "workboat", "gauge": "cell", "site": None}))}
    )  # fmt: skip
    first, both = extended_draws(posterior, one), extended_draws(posterior, grown)
    assert np.array_equal(first["day_load"][:, 2], both["day_load"][:, 0])


def test_priors_come_back_from_a_provenance(posterior):
    assert Priors.of(posterior.provenance.priors) == DEFAULT_PRIORS
