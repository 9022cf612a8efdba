"""How answers moved: worked out a day at a time, kept, and renewed by a correction."""

from contextlib import suppress

import pytest

from model.base.errors import FitFailed, FitStopped
from model.questions import ask
from model.questions.ask import answer as real_answer
from model.questions.weights import Weights
from model.records.campaign import Outing
from model.records.question import Band
from model.service import fits, trail_filling
from model.service.fingerprints import days, fingerprint_of
from model.service.trail import trail_of
from model.service.trail_filling import fill_trail_step
from model.store.revisions import Reason
from model.store.store import Store

NOTE = Reason(who="M", why="why")


@pytest.fixture
def three_days(store, small_campaign, small_pulls):
    """Pulls of three days, imported at once, the void one among them."""
    day = Outing(name="day 3", ladder="steps", boat="workboat")
    store.replace_campaign(
        small_campaign.model_copy(
            update={
                "outings": (*small_campaign.outings, day),
                "questions": small_campaign.questions[:2],
            }
        )
    )
    late = [pull.model_copy(update={"outing": "day 3"}) for pull in small_pulls[:3]]
    store.add_pulls((*small_pulls, *late), "all.csv")
    return store


@pytest.fixture
def real_answers(monkeypatch, stand_in_answers):
    monkeypatch.setattr(ask, "answer", real_answer)


@pytest.fixture
def weighed(monkeypatch):
    """Quick answers whatever the weights: draws from the priors bear few pulls."""
    monkeypatch.setattr("model.questions.quick.EFFECTIVE_DRAWS_MIN", 0.0)
    monkeypatch.setattr(Weights, "is_within_limit", True)


def first(store):
    return trail_of(store, store.campaign().questions[0])


def test_days_know_what_came_before_them(three_days):
    facts = three_days.facts()
    found = days(facts.campaign, facts.pulls)
    assert [len(day.pulls) for day in found] == [7, 8, 3]
    assert [len(day.before) for day in found] == [0, 7, 15]
    assert [len(day.campaign.outings) for day in found] == [1, 2, 3]
    fingerprints = [one for day in found for one in day.fingerprints]
    assert len(set(fingerprints)) == 18
    assert fingerprints[-1] == fingerprint_of(facts)


@pytest.mark.usefixtures("weighed")
def test_a_log_imported_at_once_gets_its_trail_a_day_at_a_time(three_days, fitter):
    fitter.draws = 200
    assert (first(three_days).points, first(three_days).not_yet) == ((), 12)

    assert fill_trail_step(three_days, fitter)
    assert fitter.calls == [7]
    found = first(three_days)
    assert [(point.pulls, point.state) for point in found.points] == [
        (7, "full"),
        *((n, "quick") for n in range(8, 15)),
    ]
    assert found.not_yet == 4

    assert fill_trail_step(three_days, fitter)
    assert fill_trail_step(three_days, fitter)
    assert not fill_trail_step(three_days, fitter)
    assert fitter.calls == [7, 15, 18]
    found = first(three_days)
    assert [point.pulls for point in found.points] == list(range(7, 19))
    assert [point.pulls for point in found.points if point.state == "full"] == [7, 15, 18]
    assert found.not_yet == 0
    assert found.points[-1].last_pull == "day 3/3"
    assert three_days.newest_stored() is None  # nothing of it takes the fit's place
    assert three_days.stored_answers() == ()


@pytest.mark.usefixtures("weighed", "real_answers")
def test_the_real_answers_stand_in_it(three_days, fitter):
    fitter.draws = 200
    fill_trail_step(three_days, fitter)
    for point in first(three_days).points:
        assert point.summary.posterior.pulls == point.pulls
        assert point.summary.posterior.state == point.state


@pytest.mark.usefixtures("weighed")
def test_a_correction_renews_what_comes_after_it(three_days, fitter):
    while fill_trail_step(three_days, fitter):
        pass
    before = first(three_days).points
    pull = next(pull for pull in three_days.pulls() if pull.id == "day 2/3")
    three_days.correct_pulls([pull.model_copy(update={"anchor": "P9"})], "by hand", NOTE)

    stale = first(three_days)
    assert [point.pulls for point in stale.points] == list(range(7, 10))
    assert stale.points == before[:3]
    assert stale.not_yet == 9
    fitter.calls.clear()
    while fill_trail_step(three_days, fitter):
        pass
    assert fitter.calls == [7, 15, 18]  # the first for the quick answers behind the correction
    assert first(three_days).not_yet == 0
    # Put right again, all that was worked out for it still stands.
    three_days.correct_pulls([pull], "by hand", NOTE)
    assert first(three_days).points == before
    assert not fill_trail_step(three_days, fitter)


def test_if_fingerprints_took_no_notice_stale_points_would_stay(three_days, fitter, monkeypatch):
    while fill_trail_step(three_days, fitter):
        pass
    pull = next(pull for pull in three_days.pulls() if pull.id == "day 1/1")
    three_days.correct_pulls([pull.model_copy(update={"anchor": "P9"})], "by hand", NOTE)
    assert first(three_days).not_yet == 12
    monkeypatch.setattr(
        "model.service.fingerprints.TOLD_OF_PULLS",
        frozenset({*type(pull).model_fields} - {"outing", "code"}),
    )
    three_days_blind = first(three_days).not_yet
    fill = [fill_trail_step(three_days, fitter) for _ in range(3)]
    three_days.correct_pulls([pull], "by hand", NOTE)
    assert three_days_blind == 12
    assert fill == [True, True, True]
    assert first(three_days).not_yet == 0  # though the facts have changed


def test_a_note_renews_nothing_and_a_new_day_only_itself(three_days, fitter, small_pulls):
    while fill_trail_step(three_days, fitter):
        pass
    pull = three_days.pulls()[0]
    three_days.correct_pulls([pull.model_copy(update={"notes": "gusty"})], "by hand", NOTE)
    assert not fill_trail_step(three_days, fitter)
    campaign = three_days.campaign()
    day = Outing(name="day 4", ladder="steps", boat="workboat")
    three_days.replace_campaign(
        campaign.model_copy(update={"outings": (*campaign.outings, day), "about": "more"})
    )
    assert not fill_trail_step(three_days, fitter)
    three_days.add_pulls([small_pulls[0].model_copy(update={"outing": "day 4"})], "d4.csv")
    fitter.calls.clear()
    assert fill_trail_step(three_days, fitter)
    assert fitter.calls == [19]


def test_a_refused_fit_is_not_tried_again(three_days, fitter):
    fitter.status = "failed"
    assert fill_trail_step(three_days, fitter)
    assert [point.state for point in first(three_days).points] == ["refused", *["withheld"] * 7]
    fitter.status = "passed"
    fitter.calls.clear()
    while fill_trail_step(three_days, fitter):
        pass
    assert fitter.calls == [15, 18]


def test_a_question_of_a_refused_day_is_refused_without_a_fit(three_days, fitter, small_campaign):
    fitter.status = "failed"
    assert fill_trail_step(three_days, fitter)
    campaign, more = three_days.campaign(), small_campaign.questions[2]
    three_days.replace_campaign(
        campaign.model_copy(update={"questions": (*campaign.questions, more)})
    )
    fitter.calls.clear()
    assert fill_trail_step(three_days, fitter)
    assert fitter.calls == []
    found = trail_of(three_days, more).points[0]
    assert (found.state, found.reason) == ("refused", "12 divergences")
    assert three_days.newest_attempt() is None  # no fit that answers wait for has failed


def _until_it_is_refused(store, fitter, most_tries, *, most=6):
    """Steps until a first one ends; how often it was stopped before."""
    for stops in range(most):
        with suppress(FitStopped, Killed):
            fill_trail_step(store, fitter, most_tries=most_tries)
            return stops
    return most


class Killed(BaseException):
    """Ends a step as a kill does: nothing is put in order."""


@pytest.mark.parametrize("stop", [MemoryError(), Killed()], ids=["memory", "kill"])
def test_a_day_whose_fit_is_stopped_again_and_again_is_refused(stop, three_days, fitter):
    fitter.error = stop
    assert _until_it_is_refused(three_days, fitter, 3) == 3
    assert fitter.calls == [7] * 3
    found = first(three_days).points[0]
    assert found.state == "refused"
    assert "stopped 3 times before it ended" in found.reason
    fitter.error = None
    while fill_trail_step(three_days, fitter, most_tries=3):
        pass
    assert fitter.calls == [7, 7, 7, 15, 18]


def test_without_the_limit_it_would_go_round(three_days, fitter):
    fitter.error = MemoryError()
    assert _until_it_is_refused(three_days, fitter, None) == 6
    assert fitter.calls == [7] * 6


def test_what_stops_in_answering_is_not_begun_for_ever_either(three_days, fitter, monkeypatch):
    def cut(posterior, **_):
        if not isinstance(posterior, str):
            raise Killed
        return ()

    monkeypatch.setattr(trail_filling, "_points", cut)
    assert _until_it_is_refused(three_days, fitter, 3) == 3
    assert fitter.calls == [7] * 3


def test_a_stop_on_purpose_loses_no_try(three_days, fitter):
    fitter.error = KeyboardInterrupt()
    for _ in range(4):
        with pytest.raises(KeyboardInterrupt):
            fill_trail_step(three_days, fitter, most_tries=3)
    fitter.error = None
    assert fill_trail_step(three_days, fitter, most_tries=3)
    assert first(three_days).points[0].state == "full"


@pytest.fixture
def refused_last_day(three_days, fitter):
    """The full fit failed its check, and the trail was worked out as far as it goes."""
    fitter.status = "failed"
    with pytest.raises(FitFailed):
        fits.fit(three_days, fitter=fitter)
    fitter.status = "passed"
    fitter.calls.clear()
    while fill_trail_step(three_days, fitter):
        pass
    return three_days


def test_a_last_day_whose_full_fit_failed_is_not_sampled_again(refused_last_day, fitter):
    assert fitter.calls == [7, 15]
    last = first(refused_last_day).points[-1]
    assert (last.pulls, last.state, last.reason) == (18, "refused", "12 divergences")


def test_unless_the_failed_fit_were_seen_it_would_be(three_days, fitter, monkeypatch, request):
    monkeypatch.setattr(trail_filling, "_why_failed", lambda *_: "")
    request.getfixturevalue("refused_last_day")
    assert fitter.calls == [7, 15, 18]


def test_a_full_fit_that_passes_by_hand_mends_its_day(refused_last_day, fitter):
    fits.fit(refused_last_day, fitter=fitter)
    fitter.calls.clear()
    while fill_trail_step(refused_last_day, fitter):
        pass
    assert fitter.calls == []
    last = first(refused_last_day).points[-1]
    assert (last.pulls, last.state) == (18, "full")


@pytest.mark.parametrize("is_asked", [True, False])
def test_looks_before_are_of_the_question_as_it_is_now(is_asked, three_days, fitter, monkeypatch):
    while fill_trail_step(three_days, fitter):
        pass
    campaign, counts, real = three_days.campaign(), [], trail_filling._looks
    wider = campaign.questions[0].model_copy(
        update={"band": Band(kind="ratio", lower=0.5, upper=2.0)}
    )
    three_days.replace_campaign(
        campaign.model_copy(update={"questions": (wider, *campaign.questions[1:])})
    )

    def looks(*arguments):
        found = real(*arguments)
        counts.append(len(found.get(wider.name, ())))
        return found

    monkeypatch.setattr(trail_filling, "_looks", looks)
    if not is_asked:
        trail = Store.trail
        monkeypatch.setattr(
            Store, "trail", lambda store, at, asked: trail(store, at, (*asked, *campaign.questions))
        )
    while fill_trail_step(three_days, fitter):
        pass
    assert counts == ([0, 1, 2] if is_asked else [0, 2, 4])


def test_stopped_in_the_middle_it_goes_on_where_it_was(three_days, fitter, monkeypatch):
    def cut(*_, **__):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(trail_filling, "_points", cut)
        with pytest.raises(KeyboardInterrupt):
            fill_trail_step(three_days, fitter)
    assert first(three_days).points == ()
    assert fill_trail_step(three_days, fitter)
    assert len(first(three_days).points) == 8


def test_the_newest_fit_is_not_done_twice(three_days, fitter):
    fits.fit(three_days, fitter=fitter)
    fitter.calls.clear()
    while fill_trail_step(three_days, fitter):
        pass
    assert fitter.calls == [7, 15]


def test_a_question_that_came_later_gets_its_own(three_days, fitter, small_campaign):
    while fill_trail_step(three_days, fitter):
        pass
    campaign = three_days.campaign()
    three_days.replace_campaign(
        campaign.model_copy(update={"questions": small_campaign.questions[:3]})
    )
    assert trail_of(three_days, small_campaign.questions[2]).not_yet == 12
    assert first(three_days).not_yet == 0
    assert fill_trail_step(three_days, fitter)
    assert trail_of(three_days, small_campaign.questions[2]).points
