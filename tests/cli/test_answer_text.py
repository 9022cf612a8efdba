import dataclasses
import re

import pytest
from rich.console import Console

from app.answer_text import measures_view, moved
from model.questions.answer import MeasureRow
from model.records.answer import Interval
from model.records.question import Measure


@pytest.fixture
def answer(made_up_answer, made_up_posterior, small_campaign, small_pulls):
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=40, identity="now")
    return made_up_answer(small_campaign.questions[0], posterior, small_pulls)


def _printed(view):
    console = Console(width=200)
    with console.capture() as capture:
        console.print(view)
    return _plain(capture.get())


def _plain(text):
    """Any kind of space as a plain one."""
    return re.sub(r"\s+", " ", text)


def test_a_chance_that_falls_is_a_negative_difference(answer, small_campaign):
    """A difference is no chance: printed as one, minus eight points became "under 1 %"."""
    [row] = answer.measures
    chance = dataclasses.replace(row.a, unit="chance", median=0.7)
    fall = dataclasses.replace(
        row.effect, unit="chance", median=-0.05,
        interval=Interval(prob=0.9, lower=-0.08, upper=0.01),
    )  # fmt: skip
    upright = MeasureRow(measure=Measure.UPRIGHT, a=chance, b=chance, effect=fall, p_higher=0.1)
    changed = dataclasses.replace(answer, measures=(row, upright))
    shown = _printed(measures_view(changed, small_campaign))
    assert "−5 points (−8 to +1 points)" in shown
    assert "1.10 × (0.88 to 1.32 ×)" in shown


def test_how_an_answer_moved_leaves_itself_out(answer):
    now = answer.summary.model_copy(update={"p_higher": 0.88})
    earlier = now.model_copy(
        update={"p_higher": 0.81, "posterior": now.posterior.model_copy(update={"id": "before"})}
    )
    assert _plain(moved(now, (earlier, now))) == "81 % → 88 %"
