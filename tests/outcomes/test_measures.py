"""Each measure against pulls thrown one by one, by code of this file's own."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.stats import norm

from model.outcomes import measures
from model.outcomes.prediction import Prediction, sigmoid

PULLS = 400_000
LOG_ERROR = 0.004
"""Four standard errors of the mean log load of so many pulls of scatter 0.5, and the grid's."""
CHANCE_ERROR = 0.004

FIELDS = {
    "log_upright": 1.3,
    "log_on_side": 0.7,
    "sd_upright": 0.12,
    "sd_on_side": 0.2,
    "logit_upright": 0.4,
    "p_sets": 0.9,
    "p_resets": 0.6,
    "p_turns": 0.7,
    "log_buried": 0.1,
    "buried_gap": 1.2,
    "later_load": 0.0,
    "later_logit": 0.0,
    "pull_load": 0.08,
    "day_load": 0.1,
    "day_logit": 0.3,
}
BY_DRAW = {"buried_gap", "later_load", "later_logit", "pull_load", "day_load", "day_logit"}

CASES = {
    "two modes": {},
    "one mode far above": {"log_on_side": 0.2, "sd_on_side": 0.35},
    "later bites stronger and upright": {"later_load": 0.25, "later_logit": 1.5},
    "later bites weaker": {"later_load": -0.3, "p_resets": 0.95},
    "never digs in again": {"p_resets": 0.0},
    "mostly on its side": {"logit_upright": -2.5, "sd_upright": 0.4},
    "pulls that differ": {
        "pull_load": 0.3,
        "sd_upright": 0.32,
        "sd_on_side": 0.34,
        "p_resets": 0.95,
    },
    "wild days": {"day_load": 0.4, "day_logit": 1.2},
}


def made_up(**values):
    """A prediction of one draw and one row, or of as many as the arrays given have."""
    filled = FIELDS | values
    return Prediction(
        **{
            name: np.atleast_1d(value) if name in BY_DRAW else np.atleast_2d(value)
            for name, value in filled.items()
        }
    )


def thrown_bites(rng, *, is_later=False, n=PULLS, pull=None, **values):
    """Log capacities of bites, each of its own mode, and of its own pull unless `pull` is given."""
    v = FIELDS | values
    if pull is None:
        pull = v["pull_load"] * rng.standard_normal(n)
    logit = v["logit_upright"] + (v["later_logit"] if is_later else 0.0)
    is_upright = rng.random(n) < 1 / (1 + np.exp(-logit))
    mean = np.where(is_upright, v["log_upright"], v["log_on_side"])
    mean = mean + (v["later_load"] if is_later else 0.0)
    total = np.where(is_upright, v["sd_upright"], v["sd_on_side"])
    return mean + pull + np.sqrt(total**2 - v["pull_load"] ** 2) * rng.standard_normal(n)


def thrown_best(rng, **values):
    """Mean log of the last bite's load: a re-set is seen only if it stands what let go."""
    v = FIELDS | values
    pull = v["pull_load"] * rng.standard_normal(PULLS)
    reached = thrown_bites(rng, pull=pull, **values)
    is_on = np.ones(PULLS, dtype=bool)
    while is_on.any():
        following = thrown_bites(rng, is_later=True, pull=pull, **values)
        is_on &= (rng.random(PULLS) < v["p_resets"]) & (following > reached)
        reached[is_on] = following[is_on]
    return reached.mean() + np.log(v["p_sets"])


@pytest.fixture(params=CASES, ids=str)
def case(request):
    return CASES[request.param]


@pytest.fixture
def rng():
    return np.random.default_rng(7)


def test_typical_is_the_mean_log_load_of_first_bites(case, rng):
    found = measures.typical(made_up(**case)).item()
    assert found == pytest.approx(thrown_bites(rng, **case).mean(), abs=LOG_ERROR)


@pytest.mark.parametrize("top_kn", [1.0, 2.5, 4.0, 50.0])
def test_capped_counts_no_load_above_the_top(case, rng, top_kn):
    found = measures.capped(made_up(**case), top_kn).item()
    thrown = np.minimum(thrown_bites(rng, **case), np.log(top_kn)).mean()
    assert found == pytest.approx(thrown, abs=LOG_ERROR)


@given(
    top_kn=st.floats(0.1, 100),
    logit=st.floats(-6, 6),
    gap=st.floats(0.01, 2),
    sd=st.floats(0.02, 1),
)
def test_capped_is_below_typical_and_below_the_top(top_kn, logit, gap, sd):
    prediction = made_up(logit_upright=logit, log_on_side=1.3 - gap, sd_on_side=sd)
    found = measures.capped(prediction, top_kn).item()
    assert found <= measures.typical(prediction).item() + 1e-12
    assert found <= np.log(top_kn) + 1e-12


def test_a_top_far_above_caps_nothing(case):
    prediction = made_up(**case)
    assert measures.capped(prediction, 1e6).item() == pytest.approx(
        measures.typical(prediction).item(), abs=1e-12
    )


def test_best_is_the_mean_log_load_of_whole_pulls(case, rng):
    found = measures.best(made_up(**case)).item()
    assert found == pytest.approx(thrown_best(rng, **case), abs=LOG_ERROR)


def test_best_without_re_sets_is_typical_and_the_chance_to_set(case):
    values = case | {"p_resets": 0.0}
    expected = measures.typical(made_up(**values)).item() + np.log(FIELDS["p_sets"])
    assert measures.best(made_up(**values)).item() == pytest.approx(expected, abs=0.002)


@given(p_resets=st.floats(0, 1), later=st.floats(-0.5, 0.5), logit=st.floats(-4, 4))
def test_re_setting_never_lowers_the_best_load(p_resets, later, logit):
    alike = {"later_load": later, "logit_upright": logit, "p_sets": 1.0}
    without = measures.best(made_up(p_resets=0.0, **alike)).item()
    assert measures.best(made_up(p_resets=p_resets, **alike)).item() >= without - 1e-9


def test_best_counts_a_later_bite_only_if_it_stands_what_let_go(rng):
    """Were every re-set seen, pulls that slip would end lower: the measure must not say so."""
    case = {"p_resets": 0.95, "later_load": -0.3}
    later = thrown_bites(rng, is_later=True, **case)
    is_reset = rng.random(PULLS) < case["p_resets"]
    any_reset = np.where(is_reset, later, thrown_bites(rng, **case)).mean() + np.log(0.9)
    assert measures.best(made_up(**case)).item() > any_reset + 0.1


def _mixture(prediction, log_load):
    p = sigmoid(prediction.logit_upright).item()
    upright = norm.cdf(log_load, prediction.log_upright.item(), prediction.sd_upright.item())
    on_side = norm.cdf(log_load, prediction.log_on_side.item(), prediction.sd_on_side.item())
    return p * upright + (1 - p) * on_side


@given(
    logit=st.floats(-6, 6),
    gap=st.floats(0, 2),
    sds=st.tuples(st.floats(0.02, 1), st.floats(0.02, 1)),
)
def test_nine_in_ten_against_a_root_finder(logit, gap, sds):
    prediction = made_up(
        logit_upright=logit, log_on_side=1.3 - gap, sd_upright=sds[0], sd_on_side=sds[1]
    )
    expected = brentq(lambda x: _mixture(prediction, x) - 0.1, -20, 20, xtol=1e-12)
    assert measures.nine_in_ten(prediction).item() == pytest.approx(expected, abs=1e-6)


def test_nine_in_ten_jumps_between_the_modes_where_nine_in_ten_are_upright():
    share = {"sd_upright": 0.05, "sd_on_side": 0.05}
    low, high = (
        measures.nine_in_ten(made_up(logit_upright=np.log(p / (1 - p)), **share)).item()
        for p in (0.88, 0.93)
    )
    assert low < 0.9  # modes at 0.7 and 1.3: between them lies almost nothing
    assert high > 1.1


@pytest.mark.parametrize("load_kn", [1.5, 2.5, 4.0])
def test_hold_is_the_share_of_pulls_that_hold_on_any_day(case, rng, load_kn):
    v = FIELDS | case
    day_load, day_logit = rng.standard_normal((2, PULLS))
    is_upright = rng.random(PULLS) < sigmoid(v["logit_upright"] + v["day_logit"] * day_logit)
    sd = np.where(is_upright, v["sd_upright"], v["sd_on_side"])
    mean = np.where(is_upright, v["log_upright"], v["log_on_side"]) + v["day_load"] * day_load
    log_load = mean + sd * rng.standard_normal(PULLS)
    holds = (log_load > np.log(load_kn)) & (rng.random(PULLS) < v["p_sets"])
    found = measures.hold(made_up(**case), load_kn).item()
    assert found == pytest.approx(holds.mean(), abs=CHANCE_ERROR)


def test_without_its_days_hold_would_be_surer_than_it_is():
    calm, wild = made_up(day_load=0.0, day_logit=0.0), made_up(day_load=0.4, day_logit=1.2)
    assert measures.hold(calm, 1.5).item() - measures.hold(wild, 1.5).item() > 0.02


def test_chances_are_those_of_the_prediction(case):
    prediction, v = made_up(**case), FIELDS | case
    assert measures.upright(prediction).item() == pytest.approx(
        1 / (1 + np.exp(-v["logit_upright"]))
    )
    assert measures.sets(prediction).item() == v["p_sets"]
    assert measures.resets(prediction).item() == v["p_resets"]


def _both_sides(n, **values):
    """The same prediction in every draw, A and B in two rows."""
    rows = {"log_upright": [1.3, 1.25], "log_on_side": [0.7, 0.65], "p_sets": [0.9, 0.8]}
    v = FIELDS | rows | values
    return Prediction(
        **{
            name: np.full(n, value) if name in BY_DRAW
            else np.tile(np.broadcast_to(value, 2), (n, 1))
            for name, value in v.items()
        }
    )  # fmt: skip


def test_next_pulls_of_both_sides_are_taken_on_one_day(rng):
    a, b = measures.next_pull(_both_sides(PULLS, day_load=0.8, day_logit=0.0), rng).T
    assert np.isneginf(a).mean() == pytest.approx(0.1, abs=CHANCE_ERROR)
    assert np.isneginf(b).mean() == pytest.approx(0.2, abs=CHANCE_ERROR)
    have_set = np.isfinite(a) & np.isfinite(b)
    alone = [thrown_bites(rng, log_upright=u, log_on_side=s) for u, s in ((1.3, 0.7), (1.25, 0.65))]
    spread = float(np.std(a[have_set] - b[have_set]))
    assert spread == pytest.approx(np.hypot(*(np.std(side) for side in alone)), abs=0.01)
    assert np.std(a[have_set]) > 0.8  # each of them alone has the day in it


def test_chance_that_the_next_pull_is_higher(case, rng):
    v = FIELDS | case
    a, b = measures.next_pull(_both_sides(PULLS, **case), rng).T
    day_load, day_logit = rng.standard_normal((2, PULLS))
    day = {"logit_upright": v["logit_upright"] + v["day_logit"] * day_logit}
    # `case` may set the loads of both sides alike; else B stands 0.05 below A.
    lower = {} if "log_upright" in case else {"log_upright": 1.25}
    lower |= {} if "log_on_side" in case else {"log_on_side": 0.65}
    thrown_a = thrown_bites(rng, **(case | day)) + v["day_load"] * day_load
    thrown_b = thrown_bites(rng, **(case | day | lower)) + v["day_load"] * day_load
    thrown_a[rng.random(PULLS) > 0.9] = -np.inf
    thrown_b[rng.random(PULLS) > 0.8] = -np.inf
    assert np.mean(a > b) == pytest.approx(np.mean(thrown_a > thrown_b), abs=CHANCE_ERROR)


def test_every_measure_is_worked_out_draw_by_draw_and_row_by_row():
    rows = {"log_upright": [1.3, 1.6, 1.0], "logit_upright": [0.4, -1.0, 2.0]}
    values = {
        name: np.tile(np.broadcast_to(FIELDS[name], 3), (2, 1)) * np.array([[1.0], [0.9]])
        for name in FIELDS
        if name not in BY_DRAW
    }
    values |= {name: np.outer([1.0, 0.9], row) for name, row in rows.items()}
    values |= {name: np.array([FIELDS[name], 0.2]) for name in BY_DRAW}
    found = {name: measure(Prediction(**values)) for name, measure in measures.BY_NAME.items()}
    found["hold"] = measures.hold(Prediction(**values), 2.0)
    found["capped"] = measures.capped(Prediction(**values), 3.0)
    for draw, row in np.ndindex(2, 3):
        alone = made_up(
            **{
                name: value[draw] if name in BY_DRAW else value[draw, row]
                for name, value in values.items()
            }
        )
        for name, measure in measures.BY_NAME.items():
            assert found[name][draw, row] == pytest.approx(measure(alone).item(), abs=1e-12)
        assert found["hold"][draw, row] == pytest.approx(measures.hold(alone, 2.0).item())
        assert found["capped"][draw, row] == pytest.approx(measures.capped(alone, 3.0).item())
