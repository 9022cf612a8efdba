"""One campaign of the table of ranks: where the truth stands among the draws.

Simulation-based calibration (Talts et al. 2018): with truths from the priors the
rank of every truth among its draws is uniform, whatever was pulled. Draws of one
attempt count whether or not they pass the fit check: a selection by the check
would make the ranks of what is left mean nothing.
"""

import time
from collections.abc import Callable, Iterator

import numpy as np

from model.base.errors import FitFailed
from model.calibration.engine import Engine
from model.calibration.parameter_draws import parameter_draws
from model.calibration.rank_result import RankResult
from model.calibration.scenario import Scenario
from model.calibration.seen_campaign import seen_campaign, seen_pulls, seen_world
from model.calibration.seen_judging import true_value
from model.posterior.posterior import Posterior
from model.questions.ask import SEED
from model.questions.effect import measure_draws, predictions
from model.records.question import Question
from model.simulate.world import World


def judge_ranks(
    scenario: Scenario, engine: Engine, *, clock: Callable[[], float] = time.perf_counter
) -> RankResult:
    """Run one scenario with the campaign and the questions of the table of what is seen."""
    campaign = seen_campaign()
    world = seen_world(scenario, campaign)
    pulls = tuple(one.pull for one in seen_pulls(scenario, world))
    began = clock()
    try:
        posterior = engine.fit(campaign, pulls, scenario.seed)
    except FitFailed as failure:
        seconds = round(clock() - began, 2)
        return RankResult(scenario=scenario, refusal=failure.message, fit_seconds=seconds)
    seconds = clock() - began
    return RankResult(
        scenario=scenario,
        model_version=posterior.provenance.model_version,
        divergences=posterior.fit_check.divergences,
        fit_seconds=round(seconds, 2),
        effects={
            question.name: round(effect_rank(question, world, posterior), 4)
            for question in campaign.questions
        },
        parameters=dict(parameter_ranks(world, posterior)),
    )


def effect_rank(question: Question, world: World, posterior: Posterior) -> float:
    """Share of an effect's draws below its truth; from draws that no answer may rest on, too."""
    rng = np.random.default_rng(SEED)
    sides = predictions(posterior, question, rng)
    top_kn = posterior.campaign.boats[0].top_thrust_kn
    draws = measure_draws(question, question.measure, sides, top_kn, rng).effect
    return float(np.mean(draws < true_value(question, world)))


def parameter_ranks(world: World, posterior: Posterior) -> Iterator[tuple[str, float]]:
    """Share of draws below the truth of each single number that is free.

    Parameters
    ----------
    world : World
        Has every name of the posterior's campaign.
    """
    for label, truth, drawn in parameter_draws(world, posterior):
        if drawn is not None:
            yield label, round(float(np.mean(drawn < truth)), 4)
