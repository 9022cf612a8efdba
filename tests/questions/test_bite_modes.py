import numpy as np
import pytest
from scipy.special import expit

from model.arrays.campaign_arrays import campaign_arrays
from model.base.errors import FitFailed
from model.outcomes.memberships import mode_log_odds
from model.questions import bite_modes as module
from model.questions.bite_modes import bite_modes
from model.questions.effect import parameters_of
from model.questions.mode_sentences import bite_words
from model.records.pull import Bite, Ending, ModeSeen, Start


def of(bites, pull, bite=1):
    return next(one for one in bites if (one.pull, one.bite) == (pull, bite))


SIGHTED = {"seen_upright_rate": 0.95, "seen_on_side_rate": 0.95, "not_seen_base": -1.0,
           "spoilt_share": 0.02, "gauge_scatter": 0.02}  # fmt: skip


@pytest.fixture
def bites(known_posterior, small_pulls):
    return bite_modes(known_posterior(SIGHTED), small_pulls)


def test_every_bite_of_every_pull_that_set(bites, small_pulls):
    wanted = [
        (pull.id, bite.number)
        for pull in small_pulls if pull.has_set and not pull.is_void for bite in pull.bites
    ]  # fmt: skip
    assert [(one.pull, one.bite) for one in bites] == wanted
    assert ("day 1/6", 1) not in wanted  # never set
    assert ("day 1/8", 1) not in wanted  # void


def test_the_chance_is_the_draws_average(made_up_posterior, small_campaign, small_pulls):
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=60)
    arrays = campaign_arrays(small_campaign, small_pulls)
    odds = sum(mode_log_odds(parameters_of(posterior), arrays).values())
    average = expit(odds[:, arrays["is_unseen"].to_numpy() == 0]).mean(axis=0)
    found = sorted(bite_modes(posterior, small_pulls), key=lambda one: (one.pull, one.bite))
    assert [one.p_upright for one in found] == pytest.approx(average)


def test_draws_are_taken_in_turns_without_a_difference(
    made_up_posterior, small_campaign, small_pulls, monkeypatch
):
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=50)
    at_once = bite_modes(posterior, small_pulls)
    monkeypatch.setattr(module, "DRAWS_AT_ONCE", 7)
    for one, other in zip(at_once, bite_modes(posterior, small_pulls), strict=True):
        assert one.p_upright == pytest.approx(other.p_upright)
        assert [step.part for step in one.steps] == [step.part for step in other.steps]


def test_only_what_was_recorded_is_a_step(bites):
    assert [step.part for step in of(bites, "day 1/3").steps] == ["set-up", "load", "camera"]
    assert [step.part for step in of(bites, "day 1/5").steps] == ["set-up", "load"]


def test_what_moved_it_adds_up(bites):
    one = of(bites, "day 1/4")
    assert list(one.moved_by) == ["set-up", "load", "camera"]
    assert sum(one.moved_by.values()) == pytest.approx(one.p_upright)
    assert one.moved_by["set-up"] == pytest.approx(expit(0.5))
    assert one.moved_by["camera"] > 0
    assert one.moved_by["load"] > 0  # it held everything


def test_a_bite_seen_one_way_and_likelier_the_other_is_at_odds(known_posterior, small_pulls):
    sharp = SIGHTED | {"log_scatter": np.log(0.05), "mode_gap": 1.0, "load_base": np.log(4.6)}
    one = of(bite_modes(known_posterior(sharp), small_pulls), "day 1/3")
    misread = small_pulls[0].model_copy(
        update={"bites": (small_pulls[3].bites[0].model_copy(update={"mode": "on_side"}),)}
    )
    [odd] = bite_modes(known_posterior(sharp), [misread])
    assert (odd.seen, odd.is_at_odds) == (ModeSeen.ON_SIDE, True)
    assert odd.p_upright > 0.5
    assert not one.is_at_odds


def test_one_bite_in_words(bites, small_pulls, known_posterior):
    words = bite_words(of(bites, "day 1/2"))
    first, last = words.split(" % upright: 62 % from its set-up, ")
    assert first.startswith("Pull day 1/2: ")
    assert last.endswith("% with what was seen (upright)")
    assert "% with its load" in last
    assert bite_words(of(bites, "day 2/1", 2)).startswith("Pull day 2/1, bite 2: ")
    lost = small_pulls[4].bites[0].model_copy(update={"has_camera": True})
    [one] = bite_modes(
        known_posterior(SIGHTED), [small_pulls[4].model_copy(update={"bites": (lost,)})]
    )
    # As lost in either mode, it says nothing, and so is no step.
    assert [step.part for step in one.steps] == ["set-up", "load"]
    tells = SIGHTED | {"not_seen_difference": 1.0}
    [one] = bite_modes(
        known_posterior(tells), [small_pulls[4].model_copy(update={"bites": (lost,)})]
    )
    assert bite_words(one).endswith("with the camera (nothing seen)")


def test_draws_that_failed_tell_nothing(made_up_posterior, small_campaign, small_pulls):
    failed = made_up_posterior(small_campaign, small_pulls, n_draws=40, status="failed")
    with pytest.raises(FitFailed, match="12 divergences"):
        bite_modes(failed, small_pulls)


def test_one_that_does_not_set_again_after_a_turn_has_no_mode(known_posterior, small_pulls):
    gone = Bite(number=2, start=Start.AFTER_TURN, ending=Ending.NEVER_SET)
    held = next(pull for pull in small_pulls if pull.ending is Ending.HELD)
    turned = held.model_copy(update={"bites": (held.bites[0], gone)})
    pulls = [turned if pull is held else pull for pull in small_pulls]
    told = [one.bite for one in bite_modes(known_posterior(SIGHTED), pulls) if one.pull == held.id]
    assert told == [1]
