"""Buried rode and signs: against an independent library, by sums to one, and by Bayes' rule."""

import warnings

import numpy as np
import pytest
from lifelines import LogNormalFitter
from scipy.special import expit, logit
from scipy.stats import norm

from model.arrays.campaign_arrays import campaign_arrays
from model.outcomes import likelihood
from model.outcomes.likelihood import BURIED, SIGNS, bite_data, log_evidence, log_likelihood
from model.outcomes.memberships import mode_log_odds
from model.records.campaign import Sign
from model.records.pull import BuriedRode

UPRIGHT, ON_SIDE = 0, 1
VISIBLE_M, LIMIT_M, RESOLUTION_M = 0.25, 2.0, 0.1


@pytest.fixture
def bench(make_bench):
    return make_bench(1.0, 2.0, 3.0)


@pytest.fixture
def buried(make_bite):
    """A bite whose load says nothing and whose buried rode was written so."""

    def make(length_m):
        if length_m < VISIBLE_M:
            facts = {"kind": "less_than", "length_m": VISIBLE_M}
        elif length_m >= LIMIT_M:
            facts = {"kind": "at_least", "length_m": LIMIT_M}
        else:
            read_m = round(length_m / RESOLUTION_M) * RESOLUTION_M
            facts = {"kind": "reading", "length_m": read_m, "resolution_m": RESOLUTION_M}
        return make_bite("stopped", None, buried=BuriedRode.model_validate(facts))

    return make


def _level_and_scatter(v):
    return {"buried_base": v[:, 0], "buried_scatter": np.exp(v[:, 1])}


def _lengths(n=240):
    return np.exp(np.random.default_rng(11).normal(np.log(0.8), 0.9, n))


def test_left_right_and_interval_censored_as_lifelines_has_it(
    bench, buried, maximise, plain_parameters
):
    lengths = _lengths()
    arrays = bench.arrays([buried(length) for length in lengths])
    lower, upper = (arrays[f"buried_{end}_m"].to_numpy() for end in ("lower", "upper"))
    kinds = [(lower == 0).sum(), np.isinf(upper).sum(), ((lower > 0) & np.isfinite(upper)).sum()]
    assert min(kinds) > 20  # every kind of censoring is there
    found = maximise(arrays, plain_parameters(arrays, log_scatter=-2.0), _level_and_scatter, (0, 0))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own start values
        theirs = LogNormalFitter().fit_interval_censoring(lower, upper)
    assert found.at[0] == pytest.approx(theirs.mu_, abs=2e-4)
    assert np.exp(found.at[1]) == pytest.approx(theirs.sigma_, abs=2e-4)


def test_a_mark_out_of_sight_taken_for_a_reading_would_show(
    bench, buried, make_bite, maximise, plain_parameters
):
    arrays = bench.arrays([buried(length) for length in _lengths()])
    closed = arrays.assign(buried_upper_m=arrays["buried_upper_m"].clip(max=LIMIT_M + 0.05))
    plain = plain_parameters(arrays, log_scatter=-2.0)
    right, wrong = (maximise(a, plain, _level_and_scatter, (0, 0)).at for a in (arrays, closed))
    assert right[0] - wrong[0] > 0.04  # two hundred times what the two fits differ by


def _sighted(bench):
    signs = (Sign(name="marker under", points_to="upright"),
             Sign(name="shank in sight", points_to="on_side"))  # fmt: skip
    return type(bench)(campaign=bench.campaign.model_copy(update={"signs": signs}))


RATES = {"sign_upright_rate": [[0.8, 0.1]], "sign_on_side_rate": [[0.2, 0.7]]}
SIGNED = {"marker under": True, "shank in sight": False}


def test_a_signs_evidence_is_bayes_rule(bench, make_bite, plain_parameters):
    bench = _sighted(bench)
    arrays = bench.arrays([make_bite("stopped", None, signs=SIGNED)])
    parameters = plain_parameters(arrays, upright_base=logit(0.3), log_scatter=-2.0, **RATES)
    odds = sum(mode_log_odds(parameters, arrays).values())
    upright, on_side = 0.3 * 0.8 * (1 - 0.1), 0.7 * 0.2 * (1 - 0.7)
    assert expit(odds)[0, 0] == pytest.approx(upright / (upright + on_side))


def test_what_was_not_written_down_says_nothing(bench, make_bite, plain_parameters):
    bench = _sighted(bench)
    bites = [
        make_bite("stopped", None),
        make_bite("stopped", None, signs={"marker under": True}),
        make_bite("stopped", None, signs=SIGNED),
    ]
    arrays = bench.arrays(bites)
    parts = mode_log_odds(plain_parameters(arrays, log_scatter=-2.0, **RATES), arrays)
    assert parts[SIGNS][0] == pytest.approx([0, np.log(0.8 / 0.2), np.log(4) + np.log(0.9 / 0.3)])
    assert (parts[BURIED][0] == 0).all()


def test_signs_read_the_wrong_way_round_would_show(bench, make_bite, plain_parameters, monkeypatch):
    bench = _sighted(bench)
    arrays = bench.arrays([make_bite("stopped", None, signs=SIGNED)])
    parameters = plain_parameters(arrays, log_scatter=-2.0, **RATES)
    right = mode_log_odds(parameters, arrays)[SIGNS][0, 0]
    true_signs = likelihood._log_signs
    monkeypatch.setattr(
        likelihood, "_log_signs", lambda p, signs, mode: true_signs(p, 1 - signs, mode)
    )
    assert mode_log_odds(parameters, arrays)[SIGNS][0, 0] == pytest.approx(
        np.log(0.2 / 0.8) + np.log(0.1 / 0.7)
    )
    assert right > 2


@pytest.mark.parametrize("mode", [UPRIGHT, ON_SIDE])
def test_every_length_that_can_be_written_sums_to_one(mode, bench, buried, plain_parameters):
    readings = np.arange(VISIBLE_M, LIMIT_M, RESOLUTION_M) + RESOLUTION_M / 2
    arrays = bench.arrays([buried(0.1), *map(buried, readings), buried(9.0)])
    parameters = plain_parameters(
        arrays, log_scatter=-2.0, buried_base=np.log(1.1), buried_gap=1.2, buried_scatter=0.4
    )
    data = bite_data(arrays, np.arange(arrays.sizes["bite"]))
    found = log_evidence(parameters, likelihood.pull_rows(arrays), data, mode)[BURIED][0]
    lower, upper = (arrays[f"buried_{end}_m"].to_numpy() for end in ("lower", "upper"))
    mean = np.log(1.1) - 1.2 * (mode == ON_SIDE)
    with np.errstate(divide="ignore"):
        cells = norm.cdf(np.log(upper), mean, 0.4) - norm.cdf(np.log(lower), mean, 0.4)
    assert np.exp(found) == pytest.approx(cells, abs=1e-12)
    # The cells of readings and both ends meet without a hole but for half a reading at each end.
    assert np.exp(found).sum() == pytest.approx(1.0, abs=0.25)


def test_deep_and_shallow_move_the_mode_and_not_the_load(bench, buried, plain_parameters):
    arrays = bench.arrays([buried(1.1), buried(0.1)])
    parameters = plain_parameters(
        arrays, upright_base=0.0, log_scatter=-2.0, mode_gap=0.5,
        buried_base=np.log(1.1), buried_gap=1.3, buried_scatter=0.3,
    )  # fmt: skip
    deep, shallow = expit(sum(mode_log_odds(parameters, arrays).values()))[0]
    assert deep > 0.99
    assert shallow < 0.01
    assert np.isfinite(log_likelihood(parameters, arrays)).all()


class TestTurns:
    """What comes after the pull direction has changed."""

    LOADS = (1.0, 2.0, 3.0)

    def _total(self, bench, make_bite, parameters_of, p_turns):
        """Sum over everything that can be written of a turned pull's second bite."""
        first = make_bite("held", 3.0, held_s=60.0)
        seconds = [
            *(make_bite("released_then_stopped", load, 2, start="after_turn")
              for load in self.LOADS),
            make_bite("released_then_stopped", 3.0, 2, start="after_turn", held_s=60.0),
            make_bite("held", 3.0, 2, start="after_turn", held_s=60.0),
            make_bite("never_set", None, 2, start="after_turn"),
        ]  # fmt: skip
        total = 0.0
        alone = campaign_arrays(bench.campaign, [bench.pull("1", first)])
        changes = {"load_base": 0.7, "log_scatter": -1.0, "turns_base": logit(p_turns),
                   "hold_exponent": 0.05, "upright_base": 0.3, "mode_gap": 0.4}  # fmt: skip
        base = np.exp(log_likelihood(parameters_of(alone, **changes), alone))[0, 0]
        for second in seconds:
            arrays = campaign_arrays(bench.campaign, [bench.pull("1", first, second)])
            total += np.exp(log_likelihood(parameters_of(arrays, **changes), arrays))[0, 0]
        return total / base

    @pytest.mark.parametrize("p_turns", [0.2, 0.9])
    def test_everything_that_can_follow_sums_to_one(
        self, p_turns, bench, make_bite, plain_parameters
    ):
        total = self._total(bench, make_bite, plain_parameters, p_turns)
        assert total == pytest.approx(1, abs=1e-9)

    def test_the_chance_after_a_slip_in_its_place_would_show(
        self, bench, make_bite, plain_parameters, monkeypatch
    ):
        held = make_bite("held", 3.0, held_s=60.0)
        again = make_bite("held", 3.0, 2, start="after_turn", held_s=60.0)
        arrays = campaign_arrays(bench.campaign, [bench.pull("1", held, again)])
        # Re-sets are off on this bench: with their chance nothing could follow a turn.
        parameters = plain_parameters(arrays, load_base=2.0, log_scatter=-2.0, turns_base=2.0)
        assert log_likelihood(parameters, arrays)[0, 0] == pytest.approx(np.log(expit(2.0)))
        monkeypatch.setattr(likelihood, "logit_turns", likelihood.logit_resets)
        assert log_likelihood(parameters, arrays)[0, 0] < -50
