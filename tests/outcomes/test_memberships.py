"""A bite's chance of having been upright, against every mode of every bite spelt out."""

from itertools import product

import numpy as np
import pytest
from scipy.special import expit
from scipy.stats import norm

from model.arrays.campaign_arrays import campaign_arrays
from model.base.names import NOT_SEEN, NOTHING_SEEN, SEEN_UPRIGHT
from model.outcomes import memberships, terms
from model.outcomes.likelihood import BURIED, CAMERA, SIGNS
from model.outcomes.memberships import LOAD, PARTS, SET_UP, mode_log_odds
from model.records.pull import ModeSeen

LADDER_KN = (0.8, 1.0, 1.25, 1.55, 1.9, 2.3, 2.8, 3.4)
UP, SIDE = ModeSeen.UPRIGHT, ModeSeen.ON_SIDE
SHALLOW = {"kind": "less_than", "length_m": 0.25}
DEEP = {"kind": "at_least", "length_m": 1.5}
READ = {"kind": "reading", "length_m": 0.6, "resolution_m": 0.1}
SLICES = 4001
"""Of the pull effect, evenly from -8 to 8 of its scale: a plain sum, no quadrature of ours."""


@pytest.fixture
def bench(make_bench):
    return make_bench(*LADDER_KN)


@pytest.fixture
def arrays(bench, make_bite):
    """A lone bite, slips with and without an end, a lost camera, a turn."""
    pulls = (
        bench.pull("1", make_bite("held", 3.4, mode=UP)),
        bench.pull("2", make_bite("released", 1.25, mode=SIDE), make_bite("held", 3.4, 2)),
        bench.pull(
            "3",
            make_bite("released", 1.0),
            make_bite("released", 1.9, 2, has_camera=True),
            make_bite("released", 2.3, 3, mode=UP),
        ),
        bench.pull("4", make_bite("released", 1.55, buried=SHALLOW)),
        bench.pull("6", make_bite("released", 1.9), make_bite("held", 3.4, 2, buried=DEEP)),
        bench.pull(
            "7",
            make_bite("held", 3.4, mode=UP),
            make_bite("released", 2.3, 2, start="after_turn", buried=READ),
        ),
        bench.pull("5", make_bite("released_then_stopped", 1.9)),
    )
    return campaign_arrays(bench.campaign, pulls)


def random_truth(seed: int) -> dict[str, float]:
    rng = np.random.default_rng(seed)
    return {
        "load_base": rng.normal(np.log(1.9), 0.2),
        "mode_gap": rng.uniform(0.2, 0.7),
        "log_scatter": rng.normal(np.log(0.15), 0.3),
        "upright_base": rng.normal(0.3, 1.0),
        "later_bite_upright": rng.normal(0.5, 0.5),
        "later_bite_load": rng.normal(0.0, 0.1),
        "resets_base": rng.normal(0.5, 1.0),
        "turns_base": rng.normal(0.5, 1.0),
        "pull_load_scale": rng.uniform(0.02, 0.1),
        "gauge_scatter": 0.02,
        "hold_exponent": 0.03,
        "spoilt_share": 0.03,
        "not_seen_base": rng.normal(-1.0, 0.5),
        "not_seen_difference": rng.normal(0.0, 1.0),
        "boat_bias": 0.03,
        "buried_base": rng.normal(np.log(0.9), 0.2),
        "buried_gap": rng.uniform(0.3, 1.3),
        "buried_scatter": rng.uniform(0.2, 0.5),
    }


def p_seen(truth, seen: int, is_up: bool) -> float:
    if seen == NOTHING_SEEN:
        return 1.0
    sign = 1 if is_up else -1
    lost = expit(truth["not_seen_base"] + sign * truth["not_seen_difference"] / 2)
    if seen == NOT_SEEN:
        return lost
    return (1 - lost) * (0.95 if (seen == SEEN_UPRIGHT) == is_up else 0.05)


def p_deep(truth, row, is_up: bool) -> float:
    """Chance of the buried rode that was written."""
    mean = truth["buried_base"] - (not is_up) * truth["buried_gap"]
    with np.errstate(divide="ignore"):
        ends = np.log([row["buried_lower_m"], row["buried_upper_m"]])
    low, high = norm.cdf(ends, mean, truth["buried_scatter"])
    return float(high - low)


def p_range(truth, row, is_up: bool, effect: np.ndarray) -> np.ndarray:
    mean = truth["load_base"] + truth["boat_bias"] + effect
    mean = mean + truth["later_bite_load"] * row["is_later"] - (not is_up) * truth["mode_gap"]
    sd = np.hypot(np.exp(truth["log_scatter"]), truth["gauge_scatter"])
    with np.errstate(divide="ignore"):
        low = np.log(row["lower_kn"]) + truth["hold_exponent"] * row["lower_log_hold"]
        high = np.log(row["upper_kn"]) + truth["hold_exponent"] * row["upper_log_hold"]
    inside = norm.cdf(high, mean, sd) - norm.cdf(low, mean, sd)
    share = truth["spoilt_share"]
    return (1 - share) * inside + share * row["spoilt_share"]


def p_mode(truth, row, is_up: bool) -> float:
    odds = truth["upright_base"] + truth["later_bite_upright"] * row["is_later"]
    return float(expit(odds if is_up else -odds))


def brute_force(truth, arrays) -> list[float]:
    """P(upright) of each bite that was seen: a sum over all modes of all bites of its pull."""
    names = [name for name in arrays if arrays[name].dims == ("bite",)]
    rows = [{n: arrays[n].to_numpy()[i] for n in names} for i in range(arrays.sizes["bite"])]
    nodes = np.linspace(-8, 8, SLICES)
    effect, weight = truth["pull_load_scale"] * nodes, norm.pdf(nodes) * (nodes[1] - nodes[0])
    p_again = expit(truth["resets_base"])
    found = []
    for index in range(arrays.sizes["pull"]):
        own = [row for row in rows if row["pull_index"] == index]
        seen = [row for row in own if not row["is_unseen"]]
        joint = {}
        for modes in product((True, False), repeat=len(seen)):
            chance = weight.copy()
            for row, is_up in zip(seen, modes, strict=True):
                chance *= p_mode(truth, row, is_up) * p_seen(truth, row["seen"], is_up)
                chance *= p_range(truth, row, is_up, effect) * p_deep(truth, row, is_up)
            for row in own:
                if row["is_reset"] and not row["is_unseen"]:
                    chance *= expit(truth["turns_base"]) if row["is_turn"] else p_again
                if row["is_unseen"]:
                    again = sum(
                        p_mode(truth, row, up) * p_range(truth, row, up, effect)
                        for up in (True, False)
                    )
                    chance *= 1 - p_again * again
            joint[modes] = chance.sum()
        total = sum(joint.values())
        found += [
            sum(c for modes, c in joint.items() if modes[j]) / total for j in range(len(seen))
        ]
    return found


def of_seen(arrays) -> np.ndarray:
    return arrays["is_unseen"].to_numpy() == 0


@pytest.mark.parametrize("seed", range(6))
def test_every_mode_of_every_bite_spelt_out(seed, arrays, plain_parameters, monkeypatch):
    truth = random_truth(seed)
    parameters = plain_parameters(arrays, **truth)
    expected = brute_force(truth, arrays)

    def ours():
        return expit(sum(mode_log_odds(parameters, arrays).values()))[0, of_seen(arrays)]

    assert ours() == pytest.approx(expected, abs=5e-3)  # the five nodes of the fit
    monkeypatch.setattr(terms, "NODES", 61)
    assert ours() == pytest.approx(expected, abs=1e-6)


def test_bites_taken_one_by_one_would_be_found_out(arrays, plain_parameters, monkeypatch):
    truth = random_truth(1) | {"pull_load_scale": 0.1}
    expected = np.array(brute_force(truth, arrays))
    monkeypatch.setattr(memberships, "_other_bites", lambda joint, found: np.log(
        np.full((1, len(found.joint_row_group), terms.NODES), 1 / terms.NODES)))  # fmt: skip
    odds = sum(mode_log_odds(plain_parameters(arrays, **truth), arrays).values())
    assert np.abs(expit(odds)[0, of_seen(arrays)] - expected).max() > 0.02


def test_parts_are_what_they_are_called(arrays, plain_parameters):
    truth = random_truth(2)
    found = mode_log_odds(plain_parameters(arrays, **truth), arrays)
    assert tuple(found) == PARTS
    is_later = arrays["is_later"].to_numpy()[of_seen(arrays)]
    own = truth["upright_base"] + truth["later_bite_upright"] * is_later
    assert found[SET_UP][0, of_seen(arrays)] == pytest.approx(own)
    seen = arrays["seen"].to_numpy()[of_seen(arrays)]
    ratio = [np.log(p_seen(truth, s, True) / p_seen(truth, s, False)) for s in seen]
    assert found[CAMERA][0, of_seen(arrays)] == pytest.approx(ratio)
    assert (found[CAMERA][0, of_seen(arrays)] == 0).tolist() == (seen == NOTHING_SEEN).tolist()
    is_measured = arrays["buried_upper_m"].to_numpy() - arrays["buried_lower_m"].to_numpy() < np.inf
    is_measured |= arrays["buried_lower_m"].to_numpy() > 0
    assert is_measured.sum() == 3
    assert ((found[BURIED][0] != 0) == is_measured)[of_seen(arrays)].all()
    assert (found[SIGNS][0, of_seen(arrays)] == 0).all()  # the campaign has none


def test_a_next_bite_that_never_came_has_no_mode(arrays, plain_parameters):
    found = mode_log_odds(plain_parameters(arrays, **random_truth(3)), arrays)
    assert of_seen(arrays).sum() == arrays.sizes["bite"] - 3
    for part in found.values():
        assert (np.isnan(part[0]) == ~of_seen(arrays)).all()


def test_a_load_that_says_nothing_moves_nothing(bench, make_bite, plain_parameters):
    arrays = bench.arrays([make_bite("stopped", None), make_bite("held", 3.4)])
    found = mode_log_odds(plain_parameters(arrays, mode_gap=0.5, log_scatter=-2.0), arrays)
    nothing, held = found[LOAD][0]
    assert nothing == pytest.approx(0.0, abs=1e-12)
    assert held > 1


def test_each_draw_has_its_own(arrays, plain_parameters):
    both = [plain_parameters(arrays, **random_truth(seed)) for seed in (4, 5)]
    stacked = {name: np.concatenate([one[name] for one in both]) for name in both[0]}
    found = mode_log_odds(stacked, arrays)
    for draw, one in enumerate(both):
        alone = mode_log_odds(one, arrays)
        for name in PARTS:
            np.testing.assert_allclose(found[name][draw], alone[name][0])
