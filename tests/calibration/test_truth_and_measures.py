"""True answers and the measures, written apart: one truth in, the same effect out."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from scipy.stats import ks_2samp

from model.base.constants import LOG_CAP
from model.base.names import DRAW, PARAMETER_DIMS
from model.base.priors import DEFAULT_PRIORS
from model.ingest.campaign_file import read_campaign
from model.questions.effect import measure_draws, predictions
from model.records.campaign import Campaign
from model.records.question import Measure, Question, SetUp
from model.simulate import true_answer
from model.simulate.hollow_sound import hollow_sound_world
from model.simulate.prior_world import draw_world
from model.simulate.true_answer import next_effect, true_effect
from model.simulate.world import World

CAMPAIGN_FILE = Path(__file__).parents[2] / "data" / "hollow_sound" / "campaign.toml"

TOLERANCE = {Measure.BEST: 0.015, Measure.HOLD: 0.003, Measure.CAPPED: 3e-4}
"""Best: a grid against simulated pulls. Hold: seven days' nodes against thousands of days. Capped:
a formula against thousands of loads."""
TOP_KN = 6.2  # the demo's ladder
NEXT_PULLS = 4000  # four standard errors of the difference of two shares are 0.045

QUESTIONS = (
    {"a": SetUp(anchor="S6", levels={"leader": "wire 2 m"}), "b": SetUp(anchor="S6")},
    {"a": SetUp(anchor="S6"), "b": SetUp(anchor="P9", scope=4.0)},
    {"a": SetUp(levels={"tip ballast": "0.4 kg"}), "b": SetUp(), "seabeds": ("firm sand",)},
)
MEASURES = (
    {"measure": Measure.TYPICAL},
    {"measure": Measure.BEST},
    {"measure": Measure.CAPPED},
    {"measure": Measure.NINE_IN_TEN},
    {"measure": Measure.BURIED},
    {"measure": Measure.UPRIGHT},
    {"measure": Measure.SETS},
    {"measure": Measure.RESETS},
    {"measure": Measure.TURNS},
    {"measure": Measure.HOLD, "hold_kn": 3.0},
)


@pytest.fixture(scope="module")
def campaign() -> Campaign:
    return read_campaign(CAMPAIGN_FILE)


def _draws(world: World, question: Question, count: int) -> np.ndarray:
    """The effect of draws that all are the truth, on the scale of `true_effect`."""
    draws = xr.Dataset(
        {
            name: ((DRAW, *dims), np.repeat(np.asarray(world.values[name])[None], count, axis=0))
            for name, dims in PARAMETER_DIMS.items()
        }
    )
    posterior = SimpleNamespace(draws=draws, campaign=world.campaign, weighed=None)
    rng = np.random.default_rng(1)
    sides = predictions(posterior, question, rng)
    found = measure_draws(question, question.measure, sides, TOP_KN, rng)
    return np.exp(found.effect) if found.is_ratio else found.effect


def _from_draws(world: World, question: Question) -> float:
    return float(_draws(world, question, 1)[0])


def _worlds(campaign: Campaign) -> list[World]:
    drawn = draw_world(campaign, DEFAULT_PRIORS, np.random.default_rng(1))
    return [hollow_sound_world(campaign), drawn]


@pytest.mark.parametrize("measure", MEASURES, ids=lambda measure: measure["measure"].value)
def test_the_truth_as_a_draw_gives_the_true_effect(
    campaign: Campaign, measure: dict[str, object]
) -> None:
    tolerance = TOLERANCE.get(measure["measure"], 1e-6)
    for world in _worlds(campaign):
        for setups in QUESTIONS:
            question = Question(name="q", **setups, **measure)
            expected = true_effect(world, question)
            assert _from_draws(world, question) == pytest.approx(expected, abs=tolerance)


def test_another_truth_gives_another_effect(campaign: Campaign) -> None:
    world, other = _worlds(campaign)
    question = Question(name="q", **QUESTIONS[1], measure=Measure.BEST)
    assert abs(_from_draws(world, question) - true_effect(other, question)) > 0.05


@pytest.mark.parametrize("setups", QUESTIONS)
def test_the_next_pull_goes_as_draws_of_the_truth_go(
    campaign: Campaign, setups: dict[str, object]
) -> None:
    question = Question(name="q", **setups, measure=Measure.NEXT)
    for world in _worlds(campaign):
        rng = np.random.default_rng(2)
        pulled = np.array([next_effect(world, question, rng) for _ in range(NEXT_PULLS)])
        drawn = _draws(world, question, NEXT_PULLS)
        for region in (_is_one_that_never_set, _is_neither_set, _is_higher):
            assert region(pulled).mean() == pytest.approx(region(drawn).mean(), abs=0.045)
        both = [effect[~_is_one_that_never_set(effect)] for effect in (pulled, drawn)]
        assert ks_2samp(*both).pvalue > 1e-4


def _is_one_that_never_set(effect: np.ndarray) -> np.ndarray:
    return np.abs(np.log(effect)) > LOG_CAP / 2


def _is_neither_set(effect: np.ndarray) -> np.ndarray:
    return effect == 1.0


def _is_higher(effect: np.ndarray) -> np.ndarray:
    return effect > 1.0


def test_two_days_for_one_pair_are_told_from_one(
    campaign: Campaign, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The check above, with each pull on a day of its own: it would have seen that."""
    question = Question(name="q", **QUESTIONS[1], measure=Measure.NEXT)
    world = _worlds(campaign)[0]
    values = {**world.values, "day_load_scale": np.asarray(0.6)}
    world = World(campaign=campaign, values=values)
    drawn = _draws(world, question, NEXT_PULLS)
    own_day = true_answer._next_log_load

    def on_another_day(world, plan, day_load, day_logit, rng):
        return own_day(world, plan, rng.normal(0.0, 0.6), day_logit, rng)

    monkeypatch.setattr(true_answer, "_next_log_load", on_another_day)
    rng = np.random.default_rng(2)
    pulled = np.array([next_effect(world, question, rng) for _ in range(NEXT_PULLS)])
    both = [effect[~_is_one_that_never_set(effect)] for effect in (pulled, drawn)]
    assert ks_2samp(*both).pvalue < 1e-4
