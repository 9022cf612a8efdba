"""Two treatments changed together: named, switched on together, refused where wrong."""

import pytest
from pydantic import ValidationError

from model.records.campaign import Campaign

BOTH = "leader=wire 2 m & chain=6 mm"


@pytest.fixture
def crossed(small_campaign) -> Campaign:
    return small_campaign.model_copy(update={"interactions": (("leader", "chain"),)})


def test_without_a_word_of_it_effects_add_up(small_campaign):
    assert small_campaign.treatment_level_names == ("leader=wire 2 m", "chain=6 mm")


def test_a_named_interaction_is_one_more_level(crossed):
    assert crossed.treatment_level_names == ("leader=wire 2 m", "chain=6 mm", BOTH)


def test_every_pair_of_changed_levels_has_one(crossed):
    leader, chain = crossed.treatments
    more = leader.model_copy(update={"levels": (*leader.levels, "wire 5 m")})
    wider = crossed.model_copy(update={"treatments": (more, chain)})
    assert wider.treatment_level_names[3:] == (BOTH, "leader=wire 5 m & chain=6 mm")


@pytest.mark.parametrize(
    ("leader", "chain", "is_on"),
    [
        ("chain only", "8 mm", False),
        ("wire 2 m", "8 mm", False),
        ("chain only", "6 mm", False),
        ("wire 2 m", "6 mm", True),
    ],
)
def test_it_is_on_only_where_both_are_changed(crossed, leader, chain, is_on):
    assert (BOTH in crossed.levels_on({"leader": leader, "chain": chain})) == is_on


@pytest.mark.parametrize(
    ("pairs", "said"),
    [
        ((("leader", "fluke"),), "unknown treatment 'fluke'"),
        ((("leader", "leader"),), "interact with itself"),
        ((("leader", "chain"), ("chain", "leader")), "stands twice"),
    ],
)
def test_what_is_wrong_is_refused(small_campaign, pairs, said):
    with pytest.raises(ValidationError, match=said):
        Campaign(**{**dict(small_campaign), "interactions": pairs})


def test_a_level_called_like_an_interaction_is_refused(small_campaign):
    leader, chain = small_campaign.treatments
    same = BOTH.removeprefix("leader=")
    misleading = leader.model_copy(update={"levels": (*leader.levels, same)})
    with pytest.raises(ValidationError, match="called like the interaction"):
        Campaign(
            **{
                **dict(small_campaign),
                "treatments": (misleading, chain),
                "interactions": (("leader", "chain"),),
            }
        )
