"""The table of outcomes against pulls that are drawn step by step, and against one at a time."""

import numpy as np
import pytest
from scipy.stats import chisquare

from model.planning.outcome_table import outcome_table
from model.planning.pull_chance import pull_chances
from model.planning.water import Luck, Truths

N = 60_000


def test_chances_add_up_to_one(begun):
    table = outcome_table(begun.draws, begun.rows, begun.space)
    assert table.min() >= 0
    assert table.sum(axis=1) == pytest.approx(1.0, abs=2e-6)


@pytest.mark.parametrize("draw", [0, 7, 400])
@pytest.mark.parametrize("candidate", [0, -1])
def test_pulls_drawn_step_by_step_come_as_often_as_the_table_says(begun, draw, candidate):
    one = begun.draws.chosen(np.array([draw]))
    row = begun.rows[[candidate]]
    chances = outcome_table(one, row, begun.space)[0, :, 0].astype(float)
    rng = np.random.default_rng([draw, abs(candidate)])
    truths = Truths(draws=one.chosen(np.zeros(N, dtype=int)), luck=Luck.draw(N, 1, 1, rng))
    seen = truths.pull(np.arange(N), np.full(N, row[0]), 0, 0, begun.space)
    counts = np.bincount(seen, minlength=begun.space.size)
    assert p_value(counts, chances * N) > 1e-4


def p_value(counts, expected):
    """Of a chi-square test, the rare outcomes put together."""
    common = expected >= 5
    found = np.append(counts[common], counts[~common].sum())
    wanted = np.append(expected[common], expected[~common].sum())
    kept = wanted >= 1
    assert found[~kept].sum() <= 10
    found, wanted = found[kept], wanted[kept]
    return chisquare(found, wanted * found.sum() / wanted.sum()).pvalue


def test_one_outcome_at_a_time_is_the_table_column_by_column(begun):
    table = outcome_table(begun.draws, begun.rows, begun.space)
    size = begun.space.size
    for index, row in enumerate(begun.rows[:3]):
        today = tuple(
            np.tile(begun.draws.by_draw[name], (size, 1)) for name in ("today_load", "today_logit")
        )
        found = pull_chances(begun.draws, np.full(size, row), np.arange(size), today, begun.space)
        assert found == pytest.approx(table[index], abs=3e-6)


def test_a_final_hold_is_harder_than_a_dwell(known_draws, space):
    log_loads = np.array([0.0, 1.0])
    longer = space(log_loads)
    held = longer.ladder.model_copy(update={"final_hold_s": 15 * np.e**2})
    draws = known_draws(np.full((1, 1), 1.05), 0.1, log_hold_exponent=np.log(0.05))
    short, long = (
        outcome_table(draws, np.array([0]), type(longer)(ladder=ladder, has_camera=False))[0, -1, 0]
        for ladder in (longer.ladder, held)
    )
    assert short == pytest.approx(0.6915, abs=1e-3)  # half a scatter above the top
    assert long == pytest.approx(0.3085, abs=1e-3)  # the hold moves it up by 0.05 * 2


def test_a_camera_tells_the_modes_apart(known_draws, space):
    half = known_draws(
        np.zeros((1, 1)), 0.1, logit_upright=0.0, logit_seen_upright=30.0, logit_seen_on_side=30.0,
        not_seen_base=-30.0,
    )  # fmt: skip
    table = outcome_table(half, np.array([0]), space(np.array([-0.5, 0.5]), has_camera=True))
    ends = table[0, 1:, 0].reshape(3, 3)
    assert ends[1, 0] == pytest.approx(0.5, abs=1e-4)  # upright lets go at the second step
    assert ends[0, 1] == pytest.approx(0.5, abs=1e-4)  # on its side it lets go at the first
    assert ends[:, 2].sum() == pytest.approx(0.0, abs=1e-6)
