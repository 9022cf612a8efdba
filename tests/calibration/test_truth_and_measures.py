"""True answers and the measures, written apart: one truth in, the same effect out."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr

from model.base.names import DRAW, PARAMETER_DIMS
from model.base.priors import DEFAULT_PRIORS
from model.ingest.campaign_file import read_campaign
from model.questions.effect import measure_draws, predictions
from model.records.campaign import Campaign
from model.records.question import Measure, Question, SetUp
from model.simulate.hollow_sound import hollow_sound_world
from model.simulate.prior_world import draw_world
from model.simulate.true_answer import true_effect
from model.simulate.world import World

CAMPAIGN_FILE = Path(__file__).parents[2] / "data" / "hollow_sound" / "campaign.toml"

TOLERANCE = {Measure.BEST: 0.015, Measure.HOLD: 0.003}
"""Best: a grid against simulated pulls. Hold: seven days' nodes against thousands of days."""

QUESTIONS = (
    {"a": SetUp(anchor="S6", levels={"leader": "wire 2 m"}), "b": SetUp(anchor="S6")},
    {"a": SetUp(anchor="S6"), "b": SetUp(anchor="P9", scope=4.0)},
    {"a": SetUp(levels={"tip ballast": "0.4 kg"}), "b": SetUp(), "seabeds": ("firm sand",)},
)
MEASURES = (
    {"measure": Measure.TYPICAL},
    {"measure": Measure.BEST},
    {"measure": Measure.UPRIGHT},
    {"measure": Measure.SETS},
    {"measure": Measure.RESETS},
    {"measure": Measure.HOLD, "hold_kn": 3.0},
)


@pytest.fixture(scope="module")
def campaign() -> Campaign:
    return read_campaign(CAMPAIGN_FILE)


def _from_draws(world: World, question: Question) -> float:
    """The effect of the one draw that is the truth, on the scale of `true_effect`."""
    draws = xr.Dataset(
        {
            name: ((DRAW, *dims), np.asarray(world.values[name], dtype=float)[None])
            for name, dims in PARAMETER_DIMS.items()
        }
    )
    posterior = SimpleNamespace(draws=draws, campaign=world.campaign, weighed=None)
    rng = np.random.default_rng(1)
    sides = predictions(posterior, question, rng)
    found = measure_draws(question, question.measure, sides, 4.6, rng)
    return float(np.exp(found.effect[0]) if found.is_ratio else found.effect[0])


def _worlds(campaign: Campaign) -> list[World]:
    drawn = draw_world(campaign, DEFAULT_PRIORS, np.random.default_rng(1))
    return [hollow_sound_world(campaign), drawn]


@pytest.mark.parametrize("measure", MEASURES, ids=lambda measure: measure["measure"].value)
def test_the_truth_as_a_draw_gives_the_true_effect(
    campaign: Campaign, measure: dict[str, object]
) -> None:
    tolerance = TOLERANCE.get(measure["measure"], 1e-9)
    for world in _worlds(campaign):
        for setups in QUESTIONS:
            question = Question(name="q", **setups, **measure)
            expected = true_effect(world, question)
            assert _from_draws(world, question) == pytest.approx(expected, abs=tolerance)


def test_another_truth_gives_another_effect(campaign: Campaign) -> None:
    world, other = _worlds(campaign)
    question = Question(name="q", **QUESTIONS[1], measure=Measure.BEST)
    assert abs(_from_draws(world, question) - true_effect(other, question)) > 0.05
