"""Whether buried rode, given the setting mode, tells anything of the load.

``uv run python -m model.calibration.burial_and_load --results DIR``

The demo's pulls are simulated with burial as it is (given the mode it knows
nothing of the load) and with a correlation of the two within a mode. Each
campaign is fitted once, without any such term. A term `c` with a prior around
zero, the log load that one standard deviation of burial is worth, is then put
to the draws by importance weights, and leave-one-out says whether pulls are
foretold better with it. What is kept of a campaign is a file of its own.
"""

import argparse
import logging
from collections.abc import Sequence
from math import exp, hypot, log, sqrt
from pathlib import Path
from typing import Any, Final

import numpy as np
from arviz_stats.base.array import array_stats
from numpy.typing import NDArray
from pydantic import Field
from scipy.special import log_ndtr, logsumexp
from scipy.stats import norm

from model.arrays.campaign_arrays import campaign_arrays
from model.base.names import ON_SIDE, UPRIGHT
from model.calibration.command import end_with
from model.calibration.files import write_atomically
from model.calibration.simulated import demo_campaign
from model.outcomes.formula import (
    Parameters,
    Rows,
    log_buried,
    log_load_on_side,
    log_load_upright,
    log_scatter,
    logit_upright,
)
from model.outcomes.likelihood import MODE_SIGN, BiteData, bite_data, log_evidence, pull_rows
from model.outcomes.log_probability import log_interval, log_sigmoid
from model.posterior.posterior import LOG_LIKELIHOOD, Posterior
from model.questions.effect import parameters_of
from model.questions.weights import pareto_limit
from model.records.base import Record
from model.records.campaign import Campaign
from model.records.pull import Bite, Pull
from model.simulate.campaign import live_campaign
from model.simulate.evidence import read_tape
from model.simulate.hollow_sound import PROTOCOL, hollow_sound_plans, hollow_sound_world
from model.simulate.nature import mean_log_buried, mean_log_capacity, scatter
from model.simulate.plan import Plan, ladder_kept
from model.simulate.pull import LivedPull
from model.simulate.world import World

log_ = logging.getLogger("model.calibration.burial_and_load")  # also when run as a command

Array = NDArray[np.float64]
_statistics: Any = array_stats  # ships no types

SEEDS: Final = (101, 102, 103, 104, 105, 106)
CORRELATIONS: Final = (0.0, 0.5)
"""Of burial and load within a mode; both fixed before the first run."""

PRIOR_SD: Final = 0.1
"""Of the term: a standard deviation of burial worth a tenth of the load either way."""

GRID: Final = np.linspace(-0.3, 0.3, 31)


class Coupling(Record):
    """What one campaign says of the term.

    Parameters
    ----------
    lower90, median, upper90 : float
        Of the term, log load for one standard deviation of burial.
    gain, gain_error : float
        Expected log predictive density with the term less that without it, leaving one pull out
        at a time, and its standard error.
    unsure : int
        Pulls whose Pareto k is above 0.7 with the term or without it: what leaving them out would
        say is not known well.
    """

    seed: int
    correlation: float
    refusal: str = ""
    pulls: int = Field(default=0, ge=0)
    lower90: float = 0.0
    median: float = 0.0
    upper90: float = 0.0
    gain: float = 0.0
    gain_error: float = 0.0
    unsure: int = Field(default=0, ge=0)


def coupled_pulls(campaign: Campaign, seed: int, correlation: float) -> tuple[Pull, ...]:
    """The demo's pulls of one seed; burial drawn anew, to go with the load that was read."""
    world, plans = hollow_sound_world(campaign), hollow_sound_plans()
    lived = live_campaign(world, plans, PROTOCOL, np.random.default_rng([seed, 0]))
    rng = np.random.default_rng([seed, 1])
    return tuple(
        _with_burial(world, plan, one, correlation, rng)
        for plan, one in zip(plans, lived, strict=True)
    )


def _with_burial(
    world: World, plan: Plan, lived: LivedPull, correlation: float, rng: np.random.Generator
) -> Pull:
    last, tape = lived.pull.bites[-1], PROTOCOL.evidence.tape
    noise = rng.standard_normal()
    if tape is None or last.buried is None or not lived.upright:
        return lived.pull
    is_upright = lived.upright[-1]
    z = correlation * _load_z(world, plan, last, is_upright) + sqrt(1 - correlation**2) * noise
    mean = mean_log_buried(world, plan, is_upright=is_upright)
    length_m = exp(mean + world.value("buried_scatter") * z)
    bites = (*lived.pull.bites[:-1], last.model_copy(update={"buried": read_tape(tape, length_m)}))
    return lived.pull.model_copy(update={"bites": bites})


def _load_z(world: World, plan: Plan, bite: Bite, is_upright: bool) -> float:
    """The load that was read, in standard deviations from its mode's mean; by the step's middle."""
    loads = ladder_kept(world.campaign, plan).loads_kn
    load_kn = bite.load_kn or loads[0]
    below = max((step for step in loads if step < load_kn), default=load_kn / 2)
    middle = (log(below) + log(load_kn)) / 2 if bite.ending.is_release else log(load_kn) + 0.1
    mean = mean_log_capacity(world, plan, is_upright=is_upright, bite=bite.number, day=plan.outing)
    spread = hypot(
        scatter(world, plan.anchor, is_upright=is_upright), world.value("pull_load_scale")
    )
    return (middle - mean) / spread


def coupling(posterior: Posterior, pulls: Sequence[Pull], *, seed: int, correlation: float
) -> Coupling:  # fmt: skip
    """Put the term to a fit without it."""
    ratio = _log_ratio(posterior, pulls)  # (draw, pull, grid)
    without = posterior.draws[LOG_LIKELIHOOD].to_numpy()
    log_prior = norm.logpdf(GRID, 0, PRIOR_SD)
    log_weight = ratio.sum(axis=1) + log_prior
    of_term = np.exp(logsumexp(log_weight, axis=0) - logsumexp(log_weight))
    lower, median, upper = np.interp([0.05, 0.5, 0.95], np.cumsum(of_term), GRID)
    gains, unsure = [], 0
    for place in range(without.shape[1]):
        log_p = without[:, place]
        alone, k_alone = _left_out(np.zeros_like(log_p), log_p)
        joint = log_p[:, None] + ratio[:, place]
        together, k_together = _left_out(log_weight.ravel(), joint.ravel())
        gains.append(together - alone)
        unsure += k_alone > pareto_limit(log_p.size) or k_together > pareto_limit(joint.size)
    return Coupling(
        seed=seed,
        correlation=correlation,
        pulls=len(gains),
        lower90=float(lower),
        median=float(median),
        upper90=float(upper),
        gain=float(np.sum(gains)),
        gain_error=float(np.sqrt(len(gains)) * np.std(gains, ddof=1)),
        unsure=int(unsure),
    )


def _left_out(log_weight: Array, log_p: Array) -> tuple[float, float]:
    """Log predictive density of a pull under weighted draws that do not know it, and Pareto k."""
    if np.ptp(log_p) == 0.0:  # every draw says the same of it, and the smoother refuses such a tail
        return float(log_p[0]), 0.0
    # The smoother weighs by what was left out: negated.
    smoothed, k = _statistics.psislw(log_p - log_weight)
    return float(logsumexp(smoothed + log_p) - logsumexp(smoothed)), float(k)


def _log_ratio(posterior: Posterior, pulls: Sequence[Pull]) -> Array:
    """Log of each pull's probability with the term over that without, ``(draw, pull, grid)``.

    Of the bite that was measured; that its pull's other bites share a pull effect
    with it is left out here, and only here.
    """
    parameters, arrays = parameters_of(posterior), campaign_arrays(posterior.campaign, pulls)
    measured = np.flatnonzero(
        (arrays["buried_lower_m"].to_numpy() > 0) | np.isfinite(arrays["buried_upper_m"].to_numpy())
    )
    rows, data = pull_rows(arrays), bite_data(arrays, measured)
    pull = data.pull_index
    gauge = parameters["gauge_scatter"][:, arrays["gauge_index"].to_numpy()][:, pull]
    extra = gauge**2 + parameters["pull_load_scale"][:, None] ** 2
    shift = parameters["boat_bias"][:, arrays["boat_index"].to_numpy()][:, pull]
    shift = shift + parameters["later_bite_load"][:, None] * data.is_later
    hold = parameters["hold_exponent"][:, None]
    lower, upper = (
        data.log_lower + hold * data.lower_log_hold,
        data.log_upper + hold * data.upper_log_hold,
    )
    log_spoilt = np.log(parameters["spoilt_share"])[:, None] + data.log_spoilt_share
    log_sound = np.log1p(-parameters["spoilt_share"])[:, None]
    logit = logit_upright(parameters, rows)[:, pull]
    logit = logit + parameters["later_bite_upright"][:, None] * data.is_later
    by_term = np.full((len(GRID), *logit.shape), -np.inf)
    base = np.full(logit.shape, -np.inf)
    for mode, log_load in ((UPRIGHT, log_load_upright), (ON_SIDE, log_load_on_side)):
        mean = log_load(parameters, rows)[:, pull] + shift
        sd = np.sqrt(np.exp(2 * log_scatter(parameters, rows, mode)[:, pull]) + extra)
        weight = log_sigmoid(MODE_SIGN[mode] * logit)
        weight = weight + sum(log_evidence(parameters, rows, data, mode).values())
        z = _burial_z(parameters, rows, data, mode)
        for place, term in enumerate([0.0, *GRID]):
            middle = mean + term * z
            in_range = log_interval((lower - middle) / sd, (upper - middle) / sd)
            found = weight + np.logaddexp(log_sound + in_range, log_spoilt)
            if place == 0:
                base = np.logaddexp(base, found)
            else:
                by_term[place - 1] = np.logaddexp(by_term[place - 1], found)
    ratio = np.zeros((logit.shape[0], arrays.sizes["pull"], len(GRID)))
    ratio[:, pull] = np.moveaxis(by_term - base, 0, -1)
    return ratio


def _burial_z(parameters: Parameters, rows: Rows, data: BiteData, mode: int) -> Array:
    """Expected standardised burial of a range, given the mode, ``(draw, row)``."""
    mean = log_buried(parameters, rows)[:, data.pull_index]
    if mode == ON_SIDE:
        mean = mean - parameters["buried_gap"][:, None]
    spread = parameters["buried_scatter"][:, None]
    a, b = (data.log_buried_lower - mean) / spread, (data.log_buried_upper - mean) / spread
    log_mass = np.where(np.isinf(b), log_ndtr(-a), log_interval(a, b))
    expected: Array = np.exp(norm.logpdf(a) - log_mass) - np.exp(norm.logpdf(b) - log_mass)
    return np.clip(expected, -4.0, 4.0)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run what is missing, one campaign after the other, and print what is there."""
    parser = argparse.ArgumentParser(description="Does burial, given the mode, tell of the load?")
    parser.add_argument("--results", type=Path, required=True)
    given = parser.parse_args(arguments)
    logging.basicConfig(format="%(message)s")
    logging.getLogger("model").setLevel(logging.INFO)
    campaign = demo_campaign()
    for seed in SEEDS:
        for correlation in CORRELATIONS:
            path = given.results / f"{seed}_{correlation:g}.json"
            if not path.exists():
                found = _one(campaign, seed, correlation)
                write_atomically(path, found.model_dump_json(indent=1) + "\n")
            log_.info(Coupling.model_validate_json(path.read_text(encoding="utf-8")))


def _one(campaign: Campaign, seed: int, correlation: float) -> Coupling:
    from model.inference.sampler import Sampler

    pulls = coupled_pulls(campaign, seed, correlation)
    posterior = Sampler().fit(campaign, pulls, seed=seed)
    if posterior.fit_check.status == "failed":
        return Coupling(
            seed=seed, correlation=correlation, refusal="; ".join(posterior.fit_check.reasons)
        )
    return coupling(posterior, pulls, seed=seed, correlation=correlation)


if __name__ == "__main__":
    end_with(main)
