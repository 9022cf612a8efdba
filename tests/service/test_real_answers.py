"""The whole way from a stored posterior to an answer, with the real rule in place."""

import pytest

from model.questions import ask
from model.questions.answer import Answer
from model.questions.ask import answer as real_answer
from model.records.answer import AnswerSummary, Finding
from model.service import answers, fits
from model.service.questions import find


@pytest.fixture(autouse=True)
def real_answers(monkeypatch, stand_in_answers):
    monkeypatch.setattr(ask, "answer", real_answer)


def test_one_look_is_kept_for_each_fit_and_asking_again_says_the_same(filled, fitter, small_pulls):
    fitter.shift = {"treatment_load": 1.0}
    fitter.draws = 4000
    fits.fit(filled, fitter=fitter)
    first = answers.standing(filled)[0].outcome
    assert isinstance(first, AnswerSummary)
    assert (first.p_above_band > 0.99, first.finding) == (True, Finding.NOT_SETTLED)

    filled.add_pulls([pull for pull in small_pulls if pull.outing == "day 2"], "day-2.csv")
    fits.fit(filled, fitter=fitter)
    second = answers.standing(filled)[0]
    assert isinstance(second.outcome, AnswerSummary)
    assert second.outcome.pulls.shared_outings == 2
    assert [look.posterior.pulls for look in second.history] == [7, 15]
    assert second.history[-1] == second.outcome  # asked again, the same answer


def test_every_kind_of_question_is_answered(filled, fitter, small_campaign):
    fits.fit(filled, fitter=fitter)
    assert all(isinstance(one.outcome, AnswerSummary) for one in answers.standing(filled))
    [leader] = find(small_campaign, "leader")
    general = answers.ask(filled, leader)
    assert isinstance(general, Answer)
    chances = general.summary
    assert chances.p_above_band + chances.p_inside_band + chances.p_below_band == pytest.approx(1)
