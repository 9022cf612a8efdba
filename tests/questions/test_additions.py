"""Only what leaves the fit's own facts alone can be weighed in."""

import pytest

from model.questions.additions import additions
from model.records.campaign import Anchor, Outing
from model.records.pull import Ending
from model.records.treatment import Treatment


@pytest.fixture
def then(small_pulls):
    return small_pulls[:8]


def _found(campaign, then, now, campaign_now=None):
    return additions(campaign, then, campaign_now or campaign, now)


def test_new_pulls_are_named_in_the_order_stored_void_ones_left_out(
    small_campaign, small_pulls, then
):
    void = next(pull for pull in small_pulls if pull.is_void).model_copy(update={"code": "v"})
    found = _found(small_campaign, then, (*small_pulls, void))
    assert [pull.id for pull in found.pulls] == [pull.id for pull in small_pulls[8:]]
    assert not _found(small_campaign, then, (*then, void)).pulls


def test_notes_and_questions_change_nothing(small_campaign, then):
    noted = (then[0].model_copy(update={"notes": "gusty", "video": "a.mp4"}), *then[1:])
    fewer = small_campaign.model_copy(update={"questions": (), "name": "Other name"})
    assert _found(small_campaign, then, noted, fewer).pulls == ()


def test_more_names_in_another_order_are_additions(small_campaign, small_pulls, then):
    old = small_campaign
    grown = old.model_copy(
        update={
            "outings": (Outing(name="day 0", ladder="steps", boat="workboat"), *old.outings[::-1]),
            "anchors": (Anchor(code="S6b", mass_kg=6.0, modified_from="S6"), *old.anchors[::-1]),
            "treatments": (
                Treatment(name="tip", baseline="none", levels=("none", "0.4 kg")),
                *old.treatments[::-1],
            ),
            "signs": (),
        }
    )
    assert _found(old, then, small_pulls, grown) is None  # a sign is gone
    grown = grown.model_copy(update={"signs": old.signs})
    assert len(_found(old, then, small_pulls, grown).pulls) == 8


def _released_lower(pull):
    bite = pull.bites[0].model_copy(update={"load_kn": 1.5})
    return pull.model_copy(update={"bites": (bite, *pull.bites[1:])})


@pytest.mark.parametrize(
    "change",
    [
        lambda pulls: pulls[1:],
        lambda pulls: (_released_lower(pulls[0]), *pulls[1:]),
        lambda pulls: (pulls[0].model_copy(update={"anchor": "P9"}), *pulls[1:]),
        lambda pulls: (pulls[0].model_copy(update={"scope": 7.0}), *pulls[1:]),
        lambda pulls: (
            pulls[0].model_copy(
                update={
                    "bites": (pulls[0].bites[0].model_copy(
                        update={"ending": Ending.VOID, "load_kn": None}),),
                    "reason": "fouled",
                }
            ),
            *pulls[1:],
        ),
    ],
    ids=["taken out", "another load", "another anchor", "another scope", "void"],
)  # fmt: skip
def test_a_pull_of_the_fit_that_changed_is_no_addition(small_campaign, small_pulls, then, change):
    assert _found(small_campaign, then, (*change(then), *small_pulls[8:])) is None


def test_a_campaign_that_says_something_else_of_the_fits_pulls_is_none(
    small_campaign, small_pulls, then
):
    heavier = small_campaign.anchors[0].model_copy(update={"mass_kg": 6.5})
    for update in (
        {"anchors": (heavier, *small_campaign.anchors[1:])},
        {"usual_scope": 6.0},
        {"boats": (small_campaign.boats[0].model_copy(update={"calibration_error": 0.2}),)},
        {"outings": (small_campaign.outings[0].model_copy(update={"site": None, "gauge": None}),
                     *small_campaign.outings[1:])},
    ):  # fmt: skip
        changed = small_campaign.model_copy(update=update)
        assert _found(small_campaign, then, small_pulls, changed) is None, update


def test_a_new_treatment_that_an_old_pull_is_said_to_have_had_is_a_correction(small_campaign, then):
    tip = Treatment(name="tip", baseline="none", levels=("none", "0.4 kg"))
    grown = small_campaign.model_copy(update={"treatments": (*small_campaign.treatments, tip)})
    assert _found(small_campaign, then, then, grown) is not None
    had = then[0].model_copy(update={"levels": {**then[0].levels, "tip": "0.4 kg"}})
    assert _found(small_campaign, then, (had, *then[1:]), grown) is None
