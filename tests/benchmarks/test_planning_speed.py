"""What planning takes: scoring what could be pulled next, and rehearsing campaigns.

Held as ratios within one run, since machines differ: scoring against the tabulation it cannot do
without; a rehearsed pull against one answer from the same draws. Milliseconds are printed.
"""

import resource
import statistics
import time

import pytest

from model.calibration.rehearsal_scenarios import (
    CHOSEN,
    SCENARIOS,
    demo_posterior,
    policy_of,
    start_of,
)
from model.calibration.simulated import demo_campaign
from model.planning.candidates import candidates, contrasts
from model.planning.information import of_pairs, of_singles
from model.planning.outcome_table import outcome_table
from model.planning.rehearsal import Settings
from model.planning.start import start_of_posterior
from model.planning.sweep import Task, sweep
from model.questions.ask import answer
from model.simulate.hollow_sound import simulate_hollow_sound

pytestmark = pytest.mark.benchmark

CAMPAIGN = demo_campaign()
DRAWS, ROUNDS, SCORED = 4000, 7, 50
MOST_SCORING = 4.0
"""Scoring, tabulation included, takes at most so many times the tabulation."""
MOST_REHEARSED = 0.25
"""A rehearsed pull, its choice and its look, takes at most this share of one full answer."""


@pytest.fixture
def begun(made_up_posterior):
    """The demo's pulls behind made-up draws, and fifty candidates."""
    campaign = demo_campaign()
    pulls = [pull for pull in simulate_hollow_sound(campaign, 1) if not pull.is_void]
    posterior = made_up_posterior(campaign, pulls, n_draws=DRAWS)
    question = next(one for one in campaign.questions if one.name == "leader in general")
    every = candidates(campaign, [question])[:SCORED]
    start = start_of_posterior(posterior, pulls, [(question, 1.0)], every, has_camera=True)
    return start, posterior, pulls


def timed(act):
    began = time.perf_counter()
    act()
    return 1000 * (time.perf_counter() - began)


def test_scoring_fifty_candidates_and_their_pairs(begun):
    start, *_ = begun
    pairs = contrasts(start.campaign, start.main.question, start.candidates)
    asked = [start.main.regions(start.draws)]

    def tabulate():
        return outcome_table(start.draws, start.rows, start.space)

    def score():
        table = tabulate()
        of_singles(table, asked)
        of_pairs(table, pairs, asked)

    score()
    table_ms = statistics.median(timed(tabulate) for _ in range(ROUNDS))
    score_ms = statistics.median(timed(score) for _ in range(ROUNDS))
    print(
        f"\n    {len(start.candidates)} candidates, {len(pairs)} pairs, {DRAWS} draws: "
        f"tabulated {table_ms:.0f} ms, scored {score_ms:.0f} ms, "
        f"ratio {score_ms / table_ms:.2f}"
    )
    assert score_ms / table_ms <= MOST_SCORING


def test_rehearsing_campaigns_of_twelve_adaptive_pulls():
    """Of the invented campaign's fit, and two cores: each rehearses a half."""
    scenario = next(one for one in SCENARIOS if one.name == "chain-demo")
    start, posterior, pulls = start_of(scenario), demo_posterior(), simulate_hollow_sound(CAMPAIGN)
    tasks = [
        Task(policy=policy_of(CHOSEN, start), settings=Settings(n_campaign=500, most_pulls=12))
    ]
    answer_ms = statistics.median(
        timed(lambda: answer(start.main.question, posterior, pulls)) for _ in range(3)
    )
    sweep(start, [Task(policy=tasks[0].policy, settings=Settings(n_campaign=2))] * 2, n_jobs=2)
    took_ms = timed(lambda: sweep(start, tasks, n_jobs=2))
    each_ms = took_ms / (500 * 12)
    peak_mb = sum(
        resource.getrusage(who).ru_maxrss / 1024
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    print(
        f"\n    500 campaigns of 12 pulls on two cores: {took_ms / 1000:.1f} s, {each_ms:.1f} ms a "
        f"pull, an answer {answer_ms:.0f} ms, ratio {each_ms / answer_ms:.3f}, "
        f"peak {peak_mb:.0f} MB"
    )
    assert each_ms / answer_ms <= MOST_REHEARSED
