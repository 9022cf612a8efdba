import pytest
from filelock import FileLock

from model.base.errors import FitFailed, FitStopped, InputError, KedgewiseError, StoreError
from model.questions import ask
from model.records.answer import AnswerSummary, Finding, NotYet
from model.records.question import Band, Question, SetUp
from model.service import answers, fits
from model.service.answers import Failed
from model.service.imports import standing_of
from model.service.stores import state_of
from model.store.revisions import Reason


def _rest(small_pulls):
    return [pull for pull in small_pulls if pull.outing == "day 2"]


def _first(store):
    return answers.standing(store)[0]


def test_a_fit_is_stored_and_its_standing_answers_are_kept(filled, fitter):
    fitted = fits.fit(filled, fitter=fitter)

    assert fitted.state == "fitted"
    assert filled.newest_stored().id == fitted.stored.id
    assert filled.attempt(fitted.stored.id).state == "passed"
    assert len(filled.stored_answers()) == 4
    assert not fits.is_fit_wanted(filled)


def test_nothing_is_fitted_twice(filled, fitter):
    fits.fit(filled, fitter=fitter)
    again = fits.fit(filled, fitter=fitter)

    assert (again.state, fitter.calls) == ("unchanged", [8])
    assert len(filled.stored_answers()) == 4


def test_new_pulls_are_a_new_fit_and_a_second_look_settles(filled, fitter, small_pulls):
    fits.fit(filled, fitter=fitter)
    assert _first(filled).outcome.finding is Finding.NOT_SETTLED

    filled.add_pulls(_rest(small_pulls), "day-2.csv")
    assert fits.is_fit_wanted(filled)
    fits.fit(filled, fitter=fitter)

    standing = _first(filled)
    assert standing.outcome.finding is Finding.HIGHER
    assert [look.posterior.pulls for look in standing.history] == [7, 15]
    assert [look.finding for look in standing.history] == [Finding.NOT_SETTLED, Finding.HIGHER]
    assert answers.history_of(filled, standing.question) == standing.history


def test_a_baseline_written_out_is_the_same_question(filled, fitter, small_campaign):
    fits.fit(filled, fitter=fitter)
    question = small_campaign.questions[0]
    written = question.b.model_copy(update={"levels": {"leader": "chain only"}})
    same = question.model_copy(update={"name": "asked here", "b": written})
    assert len(answers.history_of(filled, same)) == 1
    other = question.model_copy(update={"seabeds": ("soft mud",)})
    assert answers.history_of(filled, other) == ()


def test_asking_again_is_no_second_look(filled, fitter):
    fits.fit(filled, fitter=fitter)
    for _ in range(3):
        assert _first(filled).outcome.finding is Finding.NOT_SETTLED
        fits.fit(filled, fitter=fitter)


def _corrected(campaign):
    heavier = campaign.anchors[0].model_copy(update={"mass_kg": 6.2})
    return campaign.model_copy(update={"anchors": (heavier, *campaign.anchors[1:])})


def test_a_correction_in_the_campaign_is_no_second_look(filled, fitter, small_campaign):
    fits.fit(filled, fitter=fitter)
    filled.replace_campaign(_corrected(small_campaign))
    assert fits.fit(filled, fitter=fitter).state == "fitted"
    assert _first(filled).outcome.finding is Finding.NOT_SETTLED


def test_without_the_rule_of_new_pulls_it_would_be_one(filled, fitter, small_campaign, monkeypatch):
    fits.fit(filled, fitter=fitter)
    monkeypatch.setattr(
        answers, "earlier_looks", lambda *arguments: [one.summary for one in arguments[3]]
    )
    filled.replace_campaign(_corrected(small_campaign))
    fits.fit(filled, fitter=fitter)
    assert _first(filled).outcome.finding is Finding.HIGHER


@pytest.mark.parametrize("is_refitted", [False, True])
def test_a_pull_taken_out_is_no_second_look(is_refitted, filled, fitter):
    """Fewer pulls are other pulls, but none is new: nothing more was learnt."""
    fits.fit(filled, fitter=fitter)
    filled.remove_pulls(["day 1/3"], Reason(who="M", why="wrong anchor"))
    if is_refitted:
        fits.fit(filled, fitter=fitter)
    found = answers.ask(filled, filled.campaign().questions[0]).summary
    assert found.finding is Finding.NOT_SETTLED


def test_an_answer_rests_on_the_pulls_as_they_were_fitted(filled, fitter):
    fits.fit(filled, fitter=fitter)
    question = filled.campaign().questions[0]
    before = answers.ask(filled, question).summary
    changed = [pull.model_copy(update={"anchor": "P9"}) for pull in filled.pulls()[:3]]
    filled.correct_pulls(changed, "by hand", Reason(who="M", why="wrong anchor"))
    filled.remove_pulls(["day 1/5"], Reason(who="M", why="wrong anchor"))
    assert answers.ask(filled, question).summary.pulls == before.pulls


def test_a_changed_band_begins_anew(filled, fitter, small_pulls, small_campaign):
    fits.fit(filled, fitter=fitter)
    question = small_campaign.questions[0]
    wider = question.model_copy(update={"band": Band(kind="ratio", lower=0.5, upper=2.0)})
    filled.replace_campaign(
        small_campaign.model_copy(update={"questions": (wider, *small_campaign.questions[1:])})
    )
    filled.add_pulls(_rest(small_pulls), "day-2.csv")
    fits.fit(filled, fitter=fitter)

    wider_now, unchanged = answers.standing(filled)[:2]
    assert wider_now.outcome.finding is Finding.NOT_SETTLED
    assert unchanged.outcome.finding is Finding.HIGHER


def test_answers_that_a_killed_fit_did_not_keep_are_kept_by_the_next(filled, fitter, monkeypatch):
    def cut(*_):
        raise RuntimeError("cut off")

    with monkeypatch.context() as patch:
        patch.setattr(fits, "record_standing", cut)
        with pytest.raises(RuntimeError, match="cut off"):
            fits.fit(filled, fitter=fitter)
    assert filled.stored_answers() == ()

    assert fits.fit(filled, fitter=fitter).state == "unchanged"
    assert len(filled.stored_answers()) == 4


@pytest.mark.parametrize("how", ["refused", "raised"])
def test_a_failed_fit_leaves_the_previous_answers(filled, fitter, small_pulls, how):
    fits.fit(filled, fitter=fitter)
    before = _first(filled).outcome
    filled.add_pulls(_rest(small_pulls), "day-2.csv")
    waiting = _first(filled).outcome
    if how == "refused":
        fitter.status = "failed"
    else:
        fitter.fail()

    with pytest.raises(FitFailed, match=r"12 divergences|no usable draw") as caught:
        fits.fit(filled, fitter=fitter)

    assert caught.value.exit_code == 3
    assert next(kept.summary for kept in filled.stored_answers()) == before
    assert _first(filled).outcome == waiting  # that of the previous posterior, and what it lacks
    assert waiting.model_copy(update={"flags": before.flags}) == before
    assert state_of(filled).failed_reasons
    assert not fits.is_fit_wanted(filled)  # a worker must not go round and round
    assert "still rest on 7" in standing_of(state_of(filled))


def test_a_first_fit_that_fails_leaves_no_answers_but_reasons(filled, fitter, small_campaign):
    fitter.status = "failed"
    with pytest.raises(FitFailed, match="12 divergences") as caught:
        fits.fit(filled, fitter=fitter)
    assert "no answers yet" in caught.value.hint

    with pytest.raises(FitFailed, match=r"the fit failed.*12 divergences"):
        answers.ask(filled, small_campaign.questions[0])
    outcomes = [one.outcome for one in answers.standing(filled)]
    assert all(isinstance(one, Failed) and one.exit_code == 3 for one in outcomes)

    fitter.status = "passed"
    assert fits.fit(filled, fitter=fitter).state == "fitted"
    assert filled.newest_attempt().tries == 2
    assert state_of(filled).failed_reasons == ()


@pytest.mark.parametrize(
    ("error", "state"),
    [(KeyboardInterrupt(), "passed"), (ZeroDivisionError(), "started"), (MemoryError(), "started")],
)
def test_an_error_in_the_sampler_leaves_the_previous_posterior(
    error, state, filled, fitter, small_pulls
):
    fits.fit(filled, fitter=fitter)
    filled.add_pulls(_rest(small_pulls), "day-2.csv")
    fitter.error = error
    with pytest.raises((type(error), FitStopped)):
        fits.fit(filled, fitter=fitter)

    assert filled.newest_stored().pulls == 7
    assert filled.newest_attempt().state == state  # stopped on purpose, it is as if it never began
    assert fits.is_fit_wanted(filled)


def test_a_damaged_posterior_is_fitted_anew(filled, fitter, small_campaign, caplog):
    fits.fit(filled, fitter=fitter)
    for path in (filled.folder / "posteriors").iterdir():
        path.write_bytes(path.read_bytes()[:100])

    with pytest.raises(StoreError, match="is not what was stored"):
        answers.ask(filled, small_campaign.questions[0])
    assert fits.fit(filled, fitter=fitter).state == "fitted"
    assert "fitting anew" in caplog.text
    assert isinstance(_first(filled).outcome, AnswerSummary)


def test_one_fit_at_a_time(filled, fitter):
    with (
        FileLock(filled.folder / fits.LOCK_NAME),
        pytest.raises(KedgewiseError, match="another fit") as caught,
    ):
        fits.fit(filled, fitter=fitter)
    assert "previous posterior" in caught.value.hint
    assert fits.fit(filled, fitter=fitter).state == "fitted"


def test_a_lock_that_cannot_be_taken(filled, fitter):
    (filled.folder / fits.LOCK_NAME).mkdir()
    with pytest.raises(StoreError, match="cannot be locked"):
        fits.fit(filled, fitter=fitter)
    assert fitter.calls == []


def test_nothing_to_fit(store, fitter, small_pulls):
    void = [pull for pull in small_pulls if pull.is_void]
    store.add_pulls(void, "void.csv")
    assert not fits.is_fit_wanted(store)
    with pytest.raises(InputError, match="no pull that can be used"):
        fits.fit(store, fitter=fitter)


def test_not_yet_is_a_value(store, filled, fitter, small_campaign):
    question = small_campaign.questions[0]
    outcome = answers.ask(filled, question)
    assert isinstance(outcome, NotYet)
    assert (outcome.reason, outcome.hint) == ("nothing was fitted yet", "Run `kedgewise fit`.")


def test_an_empty_store_says_to_import(store, small_campaign):
    outcome = answers.ask(store, small_campaign.questions[0])
    assert isinstance(outcome, NotYet)
    assert outcome.reason == "the store holds no pulls"


def test_what_came_into_the_campaign_after_the_fit_is_not_known_yet(filled, fitter, small_campaign):
    fits.fit(filled, fitter=fitter)
    anchor = small_campaign.anchors[0].model_copy(update={"code": "C7"})
    new = Question(name="C7 or S6", a=SetUp(anchor="C7"), b=SetUp(anchor="S6"))
    filled.replace_campaign(
        small_campaign.model_copy(
            update={
                "anchors": (*small_campaign.anchors, anchor),
                "questions": (*small_campaign.questions, new),
            }
        )
    )
    outcome = answers.standing(filled)[-1].outcome
    assert isinstance(outcome, NotYet)
    assert outcome.reason == "the newest fit does not know the anchor C7"


def test_one_question_that_fails_does_not_take_the_others_down(
    filled, fitter, monkeypatch, made_up_answer
):
    def sometimes(question, *arguments, **named):
        if question.name == "leader in general":
            raise InputError("cannot be asked", hint="Ask another.")
        return made_up_answer(question, *arguments, **named)

    monkeypatch.setattr(ask, "answer", sometimes)
    fits.fit(filled, fitter=fitter)
    kinds = [type(one.outcome) for one in answers.standing(filled)]
    assert kinds == [AnswerSummary, Failed, AnswerSummary, AnswerSummary]


def test_answers_count_only_the_pulls_behind_their_posterior(filled, fitter, small_pulls):
    fits.fit(filled, fitter=fitter)
    filled.add_pulls(_rest(small_pulls), "day-2.csv")
    counts = _first(filled).outcome.pulls
    assert (counts.a.count, counts.b.count) == (2, 3)
    assert "still rest on 7: run `kedgewise fit`" in standing_of(state_of(filled))


def test_progress_is_told(filled, fitter):
    told = []
    fits.fit(filled, fitter=fitter, progress=lambda fraction, text: told.append((fraction, text)))
    assert told == [(0.5, "half way")]
