"""The block of effects around a population effect, on the best known small hierarchy.

Eight Schools: Rubin (1981), as in Gelman et al., Bayesian Data Analysis; priors as in posteriordb's
`eight_schools_noncentered`: mu ~ N(0, 5), tau ~ half-Cauchy(5).
"""

import numpy as np
import nutpie
import pytest
from arviz_stats.base import array_stats
from nutpie.compiled_pyfunc import from_pyfunc
from scipy.integrate import quad
from scipy.stats import halfcauchy, halfnorm, norm

from model.graph.kernel_position import (
    NO_CENTRE,
    unwhiten,
    values_gradient,
    values_of,
    whitened_gradient,
)

EFFECT = np.array([28.0, 8, -3, 7, -1, 1, 18, 12])
ERROR = np.array([15.0, 10, 16, 11, 9, 11, 10, 18])
POPULATION_SD = SCALE = 5.0
DRAWS = 5000
"""Of each of four chains: a Monte Carlo error of about 0.03 in a school's mean of 5."""

# By quadrature, without Monte Carlo error (derived).
MU, MU_SD, TAU, TAU_SD = 4.3968, 3.3177, 3.5977, 3.220
SCHOOLS = np.array([6.2119, 4.9402, 3.9270, 4.7571, 3.6155, 4.0426, 6.2967, 4.8543])
# posteriordb's reference draws (seen).
POSTERIORDB = (4.4105, 3.6021)


def _moments(prior_of_tau) -> tuple[float, float, np.ndarray]:
    """Means of mu, tau and the schools: mu is normal given tau, tau is integrated out."""

    def given(tau: float) -> tuple[float, float, np.ndarray]:
        variance = ERROR**2 + tau**2
        precision = (1 / variance).sum() + 1 / POPULATION_SD**2
        mu = (EFFECT / variance).sum() / precision
        log_likelihood = norm.logpdf(EFFECT, mu, np.sqrt(variance)).sum()
        # Likelihood with mu integrated out, by its value at mu's mean.
        weight = np.exp(log_likelihood + norm.logpdf(mu, 0, POPULATION_SD)) / np.sqrt(precision)
        shrink = tau**2 / variance
        return weight * prior_of_tau.pdf(tau), mu, shrink * EFFECT + (1 - shrink) * mu

    def integral(pick) -> float:
        return quad(lambda tau: given(tau)[0] * pick(tau), 0, np.inf, limit=300, epsabs=0)[0]

    total = integral(lambda tau: 1.0)
    schools = [integral(lambda tau, i=i: given(tau)[2][i]) / total for i in range(len(EFFECT))]
    mu, tau = (integral(pick) / total for pick in (lambda tau: given(tau)[1], lambda tau: tau))
    return mu, tau, np.array(schools)


def test_the_numbers_to_reproduce_are_those_of_the_integral():
    mu, tau, schools = _moments(halfcauchy(scale=SCALE))
    assert (mu, tau) == pytest.approx((MU, TAU), abs=1e-4)
    assert schools == pytest.approx(SCHOOLS, abs=1e-4)
    assert (mu, tau) == pytest.approx(POSTERIORDB, abs=0.05)
    # Half-normal scales, as the model's own, give others: the check tells priors apart.
    assert _moments(halfnorm(scale=SCALE))[1] < TAU - 0.3


ROWS = np.array([[1, *[0] * 8], [NO_CENTRE] * 9, [0] * 9], dtype=np.int64)
"""The first variate is mu and has no scale; the schools' is tau, scale 0."""
MEAN, SD = np.zeros(9), np.array([POPULATION_SD, *np.ones(8)])
DESIGN = np.column_stack([np.ones(8), np.eye(8)])
INFORMATION = (DESIGN * SD).T @ (DESIGN * SD / ERROR[:, None] ** 2)
BLOCK, NOBODY = np.array([0, 9], dtype=np.int64), np.empty((0, 0))


def _parts(position: np.ndarray) -> tuple[np.ndarray, ...]:
    """Values of mu and the schools' deviations by our block, with what its gradient needs."""
    z, signed = position[:9].copy(), SCALE * position[9:]
    scale = np.array([1.0, *[signed[0]] * 8])
    factor, inverse, u = np.empty((9, 9)), np.empty((9, 9)), np.empty(9)
    log_map = unwhiten(z, scale, INFORMATION, BLOCK, factor, inverse, u)
    return values_of(u, signed, ROWS, MEAN, SD), z, u, signed, inverse, log_map


def _log_density(position: np.ndarray) -> tuple[float, np.ndarray]:
    """Our block under the example's priors and data; tau is a Cauchy with a sign."""
    values, z, u, signed, inverse, log_map = _parts(position)
    away = (EFFECT - values[0] - values[1:]) / ERROR
    log_prior = -0.5 * u @ u - np.log1p(position[9] ** 2) + log_map
    by_school = away / ERROR
    by_value = np.array([by_school.sum(), *by_school])
    by_u, by_signed = values_gradient(by_value, u, signed, ROWS, SD, NOBODY)
    by_z, by_log_scale = whitened_gradient(z, u, by_u - u, BLOCK, inverse)
    by_scale = by_signed[0] + by_log_scale[1:].sum() / signed[0]
    by_position = SCALE * by_scale - 2 * position[9] / (1 + position[9] ** 2)
    return float(log_prior - 0.5 * away @ away), np.append(by_z, by_position)


def _expand(position: np.ndarray) -> dict[str, np.ndarray]:
    values, *_ = _parts(position)
    return {
        "mu": values[:1],
        "tau": np.abs(SCALE * position[9:]),
        "school": values[0] + values[1:],
    }


def test_the_blocks_gradient_is_that_of_small_steps():
    at = np.random.default_rng(3).standard_normal(10)
    _, gradient = _log_density(at)
    for i, step in enumerate(np.eye(10) * 1e-6):
        slope = (_log_density(at + step)[0] - _log_density(at - step)[0]) / 2e-6
        assert gradient[i] == pytest.approx(slope, rel=1e-5, abs=1e-6)


@pytest.mark.fit
def test_our_block_reproduces_eight_schools():
    sampled = from_pyfunc(
        ndim=10,
        make_logp_fn=lambda: _log_density,
        make_expand_fn=lambda *_: _expand,
        expanded_dtypes=[np.dtype(np.float64)] * 3,
        expanded_shapes=[(1,), (1,), (8,)],
        expanded_names=["mu", "tau", "school"],
        make_initial_point_fn=lambda seed: np.random.default_rng(seed).standard_normal(10),
    )
    trace = nutpie.sample(
        sampled,
        chains=4,
        cores=2,
        tune=1000,
        draws=DRAWS,
        target_accept=0.95,
        seed=2,
        progress_bar=False,
    )
    posterior = trace["posterior"].to_dataset()
    assert int(trace["sample_stats"]["diverging"].sum()) == 0
    for name, truth, truth_sd in (
        ("mu", [MU], [MU_SD]),
        ("tau", [TAU], [TAU_SD]),
        ("school", SCHOOLS, None),
    ):
        values = posterior[name].to_numpy().reshape(4, DRAWS, -1)
        assert _within_error(values, "mean", values.mean((0, 1)), np.array(truth))
        if truth_sd is not None:
            assert _within_error(values, "sd", values.std((0, 1)), np.array(truth_sd))
        # Every school pooled fully, or not at all, would be far outside that error.
        if name == "school":
            assert not _within_error(values, "mean", values.mean((0, 1)), np.full(8, MU))
            assert not _within_error(values, "mean", values.mean((0, 1)), EFFECT)


def _within_error(values: np.ndarray, of: str, found: np.ndarray, truth: np.ndarray) -> bool:
    """Whether each is within three times its Monte Carlo error."""
    error = array_stats.mcse(values, method=of, chain_axis=0, draw_axis=1)
    return bool((np.abs(found - truth) < 3 * error).all())
