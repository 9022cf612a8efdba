"""What own pulls say by themselves: counts by hand, and differences against exact values."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import beta, norm

from model.questions.alone import buried_effect_alone
from model.questions.answer import OwnCount
from model.questions.own_pulls import alone_of
from model.questions.own_shares import TRIES, own_count, share_difference
from model.questions.sides import side_pulls
from model.records.pull import Bite, BuriedRode, Ending, ModeSeen, Start
from model.records.question import Measure, Question, SetUp

WIRE = {"leader": "wire 2 m"}
SAND = ("firm sand",)


def _question(measure, hold=2.0):
    return Question(
        name="leader on S6", a=SetUp(anchor="S6", levels=WIRE), b=SetUp(anchor="S6"),
        seabeds=SAND, measure=measure, hold_kn=hold if measure is Measure.HOLD else None,
    )  # fmt: skip


@pytest.fixture
def alone(small_campaign):
    def make(question, pulls):
        sides = (
            side_pulls(small_campaign, question, setup, pulls) for setup in (question.a, question.b)
        )
        return alone_of(small_campaign, question, *sides)

    return make


@pytest.fixture
def with_bites(small_pulls):
    """A pull of S6 with the leader, and bites of one's own."""

    def make(*bites):
        return small_pulls[1].model_copy(update={"bites": bites})

    return make


# --- what is counted ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("measure", "a", "b"),
    [
        # S6 on firm sand with wire: 3.9 upright, held upright, 2.0 on its side and held after the
        # slip, 4.6 upright. Chain only: 2.6 on its side, 3.2 upright, 2.0 and 3.2 not seen, held.
        (Measure.UPRIGHT, (3, 4, 0), (2, 3, 2)),
        (Measure.SETS, (4, 4, 0), (5, 5, 0)),
        (Measure.RESETS, (1, 3, 0), (0, 4, 0)),
        (Measure.HOLD, (3, 4, 0), (4, 5, 0)),
    ],
)
def test_own_pulls_are_counted_as_by_hand(measure, a, b, alone, small_pulls):
    found = alone(_question(measure), small_pulls)
    counted = [(side.so, side.count, side.left_out) for side in (found.a, found.b)]
    assert counted == [a, b]


def test_holding_is_counted_at_the_set_ups_own_scope_and_setting_at_any(alone, small_pulls):
    first = next(pull for pull in small_pulls if pull.levels["leader"] == "wire 2 m")
    pulls = [pull.model_copy(update={"scope": 7.0}) if pull is first else pull
             for pull in small_pulls]  # fmt: skip
    held, sets = (alone(_question(measure), pulls).a for measure in (Measure.HOLD, Measure.SETS))
    assert (held.so, held.count, held.left_out) == (2, 3, 1)
    assert (sets.so, sets.count, sets.left_out) == (4, 4, 0)


def _released(load_kn, number=1, start=Start.FRESH, **more):
    ending = more.pop("ending", Ending.RELEASED)
    return Bite(number=number, start=start, ending=ending, load_kn=load_kn, **more)


HELD = Bite(number=1, ending=Ending.HELD, load_kn=4.6, held_s=60.0)
CASES = {
    "a step around the load": (Measure.HOLD, [_released(2.6)], [None]),
    "let go at the load": (Measure.HOLD, [_released(2.5, last_held_kn=2.0)], [False]),
    "held it and let go above": (Measure.HOLD, [_released(3.2, last_held_kn=2.6)], [True]),
    "ended below the load": (
        Measure.HOLD, [Bite(number=1, ending=Ending.STOPPED, load_kn=2.0)], [None],
    ),
    "never set": (Measure.HOLD, [Bite(number=1, ending=Ending.NEVER_SET)], [False]),
    "never set, so no mode": (Measure.UPRIGHT, [Bite(number=1, ending=Ending.NEVER_SET)], []),
    "seen upright later only": (
        Measure.UPRIGHT,
        [_released(2.0), _released(3.2, 2, Start.AFTER_SLIP, mode=ModeSeen.UPRIGHT)],
        [None],
    ),
    "let go twice and gone": (
        Measure.RESETS, [_released(2.0), _released(3.2, 2, Start.AFTER_SLIP)], [True, False],
    ),
    "stopped where it let go": (
        Measure.RESETS, [_released(2.0, ending=Ending.RELEASED_THEN_STOPPED)], [None],
    ),
    "let go, and the boat went round": (
        Measure.RESETS, [_released(2.0), _released(3.2, 2, Start.AFTER_TURN)], [False],
    ),
    "held, no release": (Measure.RESETS, [HELD], []),
    "a turn after which it held": (
        Measure.TURNS, [HELD, HELD.model_copy(update={"number": 2, "start": Start.AFTER_TURN})],
        [True],
    ),
    "a turn after which it never set": (
        Measure.TURNS, [HELD, Bite(number=2, start=Start.AFTER_TURN, ending=Ending.NEVER_SET)],
        [False],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_a_try_is_so_or_not_or_left_out(name, with_bites, small_campaign):
    measure, bites, expected = CASES[name]
    question = _question(measure, hold=2.5)
    assert TRIES[measure](small_campaign, question, with_bites(*bites)) == expected
    found = own_count(small_campaign, question, [with_bites(*bites)] * 2)
    assert (found.so, found.left_out) == (2 * expected.count(True), 2 * expected.count(None))


# --- two shares -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("a", "b"), [((1, 9), (4, 4)), ((0, 3), (0, 3)), ((18, 20), (11, 17)), ((1, 1), (0, 1))]
)
def test_a_difference_of_shares_against_the_integral(a, b):
    """P(A's chance is below B's plus x), of two beta laws from an even prior each."""
    laws = [beta(1 + so, 1 + count - so) for so, count in (a, b)]
    found = share_difference(*(OwnCount(so=so, count=count, left_out=0) for so, count in (a, b)))
    for x in (-0.5, -0.1, 0.0, 0.2, 0.6):
        exact, _ = quad(lambda p, x=x: laws[1].pdf(p) * laws[0].cdf(p + x), 0, 1)
        assert found.cdf(x) == pytest.approx(exact, abs=1e-3)


def test_what_was_left_out_moves_no_share():
    few = share_difference(OwnCount(so=1, count=3, left_out=0), OwnCount(so=3, count=4, left_out=0))
    more = share_difference(
        OwnCount(so=1, count=3, left_out=9), OwnCount(so=3, count=4, left_out=2)
    )
    assert np.array_equal(few.weight, more.weight)
    assert few.cdf(0.0) > 0.8


def test_no_try_on_a_side_is_no_share(alone, small_pulls):
    """A prior alone would look like an answer."""
    unseen = [
        pull.model_copy(
            update={"bites": tuple(bite.model_copy(update={"mode": None}) for bite in pull.bites)}
        )
        if pull.levels["leader"] == "chain only"
        else pull
        for pull in small_pulls
    ]
    assert alone(_question(Measure.UPRIGHT), unseen) == "no pull of B tells of it"


# --- buried rode ----------------------------------------------------------------------------------


def test_two_arms_of_readings_against_the_normal_law():
    """Forty narrow readings a side: the log ratio is normal about the difference of the means."""
    even = norm.ppf((np.arange(40) + 0.5) / 40)
    lengths = [np.exp(mean + 0.3 * even) for mean in (np.log(0.5), np.log(0.8))]
    a, b = ([(0.995 * one, 1.005 * one) for one in side] for side in lengths)
    found = buried_effect_alone(a, b)
    sd = 0.3 * np.sqrt(2 / 40)
    shrunk = np.log(0.5 / 0.8) * 0.7**2 / (0.7**2 + sd**2)
    assert found.quantile(0.5) == pytest.approx(shrunk, abs=0.01)
    width = found.quantile(0.95) - found.quantile(0.05)
    assert width == pytest.approx(2 * 1.645 * sd, rel=0.08)


def test_at_least_is_more_than_a_reading_and_none_seen_less():
    b = [(0.45, 0.55)] * 4
    read, more, less = (
        buried_effect_alone([one] * 4, b).quantile(0.5)
        for one in ((0.45, 0.55), (0.5, np.inf), (0.0, 0.25))
    )
    assert less < -0.3 < read < 0.3 < more
    assert read == pytest.approx(0.0, abs=0.02)


def test_lengths_of_first_bites_are_counted_and_the_others_left_out(alone, small_pulls):
    read = BuriedRode(kind="reading", length_m=0.6, resolution_m=0.1)
    at_least = BuriedRode(kind="at_least", length_m=0.9)

    def measured(pull):
        first, *later = pull.bites
        if pull.levels["leader"] == "chain only" and pull.outing == "day 2":
            return pull
        buried = at_least if pull.levels["leader"] == "wire 2 m" else read
        first = first.model_copy(update={"buried": buried})
        return pull.model_copy(update={"bites": (first, *later)})

    question = _question(Measure.BURIED)
    found = alone(question, [measured(pull) for pull in small_pulls])
    assert [(side.so, side.count, side.left_out) for side in (found.a, found.b)] == [
        (None, 4, 0), (None, 3, 2),
    ]  # fmt: skip
    assert found.effect.unit == "×"
    assert found.effect.interval.lower < found.effect.median < found.effect.interval.upper
    assert found.p_higher > 0.9  # all above 0.9 m against 0.6 m
    assert alone(question, small_pulls) == "no pull of A or B tells of it"
