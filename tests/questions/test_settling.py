"""Every condition of a finding can by itself keep an answer unsettled, and says so."""

from collections.abc import Callable
from dataclasses import dataclass
from math import log

import numpy as np
import pytest

from model.base.constants import SETTLED_PROB
from model.questions import settling
from model.questions.ask import answer
from model.questions.effect import band_shares
from model.questions.monte_carlo import indicator_mcse
from model.records.answer import Finding
from model.records.question import Measure, Question, SetUp

BAND_LOG = log(1.15)
WIRE = {"leader": "wire 2 m"}
ON_S6 = Question(
    name="leader on S6", a=SetUp(anchor="S6", levels=WIRE), b=SetUp(anchor="S6"),
    seabeds=("firm sand",),
)  # fmt: skip
NEXT_ANCHOR = Question(name="next anchor", a=SetUp(levels=WIRE), b=SetUp(), over="next")
HOLDS_20_KN = Question.model_validate(
    ON_S6.model_dump() | {"measure": Measure.HOLD, "hold_kn": 20.0, "band": None}
)
NEXT_PULL = ON_S6.model_copy(update={"measure": Measure.NEXT})


def _two_of_a(pulls):
    of_a = [pull for pull in pulls if pull.levels == {**WIRE, "chain": "8 mm"}]
    on_sand = [pull for pull in of_a if pull.anchor == "S6" and pull.seabed == "firm sand"]
    return [pull for pull in pulls if pull not in on_sand[2:]]


def _some_at_scope_3(pulls, n):
    plain = [
        pull for pull in pulls if pull.anchor == "S6" and pull.levels["leader"] not in WIRE.values()
    ]
    far = plain[::2][:n]
    return [pull.model_copy(update={"scope": 3.0}) if pull in far else pull for pull in pulls]


def _on_days_of_their_own(pulls):
    return [
        pull.model_copy(update={"outing": "day 1" if pull.levels["leader"] in WIRE.values()
                                else "day 2"})
        for pull in pulls
    ]  # fmt: skip


@dataclass(frozen=True)
class Case:
    """What is changed of a settled answer, the condition that notices, and what it says."""

    condition: str
    says: str
    effect: tuple[float, float] = (0.4, 0.03)
    question: Question = ON_S6
    pulls: Callable = tuple
    looks: tuple[tuple[Finding, float], ...] = ((Finding.HIGHER, 0.99),)


HIGHER, LOWER, NEITHER = Finding.HIGHER, Finding.LOWER, Finding.NO_PRACTICAL_DIFFERENCE
CASES = {
    "the next anchor": Case(
        "_is_about_what_is", "is a chance, never a finding", question=NEXT_ANCHOR
    ),
    "the next pull": Case(
        "_is_about_what_is", "is a chance, never a finding", (1.2, 0.01), question=NEXT_PULL
    ),
    "nothing in the model lets the sides differ": Case(
        "_lets_the_sides_differ", "knows of nothing by which the two sides could differ in this",
        question=Question.model_validate(
            ON_S6.model_dump() | {"measure": Measure.RESETS, "band": None}
        ),
        looks=((NEITHER, 0.99),),
    ),
    "a load that no pull could reach": Case(
        "_is_within_reach", "more than any of these pulls could reach", (0.0, 0.01),
        question=HOLDS_20_KN, looks=((NEITHER, 0.99),),
    ),
    "below 0.95": Case(
        "_reaches_the_threshold",
        "higher beyond the band is the likeliest with 94 %, and a finding needs 95 %",
        (BAND_LOG + 1.635 * 0.03, 0.03),
    ),
    "two pulls on a side": Case(
        "_has_enough_pulls", "fewer than 6 pulls on a side", pulls=_two_of_a
    ),
    "no shared day": Case(
        "_shares_a_day", "never pulled on the same day", pulls=_on_days_of_their_own
    ),
    "within simulation error": Case(
        "_is_clear_of_simulation_error", "too close to 95 %", (BAND_LOG + 1.66 * 0.03, 0.03)
    ),
    "leans on the prior": Case(
        "_stands_under_a_wider_prior",
        "does not stand when the prior of the effect is twice as wide",
        (0.0, BAND_LOG / 2.17),
        looks=((NEITHER, 0.99),),
    ),
    "told by the prior alone": Case(
        "_stands_under_a_wider_prior", "the draws cannot tell", (0.4, 0.11)
    ),
    "first look": Case("_was_so_at_the_last_look", "this is the first look", looks=()),
    "the last look said less": Case(
        "_was_so_at_the_last_look", "the look before this one did not say so",
        looks=((HIGHER, 0.99), (HIGHER, 0.94)),
    ),
    "the last look said otherwise": Case(
        "_was_so_at_the_last_look", "the look before this one did not say so",
        looks=((HIGHER, 0.99), (NEITHER, 0.99)),
    ),
}  # fmt: skip


@pytest.fixture
def ask(known_posterior, normal_draws, many_pulls, look):
    def asked(case):
        posterior = known_posterior(leader=normal_draws(*case.effect))
        looks = [look(finding, probability=p) for finding, p in case.looks]
        return answer(case.question, posterior, case.pulls(many_pulls), looks=looks).summary

    return asked


@pytest.mark.parametrize("name", CASES)
def test_one_condition_is_enough_to_leave_it_open(name, ask):
    summary = ask(CASES[name])
    assert summary.finding is Finding.NOT_SETTLED
    assert "Not settled: " in summary.sentence
    assert CASES[name].says in summary.sentence


def test_a_question_that_is_not_standing_keeps_no_looks(ask):
    own = ON_S6.model_copy(update={"name": "own"})
    summary = ask(Case("_was_so_at_the_last_look", "", question=own, looks=()))
    assert "only a standing question is looked at again" in summary.sentence


@pytest.mark.parametrize("name", [name for name in CASES if name != "below 0.95"])
def test_without_that_condition_it_would_be_settled(name, ask, monkeypatch):
    left = [one for one in settling.CONDITIONS if one.__name__ != CASES[name].condition]
    assert len(left) == len(settling.CONDITIONS) - 1
    monkeypatch.setattr(settling, "CONDITIONS", left)
    assert ask(CASES[name]).finding is not Finding.NOT_SETTLED


def test_every_condition_has_its_case():
    assert {case.condition for case in CASES.values()} == {
        condition.__name__ for condition in settling.CONDITIONS
    }


@pytest.mark.parametrize(
    ("effect", "finding", "words"),
    [
        ((0.4, 0.03), HIGHER, "Settled: higher."),
        ((-0.4, 0.03), LOWER, "Settled: lower."),
        ((0.0, 0.04), NEITHER, "Settled: no practical difference."),
    ],
)
def test_with_every_condition_met_it_is_settled(effect, finding, words, ask):
    summary = ask(Case("", "", effect, looks=((finding, 0.99),)))
    assert summary.finding is finding
    assert summary.sentence.endswith(words)


@pytest.mark.parametrize("n_far", [0, 6])
def test_scopes_are_settled_by_pulls_at_both_and_never_by_the_prior(
    n_far, known_posterior, normal_draws, many_pulls, look
):
    """A slope of scope that is its prior alone says "lower" with every draw."""
    question = Question(
        name="scope", a=SetUp(anchor="S6", scope=3.0), b=SetUp(anchor="S6", scope=5.0)
    )
    slope = np.exp(normal_draws(log(2.6), 0.4))
    pulls = _some_at_scope_3(many_pulls, n_far)
    summary = answer(
        question, known_posterior({"scope_slope": slope}), pulls, looks=[look(LOWER)]
    ).summary
    assert summary.p_below_band > SETTLED_PROB
    assert (summary.pulls.a.count, summary.finding) == (n_far, Finding.NOT_SETTLED)
    says = "does not stand when the prior" if n_far else "fewer than 6 pulls"
    assert says in summary.sentence
    told = known_posterior({"scope_slope": np.exp(normal_draws(log(2.6), 0.05))})
    settled = answer(question, told, pulls, looks=[look(LOWER)]).summary
    assert (settled.finding is LOWER) == (n_far > 0)


def test_only_the_last_look_counts(ask):
    looks = ((NEITHER, 0.99), (HIGHER, 0.96))
    assert ask(Case("", "", looks=looks)).finding is Finding.HIGHER


def test_just_below_the_threshold_does_not_read_as_the_threshold(ask):
    summary = ask(CASES["below 0.95"])
    assert 0.948 < summary.p_above_band < SETTLED_PROB
    assert "with 95 %" not in summary.sentence


def test_error_of_a_probability_of_independent_draws_is_binomial(known_posterior, normal_draws):
    indicator = (normal_draws(0.0, 1.0) > 1.0).astype(float)
    p = indicator.mean()
    expected = np.sqrt(p * (1 - p) / indicator.size)
    assert indicator_mcse(indicator, known_posterior()) == pytest.approx(expected, rel=0.1)


def test_error_grows_where_draws_hang_together(known_posterior, normal_draws):
    indicator = (np.repeat(normal_draws(0.0, 1.0, n=400), 10) > 1.0).astype(float)
    p = indicator.mean()
    expected = np.sqrt(p * (1 - p) / 400)
    assert indicator_mcse(indicator, known_posterior()) == pytest.approx(expected, rel=0.25)


def test_a_region_that_holds_every_draw_is_not_known_without_error(known_posterior):
    assert indicator_mcse(np.ones(4000), known_posterior()) == 1 / 4000


def test_shares_of_the_band_are_counted(normal_draws):
    shares = band_shares(normal_draws(BAND_LOG, 0.1), ON_S6.band)
    assert shares.above == pytest.approx(0.5, abs=1e-3)
    assert shares.above + shares.inside + shares.below == pytest.approx(1, abs=1e-12)
