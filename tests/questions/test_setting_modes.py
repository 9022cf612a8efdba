import numpy as np
import pytest
from scipy.special import expit

from model.base.errors import FitFailed
from model.questions.mode_sentences import has_untried_together, variation_words
from model.questions.setting_modes import Place, set_up_modes, untried
from model.records.pull import ModeSeen
from model.records.treatment import Treatment

WIRE = {"leader": "wire 2 m", "chain": "8 mm"}
PLAIN = {"leader": "chain only", "chain": "8 mm"}


def place(anchor, levels, seabed="firm sand"):
    return Place(anchor=anchor, seabed=seabed, levels=levels)


def at(modes, *where):
    return next(one for one in modes if one.place == place(*where))


def test_every_set_up_that_was_pulled_once_and_in_order(known_posterior, small_pulls):
    found = set_up_modes(known_posterior(), small_pulls)
    named = [(one.place.anchor, one.place.seabed, one.place.levels["leader"]) for one in found]
    assert named == [
        (anchor, seabed, leader)
        for anchor in ("S6", "P9")
        for seabed in ("firm sand", "soft mud")
        for leader in ("chain only", "wire 2 m")
    ]
    assert not any(one.is_predicted for one in found)


def test_pulls_are_counted_by_how_their_first_bite_was_seen(known_posterior, small_pulls):
    found = set_up_modes(known_posterior(), small_pulls)
    wire = at(found, "S6", WIRE).pulls
    # One of its four slipped: first on its side, then upright. It counts as it set first.
    assert (wire.upright, wire.on_side, wire.not_seen, wire.never_set, wire.count) == (
        3,
        1,
        0,
        0,
        4,
    )
    plain = at(found, "S6", PLAIN).pulls
    assert (plain.upright, plain.on_side, plain.not_seen, plain.never_set) == (2, 1, 2, 0)
    never = at(found, "P9", PLAIN).pulls  # one never set, one void
    assert (never.count, never.never_set) == (1, 1)
    assert sum(one.pulls.count for one in found) == 15


def test_levels_left_out_are_the_baseline_and_every_scope_counts(known_posterior, small_pulls):
    changed = [
        pull.model_copy(update={"levels": {"leader": "wire 2 m"}, "scope": 7.0})
        if pull.levels == WIRE else pull
        for pull in small_pulls
    ]  # fmt: skip
    assert set_up_modes(known_posterior(), changed) == set_up_modes(known_posterior(), small_pulls)


def test_chances_and_loads_are_what_the_draws_say(known_posterior, small_pulls, normal_draws):
    leader = np.stack([normal_draws(1.0, 0.3), np.zeros(4000)], axis=1)
    posterior = known_posterior(
        {"treatment_upright": leader, "resets_base": -1.0, "treatment_upright_load": [0.2, 0.0]}
    )
    found = set_up_modes(posterior, small_pulls)
    wire, plain = at(found, "S6", WIRE), at(found, "S6", PLAIN)
    assert wire.p_upright.median == pytest.approx(expit(1.5), abs=1e-3)
    assert wire.p_upright.interval.prob == 0.9
    ends = (wire.p_upright.interval.lower, wire.p_upright.interval.upper)
    assert ends == pytest.approx(expit(1.5 + 0.3 * 1.6449 * np.array([-1, 1])), abs=2e-3)
    assert plain.p_upright.median == pytest.approx(expit(0.5))
    assert plain.p_sets.median == pytest.approx(expit(6.0))
    assert plain.p_resets.median == pytest.approx(expit(-1.0))
    assert wire.load_upright.median / plain.load_upright.median == pytest.approx(np.exp(0.2))
    assert wire.load_on_side.median == pytest.approx(plain.load_on_side.median)
    assert plain.load_upright.median / plain.load_on_side.median == pytest.approx(np.exp(0.4))


def test_a_set_up_never_pulled_is_predicted_and_marked_so(known_posterior, small_pulls):
    thin = place("S6", {"leader": "chain only", "chain": "6 mm"}, "soft mud")
    found = set_up_modes(known_posterior(), small_pulls, [thin, place("S6", PLAIN)])
    assert len(found) == 9  # the other one that was asked for was pulled, and stands once
    one = next(one for one in found if one.is_predicted)
    assert (one.place, one.pulls.count) == (thin, 0)
    assert variation_words(one) == "Never pulled: predicted from other set-ups."


def changed(campaign, place):
    """What of a set-up is not at its baseline."""
    baseline = {treatment.name: treatment.baseline for treatment in campaign.treatments}
    return {name: level for name, level in place.levels.items() if level != baseline[name]}


def test_untried_set_ups_are_one_level_from_the_baseline_or_two_of_which_one_was_pulled(
    small_campaign, small_pulls
):
    found = untried(small_campaign, small_pulls)
    thin, both = {"chain": "6 mm"}, {"leader": "wire 2 m", "chain": "6 mm"}
    where = {(anchor, seabed) for anchor in ("S6", "P9") for seabed in ("firm sand", "soft mud")}
    for changes in (thin, both):
        places = [one for one in found if changed(small_campaign, one) == changes]
        assert {(one.anchor, one.seabed) for one in places} == where
        assert len(places) == 4
    assert len(found) == 8
    # Nothing was pulled, so of no combination one half was; nor does a void pull tell of it.
    void = [pull for pull in small_pulls if pull.is_void]
    for nothing in ((), void):
        none_yet = untried(small_campaign, nothing)
        assert len(none_yet) == 4 * 3
        assert all(len(changed(small_campaign, one)) < 2 for one in none_yet)


def test_combinations_are_of_levels_of_two_treatments_where_one_was_pulled(
    small_campaign, small_pulls
):
    ballast = Treatment(name="ballast", baseline="none", levels=("none", "0.4 kg", "0.8 kg"))
    wider = small_campaign.model_copy(update={"treatments": (*small_campaign.treatments, ballast)})
    [wire] = [pull for pull in small_pulls if pull.id == "day 1/2"]  # of S6 on firm sand
    found = untried(wider, [wire])
    together = [one for one in found if len(changed(wider, one)) > 1]
    assert {(one.anchor, one.seabed) for one in together} == {("S6", "firm sand")}
    assert [changed(wider, one) for one in together] == [
        {"leader": "wire 2 m", "chain": "6 mm"},
        {"leader": "wire 2 m", "ballast": "0.4 kg"},
        {"leader": "wire 2 m", "ballast": "0.8 kg"},
    ]
    both = wire.model_copy(update={"code": "9", "levels": {**wire.levels, "chain": "6 mm"}})
    after = [one for one in untried(wider, [wire, both]) if len(changed(wider, one)) > 1]
    # The combination was pulled now, and so was each half of others.
    assert {"leader": "wire 2 m", "chain": "6 mm"} not in [changed(wider, one) for one in after]
    assert {"chain": "6 mm", "ballast": "0.8 kg"} in [changed(wider, one) for one in after]


def test_a_combination_is_the_sum_of_its_changes_and_is_said_to_be(
    known_posterior, small_pulls, small_campaign
):
    posterior = known_posterior({"treatment_upright": [0.4, 0.3], "treatment_load": [0.2, -0.1]})
    found = set_up_modes(posterior, small_pulls, untried(small_campaign, small_pulls))
    both = at(found, "S6", {"leader": "wire 2 m", "chain": "6 mm"})
    plain = at(found, "S6", PLAIN)
    assert both.is_predicted
    assert variation_words(both) == "Never pulled: predicted from other set-ups."
    assert both.p_upright.median == pytest.approx(expit(0.5 + 0.4 + 0.3))
    assert both.load_upright.median / plain.load_upright.median == pytest.approx(np.exp(0.1))
    assert has_untried_together(found, small_campaign)
    others = [one for one in found if one is not both and one.place.levels != both.place.levels]
    assert not has_untried_together(others, small_campaign)


def test_what_was_seen_one_way_only_is_not_said_never_to_vary(
    known_posterior, small_pulls, normal_draws
):
    upright = [
        pull for pull in small_pulls
        if pull.levels == WIRE and pull.bites[0].mode is ModeSeen.UPRIGHT
    ]  # fmt: skip
    posterior = known_posterior({"upright_base": normal_draws(2.0, 0.5)})
    [one] = set_up_modes(posterior, upright)
    assert one.pulls.only_mode is ModeSeen.UPRIGHT
    assert variation_words(one) == (
        "Never seen on its side, yet that stays possible: 6 to 24 % of pulls that set "
        "(90 % interval); what it would hold then rests on other set-ups."
    )
    [mud] = set_up_modes(posterior, [small_pulls[12]])
    assert mud.pulls.only_mode is ModeSeen.ON_SIDE
    assert "Never seen upright, yet that stays possible: 76 to 94 % of" in variation_words(mud)


@pytest.mark.parametrize(
    ("index", "words"),
    [(5, "It has not set yet"), (6, "How it sets is told from its loads")],
)
def test_words_where_nothing_was_seen(index, words, known_posterior, small_pulls):
    [one] = set_up_modes(known_posterior(), [small_pulls[index]])
    assert variation_words(one).startswith(words)


def test_both_modes_seen_need_no_words(known_posterior, small_pulls):
    assert variation_words(at(set_up_modes(known_posterior(), small_pulls), "S6", WIRE)) == ""


def test_draws_that_failed_tell_nothing(made_up_posterior, small_campaign, small_pulls):
    failed = made_up_posterior(small_campaign, small_pulls, n_draws=40, status="failed")
    with pytest.raises(FitFailed, match="12 divergences"):
        set_up_modes(failed, small_pulls)


def test_no_pulls_no_set_ups(known_posterior):
    assert set_up_modes(known_posterior(), ()) == ()
