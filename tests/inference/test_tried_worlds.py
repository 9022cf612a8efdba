"""Odd campaigns, each fitted: the sampler stands them, and the answers say what can be said."""

import numpy as np
import pytest

from model.arrays.campaign_arrays import campaign_arrays
from model.graph import density as density_module
from model.outcomes.likelihood import log_likelihood
from model.questions.ask import answer
from model.questions.effect import parameters_of
from model.records.answer import Finding
from model.records.question import Measure, Question, SetUp

pytestmark = pytest.mark.fit

WIRE = {"leader": "wire 2 m"}
LEADER = Question(name="leader", a=SetUp(anchor="S6", levels=WIRE), b=SetUp(anchor="S6"))
ANCHORS = Question(name="anchors", a=SetUp(anchor="S6"), b=SetUp(anchor="P9"))
NAMES = (
    "always holds",
    "always on its side",
    "strong",
    "strong, once never set",
    "no mode seen",
    "held against held",
    "nothing but held",
    "one pull",
    "slips early, ends high",
)


@pytest.fixture
def ask(tried):
    def of(name, question=LEADER, **more):
        posterior, pulls = tried(name)
        return answer(question, posterior, pulls, **more)

    return of


@pytest.mark.parametrize("name", NAMES)
def test_the_fit_of_an_odd_campaign_passes_its_check(name, tried):
    posterior, _ = tried(name)
    assert (posterior.fit_check.status, posterior.fit_check.reasons) == ("passed", ())
    assert all(np.isfinite(posterior.draws[one]).all() for one in posterior.draws.data_vars)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("question", [LEADER, ANCHORS], ids=lambda question: question.name)
def test_every_figure_of_an_answer_is_a_number(name, question, ask):
    found = ask(name, question)
    effect = found.summary.effect
    assert np.isfinite([effect.median, effect.interval.lower, effect.interval.upper]).all()
    assert np.isfinite(found.effect_draws).all()
    for row in found.measures:
        for shown in (row.a, row.b, row.effect):
            assert shown.interval.lower <= shown.median <= shown.interval.upper
    assert found.summary.finding is Finding.NOT_SETTLED  # a first look settles nothing


def test_one_compiled_density_serves_all_of_them(tried):
    for name in NAMES:
        tried(name)
    assert len(density_module._function().signatures) == 1


def test_an_anchor_that_always_holds_is_stronger_by_an_unknown_amount(ask):
    found = ask("always holds", ANCHORS)
    assert found.summary.p_higher > 0.99
    assert "beyond_the_boat" in {flag.code for flag in found.summary.flags}
    assert found.a.value.interval.upper > 2 * 4.6  # how much above the boat's most is open
    capped = next(row for row in found.measures if row.measure is Measure.CAPPED)
    assert capped.a.interval.upper <= 4.6 + 1e-9
    assert capped.a.interval.lower > 4.0


def test_an_anchor_that_always_lies_on_its_side_is_said_to(ask):
    found = ask("always on its side", ANCHORS)
    assert found.a.p_upright.median < 0.35
    assert found.a.value.median == pytest.approx(2.0, rel=0.25)  # the ladder's steps it let go at
    assert found.summary.p_higher < 0.10


def test_a_pull_that_never_set_invents_no_weak_mode(ask):
    without, once = (ask(name, ANCHORS).a for name in ("strong", "strong, once never set"))
    for with_it, as_it_was in (
        (once.load_on_side, without.load_on_side),
        (once.load_upright, without.load_upright),
        (once.value, without.value),
    ):
        assert with_it.median == pytest.approx(as_it_was.median, rel=0.08)
    assert once.load_on_side.median > 2.3
    assert once.p_upright.median > without.p_upright.median - 0.05
    assert once.p_sets.median < without.p_sets.median - 0.02


def test_taken_for_a_release_at_the_first_step_it_would_invent_one(tried, tried_campaign, worlds):
    """What the test above would see: the same pull put down as a load."""
    posterior, pulls = tried("strong, once never set")
    never = next(pull for pull in pulls if not pull.has_set)
    weak = worlds["one pull"][0].bites[0].model_copy(update={"load_kn": 0.5, "mode": None})
    wrong = [pull.model_copy(update={"bites": (weak,)}) if pull is never else pull
             for pull in pulls]  # fmt: skip
    arrays = campaign_arrays(tried_campaign, wrong)
    by_pull = log_likelihood(parameters_of(posterior), arrays)
    at = list(arrays["pull"].to_numpy()).index(never.id)
    likely = float(np.log(np.mean(np.exp(by_pull[:, at]))))
    right = float(np.log(np.mean(np.exp(posterior.draws["log_likelihood"].to_numpy()[:, at]))))
    assert right > likely + 1.0


def test_modes_that_nobody_saw_are_assumed_and_said_so(ask):
    found = ask("no mode seen", ANCHORS)
    assert "modes_assumed" in {flag.code for flag in found.summary.flags}
    width = found.a.p_upright.interval.upper - found.a.p_upright.interval.lower
    assert width > 0.3


@pytest.mark.parametrize("name", ["held against held", "nothing but held"])
def test_six_held_against_six_held_says_nothing_either_way(name, ask):
    found = ask(name)
    assert found.summary.p_higher == pytest.approx(0.5, abs=0.15)
    assert found.summary.pulls.a.held == found.summary.pulls.b.held == 6
    settled = found.summary.model_copy(
        update={"p_above_band": 0.0, "p_inside_band": 1.0, "p_below_band": 0.0}
    )
    again = ask(name, looks=(settled,)).summary
    assert again.finding is Finding.NOT_SETTLED
    flags = {flag.code: flag.text for flag in again.flags}
    assert "Every pull of A and B held the boat's most" in flags["beyond_the_boat"]


def test_one_pull_leaves_everything_open(ask):
    found = ask("one pull")
    assert found.summary.p_higher == pytest.approx(0.5, abs=0.06)
    interval = found.b.value.interval
    assert interval.upper / interval.lower > 1.5
    assert interval.lower < 2.6  # the step it let go at
    codes = {flag.code for flag in found.summary.flags}
    assert {"never_pulled", "terms_at_prior"} <= codes
    assert "Not settled: " in found.summary.sentence


def test_slips_that_end_high_are_told_by_both_halves(ask):
    """Pulls with the leader let go early, dig in again by themselves and hold the boat's most."""
    found = ask("slips early, ends high")
    rows = {row.measure: row for row in found.measures}
    assert rows[Measure.TYPICAL].p_higher < 0.34
    assert rows[Measure.BEST].p_higher > 0.66
    assert "It points two ways: S6 with leader: wire 2 m lets go earlier at first" in (
        found.summary.sentence
    )
    assert "yet its pulls reach a higher best load" in found.summary.sentence
