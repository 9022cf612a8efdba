import pytest

from model.base.errors import FitFailed, UnknownName
from model.questions import bite_modes as questions
from model.records.answer import NotYet
from model.records.campaign import Anchor
from model.service import fits
from model.service.modes import Modes, modes
from model.store.revisions import Reason


@pytest.fixture
def fitted(filled, fitter):
    fits.fit(filled, fitter=fitter)
    return filled


def test_everything_of_the_newest_posterior(fitted):
    found = modes(fitted)
    assert isinstance(found, Modes)
    assert [(one.place.anchor, one.place.levels["leader"]) for one in found.set_ups] == [
        ("S6", "chain only"),
        ("S6", "wire 2 m"),
        ("P9", "chain only"),
        ("P9", "wire 2 m"),
    ]
    assert [one.pull for one in found.bites] == [f"day 1/{code}" for code in (1, 2, 3, 4, 5, 7)]
    assert (found.posterior.pulls, found.posterior.fit_check) == (7, "passed")


def test_only_what_was_named(fitted):
    found = modes(fitted, anchor=" p9 ", seabed="Firm Sand")
    assert {one.place.anchor for one in found.set_ups} == {"P9"}
    assert [one.pull for one in found.bites] == ["day 1/7"]
    assert modes(fitted, seabed="soft mud").set_ups == ()


def test_set_ups_never_pulled_on_wish(fitted):
    found = modes(fitted, seabed="soft mud", has_untried=True)
    assert len(found.set_ups) == 2 * 3
    assert all(one.is_predicted for one in found.set_ups)
    assert found.bites == ()


def test_pulls_after_the_fit_are_not_told_of(fitted, small_pulls):
    before = modes(fitted)
    fitted.add_pulls([pull for pull in small_pulls if pull.outing == "day 2"], "day-2.csv")
    assert modes(fitted) == before


def test_nothing_fitted(filled):
    assert modes(filled) == NotYet(
        question="how it sets", reason="nothing was fitted yet", hint="Run `kedgewise fit`."
    )


def test_a_store_without_pulls_says_so(store):
    found = modes(store)
    assert isinstance(found, NotYet)
    assert found.reason == "the store holds no pulls"


def test_a_failed_fit(filled, fitter):
    fitter.status = "failed"
    with pytest.raises(FitFailed):
        fits.fit(filled, fitter=fitter)
    with pytest.raises(FitFailed, match="12 divergences"):
        modes(filled)


def test_names_nobody_knows(fitted):
    with pytest.raises(UnknownName, match="no anchor 'X1'") as error:
        modes(fitted, anchor="X1")
    assert error.value.hint == "Known: S6, P9."
    with pytest.raises(UnknownName, match="no seabed 'rock'"):
        modes(fitted, seabed="rock")


def test_an_anchor_that_came_after_the_fit(fitted, small_campaign):
    more = (*small_campaign.anchors, Anchor(code="C7", mass_kg=7.5))
    fitted.replace_campaign(small_campaign.model_copy(update={"anchors": more}))
    found = modes(fitted, anchor="C7")
    assert isinstance(found, NotYet)
    assert (found.reason, found.hint) == (
        "the newest fit does not know the anchor C7",
        "Run `kedgewise fit`.",
    )
    assert isinstance(modes(fitted), Modes)


def test_what_is_told_rests_on_the_pulls_behind_it(fitted, monkeypatch):
    told = []
    monkeypatch.setattr(
        "model.service.modes.bite_modes",
        lambda posterior, pulls: told.extend(pulls) or questions.bite_modes(posterior, pulls),
    )
    modes(fitted)
    assert [pull.id for pull in told if not pull.is_void] == [
        f"day 1/{code}" for code in range(1, 8)
    ]


def test_a_pull_corrected_to_what_the_fit_does_not_know(fitted, small_campaign):
    """Until the next fit it stands as it was fitted."""
    more = Anchor(code="X1", mass_kg=8.0)
    fitted.replace_campaign(
        small_campaign.model_copy(update={"anchors": (*small_campaign.anchors, more)})
    )
    [pull, *_] = fitted.pulls()
    reason = Reason(who="M", why="wrong anchor")
    fitted.correct_pulls([pull.model_copy(update={"anchor": "X1"})], "by hand", reason)
    assert {one.place.anchor for one in modes(fitted).bites} == {"S6", "P9"}
