"""Which way a declared sign points decides which of its two rates is expected to be high."""

import pytest

from model.arrays.campaign_arrays import campaign_arrays
from model.base.priors import DEFAULT_PRIORS
from model.outcomes.prior_arrays import named_priors, prior_arrays
from model.outcomes.shape import Shape
from model.outcomes.variates import RATES
from model.records.campaign import Sign

SEEN, AWAY = (3.0, 2.0), (2.0, 5.0)
"""Beta of a sign's yes in the mode that it points to, and in the other one."""

POINTING = {"marker under": "upright", "shank in sight": "on_side", "wake of mud": "upright"}

EXPECTED = {
    "sign_upright_rate": [SEEN, AWAY, SEEN],
    "sign_on_side_rate": [AWAY, SEEN, AWAY],
}


@pytest.fixture
def pointed(small_campaign):
    signs = tuple(Sign(name=name, points_to=mode) for name, mode in POINTING.items())
    return small_campaign.model_copy(update={"signs": signs})


@pytest.fixture
def arrays(pointed, small_pulls):
    return campaign_arrays(pointed, small_pulls)


def pairs_of(arrays, campaign, name):
    """The two numbers of a rate's beta, sign by sign, by name."""
    a, b = named_priors(arrays, DEFAULT_PRIORS, Shape.of(campaign))[name]
    return list(zip(a.tolist(), b.tolist(), strict=True))


@pytest.mark.parametrize("name", EXPECTED)
def test_a_sign_is_likelier_seen_in_the_mode_that_it_points_to(name, arrays, pointed):
    assert pairs_of(arrays, pointed, name) == EXPECTED[name]


def test_the_vectors_that_are_sampled_by_hold_the_same(arrays, pointed):
    found = prior_arrays(arrays, DEFAULT_PRIORS, Shape.of(pointed))
    assert RATES[-2:] == ("sign_upright_rate", "sign_on_side_rate")
    both = [*EXPECTED["sign_upright_rate"], *EXPECTED["sign_on_side_rate"]]
    pairs = zip(found["rate_a"], found["rate_b"], strict=True)
    assert list(pairs)[-len(both) :] == both
    first = [DEFAULT_PRIORS.spoilt_share, DEFAULT_PRIORS.seen_rate, DEFAULT_PRIORS.seen_rate]
    assert found["rate_a"][:3].tolist() == [beta.a for beta in first]
    assert found["rate_b"][:3].tolist() == [beta.b for beta in first]


@pytest.mark.parametrize("name", EXPECTED)
def test_signs_that_point_the_other_way_would_show(name, arrays, pointed):
    turned = arrays.assign(sign_points_upright=1 - arrays["sign_points_upright"])
    assert pairs_of(turned, pointed, name) != EXPECTED[name]
    other = next(one for one in EXPECTED if one != name)
    assert pairs_of(turned, pointed, name) == EXPECTED[other]
