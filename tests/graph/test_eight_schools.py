"""The block of effects around a population effect, on the best known small hierarchy.

Eight Schools: Rubin (1981), as in Gelman et al., Bayesian Data Analysis; priors as in posteriordb's
`eight_schools_noncentered`: mu ~ N(0, 5), tau ~ half-Cauchy(5).
"""

import numpy as np
import nutpie
import pymc as pm
import pytensor.tensor as pt
import pytest
from arviz_stats.base import array_stats
from scipy.integrate import quad
from scipy.stats import halfcauchy, halfnorm, norm

from model.graph.graph import draw_values

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


def _model(rotation: np.ndarray) -> pm.Model:
    """Our block, given the example's priors: scale 0 is tau, the first variate is mu."""
    data = {
        "prior_mean": np.zeros(9),
        "prior_sd": np.array([POPULATION_SD, *np.ones(8)]),
        "mixing": rotation,
    }
    with pm.Model() as model:
        signed = pm.Cauchy("signed", alpha=0.0, beta=SCALE, shape=1)
        values = draw_values(data, signed, np.array([1, *[0] * 8], dtype=np.int64))
        pm.Deterministic("mu", values[0])
        pm.Deterministic("tau", pt.abs(signed[0]))
        school = pm.Deterministic("school", values[0] + values[1:])
        pm.Normal("effect", mu=school, sigma=ERROR, observed=EFFECT)
    return model


@pytest.mark.fit
def test_our_block_reproduces_eight_schools():
    rotation, _ = np.linalg.qr(np.random.default_rng(0).standard_normal((9, 9)))
    trace = nutpie.sample(
        nutpie.compile_pymc_model(_model(rotation)),
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
