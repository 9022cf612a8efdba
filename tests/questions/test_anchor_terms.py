"""What of an anchor is no more than what the others say, against cases known exactly."""

import numpy as np
import pytest

from model.base.priors import DEFAULT_PRIORS
from model.questions import anchor_terms as module
from model.questions.anchor_terms import anchor_terms
from model.records.campaign import Anchor
from model.records.question import Measure, Question, SetUp

WIRE = {"leader": "wire 2 m"}
ANCHORS = Question(name="anchors", a=SetUp(anchor="S6"), b=SetUp(anchor="P9"))
LEADER = Question(name="leader", a=SetUp(anchor="S6", levels=WIRE), b=SetUp(anchor="S6"))
GENERAL = Question(name="general", a=SetUp(levels=WIRE), b=SetUp())

LOAD, GAP, UPRIGHT = "load", "the gap between its modes", "how often it sets upright"
SETS, RESETS = "how often it sets", "how often it re-sets"
TURNS, BURIED = "how often it sets again after a turn", "how much rode it buries"

SCALE = 0.4


def _by(question, measure):
    hold = 2.0 if measure is Measure.HOLD else None
    changes = {"measure": measure, "hold_kn": hold, "band": None}
    return Question.model_validate(question.model_dump() | changes)


def _named(terms):
    return {(term.of, term.on) for term in terms}


@pytest.fixture
def gaps(known_posterior, normal_draws):
    """Posteriors that know the gap of S6, and that of P9 to a share of what sets gaps apart."""

    def make(share):
        drawn = np.stack([np.full(4000, 0.4), np.exp(normal_draws(np.log(0.4), share * SCALE, 5))])
        return known_posterior({"mode_gap": drawn.T, "mode_gap_scale": SCALE})

    return make


@pytest.mark.parametrize(
    ("share", "expected"), [(1.0, {("P9", GAP)}), (0.95, {("P9", GAP)}), (0.8, set())]
)
def test_a_gap_as_wide_as_that_of_an_anchor_never_pulled_is_named(
    share, expected, gaps, small_pulls
):
    found = anchor_terms(gaps(share), ANCHORS, small_pulls)
    assert _named(found) == expected
    assert {term.is_by_others for term in found} <= {True}
    assert anchor_terms(gaps(share), LEADER, small_pulls) == ()  # it is not about P9


def test_without_the_anchor_never_pulled_there_is_nothing_to_hold_it_against(
    gaps, small_pulls, monkeypatch
):
    """An anchor never pulled that is known as well as P9 is: then its gap was told of by nobody."""

    def as_known(posterior, campaign):
        drawn = module_extended(posterior, campaign)
        drawn["mode_gap"][:, 2:] = np.exp(3 * np.log(drawn["mode_gap"][:, :2]))
        return drawn

    module_extended = module.extended_draws
    assert anchor_terms(gaps(1.0), ANCHORS, small_pulls)
    monkeypatch.setattr(module, "extended_draws", as_known)
    assert anchor_terms(gaps(1.0), ANCHORS, small_pulls) == ()


MODES = {GAP, UPRIGHT}
TOUCHED = {  # of two anchors; with a treatment that changes how one anchor sets
    Measure.TYPICAL: ({LOAD, *MODES}, MODES),
    Measure.BEST: ({LOAD, *MODES, SETS, RESETS}, {*MODES, SETS, RESETS}),
    Measure.CAPPED: ({LOAD, *MODES}, {LOAD, *MODES}),
    Measure.NINE_IN_TEN: ({LOAD, *MODES}, MODES),
    Measure.HOLD: ({LOAD, *MODES, SETS}, {LOAD, *MODES, SETS}),
    Measure.UPRIGHT: ({UPRIGHT}, {UPRIGHT}),
    Measure.SETS: ({SETS}, {SETS}),
    Measure.RESETS: ({RESETS}, set()),
    Measure.TURNS: ({TURNS}, set()),
    Measure.BURIED: ({BURIED, UPRIGHT}, {UPRIGHT}),
    Measure.NEXT: ({LOAD, *MODES, SETS}, {*MODES, SETS}),
}
"""Read off the measures: what is alike on both sides falls out of a ratio."""


@pytest.mark.parametrize("measure", Measure)
def test_where_no_pull_told_anything_each_quantity_of_the_measure_is_named(
    measure, made_up_posterior, small_campaign, small_pulls
):
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=4000)
    # As wide as each draw's own scales, and no treatment between the anchor and its baseline.
    of_two, of_one = TOUCHED[measure]
    found = anchor_terms(posterior, _by(ANCHORS, measure), small_pulls)
    assert _named(found) == {(code, on) for code in ("S6", "P9") for on in of_two}
    found = anchor_terms(posterior, _by(LEADER, measure), small_pulls)
    assert _named(found) == {("S6", on) for on in of_one}


def test_what_falls_out_of_a_ratio_would_be_named_if_nobody_looked(
    made_up_posterior, small_campaign, small_pulls, monkeypatch
):
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=4000)
    monkeypatch.setattr(module, "touched_by", lambda *_: module.QUANTITIES)
    named = _named(anchor_terms(posterior, LEADER, small_pulls))
    assert {("S6", LOAD), ("S6", TURNS), ("S6", BURIED)} <= named


def test_scope_alone_touches_no_way_of_setting(made_up_posterior, small_campaign, small_pulls):
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=4000)
    scope = Question(name="scope", a=SetUp(anchor="S6", scope=7.0), b=SetUp(anchor="S6"))
    assert anchor_terms(posterior, scope, small_pulls) == ()


def test_in_general_every_anchor_is_looked_at_and_the_next_one_never(
    made_up_posterior, small_campaign, small_pulls
):
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=4000)
    general = _named(anchor_terms(posterior, GENERAL, small_pulls))
    assert general == {(code, on) for code in ("S6", "P9") for on in MODES}
    following = GENERAL.model_copy(update={"over": "next"})
    assert anchor_terms(posterior, following, small_pulls) == ()


def test_an_anchor_never_pulled_is_one_term(made_up_posterior, small_campaign, small_pulls):
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=4000)
    of_s6 = [pull for pull in small_pulls if pull.anchor == "S6"]
    [term] = [one for one in anchor_terms(posterior, ANCHORS, of_s6) if one.of == "P9"]
    assert (term.on, term.told_by) == ("all of it", "any pulls with {of}")


def test_an_only_anchor_is_at_its_prior(made_up_posterior, small_campaign, small_pulls):
    only = small_campaign.model_copy(update={"anchors": small_campaign.anchors[:1]})
    pulls = [pull for pull in small_pulls if pull.anchor == "S6"]
    posterior = made_up_posterior(only, pulls, n_draws=4000)
    found = anchor_terms(posterior, _by(LEADER, Measure.UPRIGHT), pulls)
    assert [(term.of, term.is_by_others) for term in found] == [("S6", False)]


def test_an_open_treatment_hides_nothing_that_the_pulls_told(
    known_posterior, normal_draws, small_pulls
):
    """S6 is known at its baseline; what the leader does to it is as open as ever."""
    upright = np.zeros((4000, 2))
    upright[:, 0] = normal_draws(0.0, DEFAULT_PRIORS.treatment_upright.sd)
    own = np.stack([normal_draws(0.0, 0.5, 7), np.zeros(4000)], axis=1)
    values = {"treatment_upright": upright, "anchor_upright": own, "anchor_upright_scale": 1.0}
    posterior = known_posterior(values)
    asked = _by(LEADER, Measure.UPRIGHT)
    assert anchor_terms(posterior, asked, small_pulls) == ()
    beside = module._beside_untried(posterior, asked)
    quantity = next(one for one in module.QUANTITIES if one.on == UPRIGHT)
    [least] = module.width_ratios(asked, beside, [quantity])[UPRIGHT]
    assert least == pytest.approx(0.5, rel=0.06)
    both_wire = Question(name="w", a=SetUp(anchor="S6", levels=WIRE),
                         b=SetUp(anchor="P9", levels=WIRE))  # fmt: skip
    beside = module._beside_untried(posterior, both_wire)
    found = module.width_ratios(both_wire, beside, [quantity])[UPRIGHT]
    assert found[0] == pytest.approx(0.5, rel=0.06)  # looked at with the leader only: 0.92
    assert found[1] == pytest.approx(0.0, abs=0.01)


def test_kin_are_held_against_kin(known_posterior, normal_draws, small_campaign, small_pulls):
    """Of a changed specimen never pulled its older one says most: 0.6 of the scale is news."""
    older = small_campaign.anchors[1].code
    made = Anchor(code="P9b", kind="hinged plough", mass_kg=9.0, modified_from=older)
    campaign = small_campaign.model_copy(update={"anchors": (*small_campaign.anchors, made)})
    pull = next(pull for pull in small_pulls if pull.anchor == older)
    pulls = [*small_pulls, pull.model_copy(update={"anchor": "P9b", "code": "b"})]
    question = _by(Question(name="kin", a=SetUp(anchor="P9b"), b=SetUp(anchor="S6")),
                   Measure.SETS)  # fmt: skip
    news = np.sqrt(1 - DEFAULT_PRIORS.kin_correlation**2)

    def named(anchors):
        drawn = np.zeros((4000, 3))
        drawn[:, 2] = normal_draws(0.0, news, 9)
        found = campaign.model_copy(update={"anchors": anchors})
        posterior = known_posterior(
            {"anchor_sets": drawn, "anchor_sets_scale": 1.0}, campaign=found
        )
        return _named(anchor_terms(posterior, question, pulls))

    assert named(campaign.anchors) == {("P9b", SETS)}
    no_kin = (*small_campaign.anchors, made.model_copy(update={"modified_from": None}))
    assert named(no_kin) == set()
