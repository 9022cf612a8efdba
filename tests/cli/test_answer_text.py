import dataclasses
import re

import pytest
from rich.console import Console

from app.answer_json import answer_json
from app.answer_text import answer_view, measures_view, moved
from app.cautions import SHORT
from model.base.constants import BEYOND
from model.questions import ask
from model.questions.answer import Estimate, MeasureRow, Together
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


def test_what_two_changes_do_together_is_a_row_of_its_own(answer, small_campaign):
    [row] = answer.measures
    assert "Together" not in _printed(answer_view(answer, small_campaign))
    both = Together(names=("leader=wire 2 m & chain=6 mm",), effect=row.effect, p_higher=0.63)
    shown = _printed(answer_view(dataclasses.replace(answer, together=both), small_campaign))
    assert "Together 1.10 × (0.88 to 1.32 ×), above none 63 %;" in shown
    assert "beyond what each does by itself: leader=wire 2 m & chain=6 mm" in shown


def test_how_an_answer_moved_leaves_itself_out(answer):
    now = answer.summary.model_copy(update={"p_higher": 0.88})
    earlier = now.model_copy(
        update={"p_higher": 0.81, "posterior": now.posterior.model_copy(update={"id": "before"})}
    )
    assert _plain(moved(now, (earlier, now))) == "81 % → 88 %"


def test_what_the_model_has_no_effect_of_shows_no_figure(answer, small_campaign):
    [row] = answer.measures
    zero = Estimate(median=0.0, interval=Interval(prob=0.9, lower=0.0, upper=0.0), unit="chance")
    resets = MeasureRow(measure=Measure.RESETS, a=row.a, b=row.b, effect=zero, p_higher=0.5)
    shown = _printed(measures_view(dataclasses.replace(answer, measures=(resets,)), small_campaign))
    assert "not in the model" in shown
    assert "50 %" not in shown
    assert "0 points" not in shown


def test_the_cautions_are_those_of_the_pages(answer, small_campaign):
    assert SHORT in _printed(answer_view(answer, small_campaign))


def test_chances_stand_beside_the_other_figures(answer, small_campaign):
    in_general = dataclasses.replace(
        answer, question=small_campaign.questions[1], chances_in_ten=7,
        summary=answer.summary.model_copy(update={"p_higher": 0.8}),
    )  # fmt: skip
    shown = _printed(answer_view(in_general, small_campaign))
    assert "On the next anchor like these: 7 chances in 10 that A is higher" in shown


def test_the_next_pull_in_words(made_up_posterior, small_campaign, small_pulls):
    """Of anchors that often never set: a log ratio's stand-in must not be printed as a ratio."""
    question = small_campaign.questions[0].model_copy(update={"measure": Measure.NEXT})
    posterior = made_up_posterior(small_campaign, small_pulls, shift={"sets_base": -3.0})
    shown = _printed(answer_view(ask.answer(question, posterior, small_pulls), small_campaign))
    assert "A never set to B never set" in shown
    assert re.search(r"chances in 10 that the next pull of A comes (above|below) the next", shown)
    assert not re.search(r"\d{6}", shown.split(" Posterior ")[0])


def test_a_lower_effect_is_told_as_lower(answer, small_campaign):
    summary = answer.summary.model_copy(update={"p_higher": 0.004})
    lower = dataclasses.replace(answer, summary=summary)
    shown = _printed(answer_view(lower, small_campaign))
    assert "A lower over 99 %, virtually certain" in shown
    assert "unlikely" not in shown


def test_the_measure_that_was_asked_for_is_in_the_table(answer, small_campaign):
    hold = answer.question.model_copy(update={"measure": Measure.HOLD, "hold_kn": 3.0})
    asked = dataclasses.replace(answer, question=hold)
    assert _printed(measures_view(asked, small_campaign)).count("chance to hold a load") == 1
    assert "chance to hold a load" not in _printed(measures_view(answer, small_campaign))


def test_a_ratio_against_a_pull_that_never_set_is_null_in_json(
    made_up_posterior, small_campaign, small_pulls
):
    """485 million times as much is no figure of anything."""
    question = small_campaign.questions[0].model_copy(update={"measure": Measure.NEXT})
    posterior = made_up_posterior(small_campaign, small_pulls, shift={"sets_base": -2.0})
    found = ask.answer(question, posterior, small_pulls)
    assert found.summary.effect.interval.upper > BEYOND
    effect = answer_json(found)["effect"]
    assert effect["interval"]["upper"] is effect["interval"]["lower"] is None
    assert effect["interval"]["prob"] == found.summary.effect.interval.prob
    typical = ask.answer(small_campaign.questions[0], posterior, small_pulls)
    assert answer_json(typical) == typical.summary.model_dump(mode="json")
