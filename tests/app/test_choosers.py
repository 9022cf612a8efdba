"""What choosers offer is what the model answers."""

import pytest

from model.questions.ask import answer
from model.records.question import Measure, Question, SetUp


@pytest.mark.parametrize("measure", list(Measure))
def test_every_measure_that_is_offered_has_an_answer(
    measure, small_campaign, small_pulls, made_up_posterior
):
    question = Question(
        name="q",
        a=SetUp(anchor="S6"),
        b=SetUp(anchor="P9"),
        measure=measure,
        hold_kn=3.0 if measure is Measure.HOLD else None,
    )
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=60)
    assert answer(question, posterior, small_pulls).question == question
