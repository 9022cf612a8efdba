"""Published numbers that the likelihood must reproduce; the source stands beside each."""

import warnings
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from lifelines import LogNormalFitter
from lifelines.datasets import load_diabetes

from model.base.names import SEEN_ON_SIDE
from model.base.priors import DEFAULT_PRIORS
from model.outcomes.formula import Rows, log_load_upright
from model.outcomes.likelihood import log_likelihood
from model.outcomes.memberships import mode_log_odds

WAITING = Path(__file__).parent / "data" / "old_faithful_waiting_min.csv"

WIDTH_KN = 1e-3
"""Width of a range that stands for an exact value: its probability over this is a density."""

# Locomotive controls: thousands of miles to failure of 37 controls; 59 more had not failed at
# 135. SAS/STAT user's guide, LIFEREG, also in SciPy's tests of censored fits (seen, recomputed).
FAILED_AT = (
    22.5, 37.5, 46.0, 48.5, 51.5, 53.0, 54.5, 57.5, 66.5, 68.0, 69.5, 76.5, 77.0, 78.5, 80.0,
    81.5, 82.0, 83.0, 84.0, 91.5, 93.5, 102.5, 107.0, 108.5, 112.5, 113.5, 116.0, 117.0, 118.5,
    119.0, 120.0, 122.5, 123.0, 127.5, 131.0, 132.5, 134.0,
)  # fmt: skip
NOT_FAILED, LIMIT = 59, 135.0


@pytest.fixture
def old_sheet(make_bench):
    return make_bench()


@pytest.fixture
def exactly(between):
    return lambda load_kn: between(load_kn - WIDTH_KN / 2, load_kn + WIDTH_KN / 2)


@pytest.fixture
def fit_lognormal(old_sheet, plain_parameters, maximise, load_and_scatter):
    """Mean and scatter of log load by maximum likelihood of the model's own likelihood."""

    def fit(bites, start):
        arrays = old_sheet.arrays(bites)
        return maximise(arrays, plain_parameters(arrays), load_and_scatter, start)

    return fit


def test_right_censored_at_one_limit(fit_lognormal, exactly, held_above):
    bites = [exactly(value) for value in FAILED_AT] + [held_above(LIMIT)] * NOT_FAILED
    found = fit_lognormal(bites, (4.8, -0.5))
    scatter = np.exp(found.at[1])
    assert (found.at[0], scatter) == pytest.approx((5.116925, 0.705494), abs=2e-5)
    errors = (found.errors[0], found.errors[1] * scatter)  # recomputed with SciPy
    assert errors == pytest.approx((0.1042, 0.0932), abs=1e-4)
    as_density = found.log_likelihood - len(FAILED_AT) * np.log(WIDTH_KN)
    assert as_density == pytest.approx(-237.0935, abs=1e-3)


def test_held_taken_as_let_go_gives_the_wrong_numbers(fit_lognormal, exactly):
    bites = [exactly(value) for value in FAILED_AT] + [exactly(LIMIT)] * NOT_FAILED
    found = fit_lognormal(bites, (4.8, -0.5))
    assert (found.at[0], np.exp(found.at[1])) == pytest.approx((4.719, 0.343), abs=1e-3)


# R package fitdistrplus, fitdistcens, as in SciPy's tests of censored fits (seen, recomputed).
# The problem is normal; with every bound exponentiated it is log-normal with the same numbers.
INTERVALS = ((0.10, 0.20), (0.50, 0.55), (0.75, 0.90), (0.80, 0.95))


def test_interval_censored(fit_lognormal, between, exactly):
    found = fit_lognormal([between(*np.exp(ends)) for ends in INTERVALS], (0.5, -1.0))
    scatter = np.exp(found.at[1])
    assert (found.at[0], scatter) == pytest.approx((0.5919990, 0.2868042), abs=2e-6)
    errors = (found.errors[0], found.errors[1] * scatter)
    assert errors == pytest.approx((0.1444, 0.1029), abs=1e-4)

    # Taken as their upper ends they give other numbers: each range is a range.
    upper = fit_lognormal([exactly(np.exp(ends[1])) for ends in INTERVALS], (0.5, -1.0))
    assert abs(upper.at[0] - 0.5919990) > 0.03


@pytest.fixture(scope="module")
def diabetes() -> np.ndarray:
    """Interval-censored years to diabetic nephropathy, as lifelines ships them, ``(731, 2)``."""
    return load_diabetes()[["left", "right"]].to_numpy(dtype=float)


def _fitted_by_lifelines(ends: np.ndarray) -> LogNormalFitter:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # lifelines on new versions of what it leans on
        return LogNormalFitter().fit_interval_censoring(ends[:, 0], ends[:, 1])


def test_interval_censored_years_as_lifelines_fits_them(fit_lognormal, between, exactly, diabetes):
    # From 0 on is from next to nothing on: 43 sd below the mean.
    ranges = [(max(low, 1e-6), high) for low, high in diabetes]
    bites = [exactly(low) if low == high else between(low, high) for low, high in ranges]
    found = fit_lognormal(bites, (2.5, -1.0))
    as_density = found.log_likelihood - (diabetes[:, 0] == diabetes[:, 1]).sum() * np.log(WIDTH_KN)
    ours = (found.at[0], np.exp(found.at[1]), as_density)
    theirs = _fitted_by_lifelines(diabetes)
    assert ours == pytest.approx((theirs.mu_, theirs.sigma_, theirs.log_likelihood_), rel=1e-5)
    # Two implementations agreed on these (recomputed).
    assert ours[:2] == pytest.approx((2.752717, 0.387474), abs=2e-5)
    assert ours[2] == pytest.approx(-2030.1153, abs=2e-3)


def test_right_censored_as_lifelines_fits_it(fit_lognormal, exactly, held_above):
    bites = [exactly(value) for value in FAILED_AT] + [held_above(LIMIT)] * NOT_FAILED
    found = fit_lognormal(bites, (4.8, -0.5))
    years = np.array([*FAILED_AT, *[LIMIT] * NOT_FAILED])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = LogNormalFitter().fit_right_censoring(years, years < LIMIT)
    assert found.at[0] == pytest.approx(theirs.mu_, rel=1e-4)
    assert np.exp(found.at[1]) == pytest.approx(theirs.sigma_, rel=1e-4)


# Two normals fitted to the waiting times of Old Faithful by R's mixtools, normalmixEM (seen,
# recomputed). The data: R's data set `faithful`; Azzalini and Bowman (1990), Applied Statistics
# 39, 357-365. Minutes over this are log loads, so that the model's two modes are the two normals.
MINUTES = 50.0
OLD_FAITHFUL = {
    "weight": (0.360887, 0.639113),
    "mean": (54.614893, 80.091093),
    "sd": (5.871245, 5.867716),
    "log_likelihood": -1034.002,
}
P_SHORT = {79: 0.000103, 74: 0.004136, 67: 0.42354, 62: 0.96738, 54: 0.999909}


@pytest.fixture(scope="module")
def waiting_min() -> np.ndarray:
    return np.loadtxt(WAITING, skiprows=1)


def _two_modes(v: np.ndarray) -> Mapping[str, np.ndarray]:
    return {
        "load_base": v[:, 0],
        "mode_gap": np.exp(v[:, 1:2]),
        "log_scatter": v[:, 2:4],
        "upright_base": v[:, 4],
    }


@pytest.fixture
def geyser(old_sheet, exactly, waiting_min, plain_parameters, maximise):
    """The arrays, the plain parameters and the maximum."""
    arrays = old_sheet.arrays([exactly(np.exp(value / MINUTES)) for value in waiting_min])
    plain = plain_parameters(arrays)
    start = (1.6, np.log(0.5), np.log(0.12), np.log(0.12), 0.5)
    return arrays, plain, maximise(arrays, plain, _two_modes, start)


def test_two_modes(geyser, waiting_min):
    _, _, found = geyser
    upright, gap = found.at[0], np.exp(found.at[1])
    weight = 1 / (1 + np.exp(found.at[4]))
    assert (weight, 1 - weight) == pytest.approx(OLD_FAITHFUL["weight"], abs=2e-4)
    means = MINUTES * np.array([upright - gap, upright])
    assert means == pytest.approx(OLD_FAITHFUL["mean"], abs=3e-3)
    sds = MINUTES * np.exp(found.at[[3, 2]])
    assert sds == pytest.approx(OLD_FAITHFUL["sd"], abs=3e-3)
    # From probabilities of ranges of load to densities by the minute.
    width_min = WIDTH_KN * MINUTES / np.exp(waiting_min / MINUTES)
    as_density = found.log_likelihood - np.log(width_min).sum()
    assert as_density == pytest.approx(OLD_FAITHFUL["log_likelihood"], abs=2e-3)


def test_which_mode_each_was(geyser, waiting_min):
    arrays, plain, found = geyser
    parameters = {**plain, **_two_modes(found.at[None]), "seen_upright_rate": np.array([1 - 1e-15]),
                  "seen_on_side_rate": np.array([1 - 1e-15])}  # fmt: skip
    on_side = arrays.assign(seen=("bite", np.full(arrays.sizes["bite"], SEEN_ON_SIDE)))
    both = log_likelihood(parameters, on_side) - log_likelihood(parameters, arrays)
    p_short = dict(zip(waiting_min.astype(int), np.exp(both[0]), strict=True))
    for minutes, published in P_SHORT.items():
        assert p_short[minutes] == pytest.approx(published, rel=5e-3)


def test_which_mode_each_was_by_memberships(geyser, waiting_min):
    arrays, plain, found = geyser
    log_odds = sum(mode_log_odds({**plain, **_two_modes(found.at[None])}, arrays).values())[0]
    p_short = dict(zip(waiting_min.astype(int), 1 / (1 + np.exp(log_odds)), strict=True))
    for minutes, published in P_SHORT.items():
        assert p_short[minutes] == pytest.approx(published, abs=1e-3)
    # Shares alone, without the loads, would give every value the same chance.
    assert max(P_SHORT.values()) - min(P_SHORT.values()) > 0.99


def test_one_mode_is_not_two(geyser, old_sheet, exactly, waiting_min, fit_lognormal):
    _, _, two = geyser
    one = fit_lognormal([exactly(np.exp(v / MINUTES)) for v in waiting_min], (1.4, -1.2))
    assert two.log_likelihood - one.log_likelihood > 50


# UFC 4-159-03, Design: Moorings (2005), eq. 26: holding goes with mass to the power b, 0.80 in
# hard and 0.92 in soft seabeds (seen); doubling the mass is therefore (derived):
DOUBLING = {"sand": 1.7411, "gravel": 1.7411, "stiff clay": 1.7411, "mud": 1.8921}


@pytest.mark.parametrize("seabed", DOUBLING)
def test_doubling_an_anchors_mass(seabed, old_sheet, exactly, plain_parameters):
    exponent = DEFAULT_PRIORS.mass_exponent[seabed].mean
    parameters = plain_parameters(old_sheet.arrays([exactly(1.0)]), mass_exponent=exponent)
    same = np.zeros(2, dtype=int)
    rows = Rows(
        anchor_index=same,
        seabed_index=same,
        site_index=same,
        outing_index=same,
        log_mass_ratio=np.log([1.3, 2.6]),
        inverse_scope_shift=np.zeros(2),
        level=np.zeros((0, 2)),
    )
    light, heavy = log_load_upright(parameters, rows)[0]
    assert np.exp(heavy - light) == pytest.approx(DOUBLING[seabed], abs=5e-5)
    assert np.exp(heavy - light) != pytest.approx(2.0, abs=0.05)  # not in proportion
