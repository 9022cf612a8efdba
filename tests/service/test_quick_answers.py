"""Answers as soon as a pull is stored: quick where the draws allow it, and never a look."""

import dataclasses

import pytest

from model.base.errors import DrawsGone, KedgewiseError
from model.questions import ask
from model.questions.answer import Answer
from model.questions.ask import answer as real_answer
from model.questions.quick import Withheld
from model.records.answer import AnswerSummary, NotYet
from model.records.campaign import Anchor, Outing
from model.records.question import Question, SetUp
from model.service import answers, fits, moved
from model.service.evidence import CHANGED, waits_because
from model.service.fingerprints import fingerprint_of
from model.service.moved import storing
from model.store.revisions import Reason
from model.store.store import Store

pytestmark = pytest.mark.usefixtures("real_answers")


@pytest.fixture
def real_answers(monkeypatch, stand_in_answers):
    monkeypatch.setattr(ask, "answer", real_answer)


@pytest.fixture
def fitted(filled, fitter):
    fitter.draws = 4000
    fits.fit(filled, fitter=fitter)
    return filled


@pytest.fixture
def next_pull(small_pulls):
    """One that draws from the priors find nothing strange in: it did not set."""
    never = next(pull for pull in small_pulls if not pull.has_set and not pull.is_void)
    return never.model_copy(update={"outing": "day 2", "code": "31"})


def states(store):
    return [one.outcome.posterior.state for one in answers.standing(store)]


def test_a_stored_pull_is_in_the_next_answer(fitted, next_pull, small_campaign):
    assert set(states(fitted)) == {"full"}
    fitted.add_pulls([next_pull], "by hand")
    found = answers.ask(fitted, small_campaign.questions[0])
    assert isinstance(found, Answer)
    assert (found.summary.posterior.state, found.summary.posterior.pulls) == ("quick", 8)
    assert found.summary.posterior.id == fitted.newest_stored().id
    assert any("day 2/31" in flag.text for flag in found.summary.flags)
    assert set(states(fitted)) == {"quick"}


def test_a_void_pull_counts_as_nothing(fitted, small_pulls):
    void = next(pull for pull in small_pulls if pull.is_void)
    fitted.add_pulls([void.model_copy(update={"outing": "day 2", "code": "v"})], "by hand")
    assert set(states(fitted)) == {"full"}


def test_a_day_that_came_into_the_campaign_with_the_pull(fitted, next_pull, small_campaign):
    day = Outing(name="day 3", ladder="steps", boat="workboat")
    fitted.replace_campaign(
        small_campaign.model_copy(update={"outings": (*small_campaign.outings, day)})
    )
    assert set(states(fitted)) == {"full"}  # a day without a pull is nothing to weigh
    fitted.add_pulls([next_pull.model_copy(update={"outing": "day 3"})], "by hand")
    assert set(states(fitted)) == {"quick"}


def test_an_anchor_that_the_fit_does_not_know_is_asked_of_at_once(fitted, small_campaign):
    bent = Anchor(code="S6b", mass_kg=6.0, modified_from="S6")
    fitted.replace_campaign(
        small_campaign.model_copy(update={"anchors": (*small_campaign.anchors, bent)})
    )
    question = Question(name="bent", a=SetUp(anchor="S6b"), b=SetUp(anchor="S6"))
    found = answers.ask(fitted, question)
    assert isinstance(found, Answer)
    assert found.summary.posterior.state == "quick"
    assert {"never_pulled", "kin", "quick"} <= {flag.code for flag in found.summary.flags}


def test_too_few_draws_leave_the_full_answer_that_says_what_it_waits_for(
    filled, fitter, next_pull, small_campaign
):
    fits.fit(filled, fitter=fitter)  # forty draws
    filled.add_pulls([next_pull], "by hand")
    found = answers.ask(filled, small_campaign.questions[0]).summary
    assert (found.posterior.state, found.posterior.pulls) == ("full", 7)
    assert waits_because(found)
    bent = Question(name="bent", a=SetUp(anchor="S6b"), b=SetUp(anchor="S6"))
    filled.replace_campaign(
        small_campaign.model_copy(
            update={"anchors": (*small_campaign.anchors, Anchor(code="S6b", mass_kg=6.0))}
        )
    )
    assert isinstance(answers.ask(filled, bent), NotYet)


def test_a_correction_waits_for_the_full_fit(fitted, next_pull, small_campaign):
    fitted.add_pulls([next_pull], "by hand")
    fitted.correct_pulls(
        [fitted.pulls()[0].model_copy(update={"anchor": "P9"})], "by hand", Reason(who="M", why="w")
    )
    found = answers.ask(fitted, small_campaign.questions[0]).summary
    assert (found.posterior.state, waits_because(found)) == ("full", CHANGED)


def test_a_corrected_note_waits_for_nothing(fitted, next_pull, small_campaign):
    fitted.correct_pulls(
        [fitted.pulls()[0].model_copy(update={"notes": "n"})], "by hand", Reason(who="M", why="w")
    )
    found = answers.ask(fitted, small_campaign.questions[0]).summary
    assert (found.posterior.state, waits_because(found)) == ("full", "")


def test_the_full_fit_takes_the_place_of_quick_answers(fitted, fitter, next_pull):
    storing(fitted, lambda: fitted.add_pulls([next_pull], "by hand"))
    assert set(states(fitted)) == {"quick"}
    fits.fit(fitted, fitter=fitter)
    assert set(states(fitted)) == {"full"}
    assert {one.outcome.posterior.pulls for one in answers.standing(fitted)} == {8}


def test_a_quick_answer_is_no_look(fitted, fitter, next_pull):
    for code in ("31", "32", "33"):
        storing(
            fitted,
            lambda code=code: fitted.add_pulls([next_pull.model_copy(update={"code": code})], "h"),
        )
    kept = fitted.stored_answers()
    assert {one.summary.posterior.state for one in kept} == {"full"}
    assert len(kept) == 4
    fits.fit(fitted, fitter=fitter)
    assert {one.summary.posterior.state for one in fitted.stored_answers()} == {"full"}


def test_a_fit_that_pulls_overtook_keeps_answers_of_what_it_fitted(
    fitted, fitter, next_pull, small_pulls
):
    """What came during the fit is no part of the look that it makes."""
    fitted.add_pulls(small_pulls[8:9], "day-2.csv")
    late = next_pull

    class Overtaken:
        def fit(self, campaign, pulls, **options):
            made = fitter.fit(campaign, pulls)
            fitted.add_pulls([late], "meanwhile")
            return made

    fits.fit(fitted, fitter=Overtaken())
    newest = [one for one in fitted.stored_answers() if one.summary.posterior.pulls == 8]
    assert {one.summary.posterior.state for one in newest} == {"full"}
    assert len(newest) == 4
    assert set(states(fitted)) == {"quick"}


# --- a fit that ends while an answer is worked out ------------------------------------------


class Reading:
    """What happens once, right before draws are read; and whether the newest are, as by mistake."""

    def __init__(self):
        self.before, self.is_newest = [], False


@pytest.fixture
def reading(monkeypatch):
    real, found = Store.posterior, Reading()

    def posterior(store, identity):
        if found.before:
            found.before.pop()()
        return real(store, store.newest_stored().id if found.is_newest else identity)

    monkeypatch.setattr(Store, "posterior", posterior)
    return found


@pytest.mark.parametrize(("is_newest", "counted"), [(False, 8), (True, 9)])
def test_a_pull_is_counted_once_though_a_fit_ends_meanwhile(
    is_newest, counted, fitted, fitter, next_pull, reading
):
    fitted.add_pulls([next_pull], "by hand")
    reading.is_newest = is_newest
    reading.before.append(lambda: fits.fit(fitted, fitter=fitter))
    found = answers.ask(fitted, fitted.campaign().questions[0]).summary.posterior
    assert (found.state, found.pulls) == ("quick", counted)


@pytest.mark.parametrize("is_newest", [False, True])
def test_a_full_answer_is_kept_under_the_name_of_its_fit(
    is_newest, fitted, fitter, next_pull, reading
):
    first, campaign = fitted.newest_stored(), fitted.campaign()
    more = campaign.questions[0].model_copy(update={"name": "asked later"})
    fitted.replace_campaign(campaign.model_copy(update={"questions": (*campaign.questions, more)}))
    fitted.add_pulls([next_pull], "by hand")
    reading.is_newest = is_newest
    reading.before.append(lambda: fits.fit(fitted, fitter=fitter))
    assert answers.record_standing(fitted) == 1
    kept = [one.summary.posterior for one in fitted.stored_answers() if one.question == more]
    assert ((first.id, 7) in [(one.id, one.pulls) for one in kept]) is not is_newest


def _two_fits(store, fitter, pull):
    for code in ("41", "42"):
        store.add_pulls([pull.model_copy(update={"code": code})], "meanwhile")
        fits.fit(store, fitter=fitter)


@pytest.mark.parametrize("look", ["one question", "all standing ones"])
def test_where_two_fits_end_meanwhile_it_is_looked_anew(look, fitted, fitter, next_pull, reading):
    fitted.add_pulls([next_pull], "by hand")
    reading.before.append(lambda: _two_fits(fitted, fitter, next_pull))
    if look == "one question":
        found = [answers.ask(fitted, fitted.campaign().questions[0]).summary]
    else:
        found = [one.outcome for one in answers.standing(fitted)]
    assert {(one.posterior.state, one.posterior.pulls) for one in found} == {("full", 10)}


def test_unless_it_were_the_draws_would_be_gone(fitted, fitter, next_pull, reading, monkeypatch):
    monkeypatch.setattr(answers, "anew_where_gone", lambda look: look())
    fitted.add_pulls([next_pull], "by hand")
    reading.before.append(lambda: _two_fits(fitted, fitter, next_pull))
    with pytest.raises(DrawsGone):
        answers.ask(fitted, fitted.campaign().questions[0])


# --- what moved ----------------------------------------------------------------------------


def test_what_moved_is_said_and_kept(fitted, next_pull, monkeypatch):
    added, moves = storing(fitted, lambda: fitted.add_pulls([next_pull], "by hand"))
    assert added.added == 1
    assert [one.question.name for one in moves] == [
        question.name for question in fitted.campaign().questions
    ]
    for one in moves:
        assert (one.before.posterior.state, one.after.posterior.state) == ("full", "quick")
    # Kept: the next one who asks needs no draws.
    monkeypatch.setattr(Store, "posterior", _no_draws)
    assert [one.outcome for one in answers.standing(fitted)] == [one.after for one in moves]


def _no_draws(*_):
    raise AssertionError("the draws were read")


def test_unless_it_was_kept_the_draws_would_be_read(fitted, next_pull, monkeypatch):
    monkeypatch.setattr(moved, "keep_quick", lambda *_: None)
    storing(fitted, lambda: fitted.add_pulls([next_pull], "by hand"))
    monkeypatch.setattr(Store, "posterior", _no_draws)
    with pytest.raises(AssertionError, match="the draws were read"):
        answers.standing(fitted)


def test_nothing_new_moves_nothing(fitted, next_pull):
    _, moves = storing(fitted, lambda: fitted.add_pulls([], "empty.csv"))
    assert moves == ()


def test_before_the_first_fit_there_is_nothing_to_move(filled, next_pull):
    added, moves = storing(filled, lambda: filled.add_pulls([next_pull], "by hand"))
    assert (added.added, moves) == (1, ())


def test_why_a_question_waits_is_kept_too(filled, fitter, next_pull, monkeypatch):
    fits.fit(filled, fitter=fitter)  # forty draws
    _, moves = storing(filled, lambda: filled.add_pulls([next_pull], "by hand"))
    assert all(one.waits_because for one in moves)
    before = [one.outcome for one in answers.standing(filled)]
    monkeypatch.setattr(Store, "posterior", _no_draws)
    assert [one.outcome for one in answers.standing(filled)] == before


def test_damaged_draws_do_not_take_the_stored_pull_with_them(fitted, next_pull):
    for path in (fitted.folder / "posteriors").iterdir():
        path.write_bytes(b"no draws")
    added, moves = storing(fitted, lambda: fitted.add_pulls([next_pull], "by hand"))
    assert added.added == 1
    assert all(not isinstance(one.after, AnswerSummary) for one in moves)
    with pytest.raises(KedgewiseError):
        answers.ask(fitted, fitted.campaign().questions[0])


def test_without_weighing_new_pulls_would_wait(fitted, next_pull, small_campaign, monkeypatch):
    monkeypatch.setattr(
        "model.questions.quick.weigh_in",
        lambda *_: Withheld(reason="r", pareto_k=1.0, effective_draws=1.0),
    )
    fitted.add_pulls([next_pull], "by hand")
    found = answers.ask(fitted, small_campaign.questions[0]).summary
    assert (found.posterior.state, waits_because(found)) == ("full", "r")


TROUBLES = [KedgewiseError("no answers today", hint="h"), ValueError("a fault"), MemoryError()]


@pytest.mark.parametrize("trouble", TROUBLES, ids=lambda one: type(one).__name__)
def test_trouble_with_the_answers_does_not_make_a_stored_pull_look_lost(
    trouble, fitted, next_pull, monkeypatch, caplog
):
    def fail(*_):
        raise trouble

    monkeypatch.setattr(moved, "standing_at", fail)
    added, moves = storing(fitted, lambda: fitted.add_pulls([next_pull], "by hand"))
    assert (added.added, moves) == (1, ())
    assert "what moved is not known" in caplog.text


def test_trouble_with_the_look_before_does_not_stop_a_pull(fitted, next_pull, monkeypatch):
    def fail(*_):
        raise ValueError("a fault")

    monkeypatch.setattr(Store, "mark", fail)
    added, moves = storing(fitted, lambda: fitted.add_pulls([next_pull], "by hand"))
    assert (added.added, moves) == (1, ())


def test_no_answer_is_worked_out_before_the_pull_is_stored(fitted, next_pull, monkeypatch):
    known, real = [], moved.standing_at

    def look(*arguments):
        known.append(next_pull.id in {pull.id for pull in fitted.pulls()})
        return real(*arguments)

    monkeypatch.setattr(moved, "standing_at", look)
    storing(fitted, lambda: fitted.add_pulls([next_pull], "by hand"))
    assert known == [True, True]


@pytest.mark.parametrize("is_of_its_facts", [True, False])
def test_what_another_stored_meanwhile_is_not_taken_for_known(
    is_of_its_facts, fitted, next_pull, monkeypatch
):
    real, keep = moved.standing_at, moved.keep_quick
    late = next_pull.model_copy(update={"code": "32"})

    def overtaken(store, stored, facts):
        found = real(store, stored, facts)
        store.add_pulls([late], "another's")
        return found

    monkeypatch.setattr(moved, "standing_at", overtaken)
    if not is_of_its_facts:
        monkeypatch.setattr(
            moved, "keep_quick", lambda store, _, found: keep(store, store.facts(), found)
        )
    storing(fitted, lambda: fitted.add_pulls([next_pull], "by hand"))
    assert {one.outcome.posterior.pulls for one in answers.standing(fitted)} == {
        9 if is_of_its_facts else 8
    }


def test_a_quick_answer_of_an_older_fit_is_not_kept_as_one_of_the_newest(
    fitted, fitter, next_pull, reading
):
    """A fit of what was there before ends while the answers of a new pull are worked out."""
    fitted.add_pulls([next_pull], "by hand")
    facts = fitted.facts()

    def end_fit():
        posterior = fitter.fit(facts.campaign, facts.pulls)
        fitted.save_posterior(posterior, mark=facts.mark)

    reading.before.append(end_fit)
    late = next_pull.model_copy(update={"code": "32"})
    storing(fitted, lambda: fitted.add_pulls([late], "by hand"))
    newest = fitted.newest_stored()
    assert newest.pulls == 8
    assert fitted.trail([fingerprint_of(fitted.facts())], fitted.campaign().questions) == ()
    assert {one.outcome.posterior.id for one in answers.standing(fitted)} == {newest.id}


@pytest.mark.parametrize("is_by_fit", [True, False])
def test_a_quick_answer_of_the_fit_before_does_not_stand_for_the_newest(
    is_by_fit, fitted, fitter, next_pull, monkeypatch
):
    """Kept while a fit ran that does not know its pull: it ends, and its draws tell anew."""
    fitted.add_pulls([next_pull], "by hand")
    late = next_pull.model_copy(update={"code": "32"})

    class Overtaken:
        def fit(self, campaign, pulls, **options):
            storing(fitted, lambda: fitted.add_pulls([late], "meanwhile"))
            return fitter.fit(campaign, pulls)

    before = fitted.newest_stored().id
    fits.fit(fitted, fitter=Overtaken())
    if not is_by_fit:
        _rename_fits(monkeypatch, fitted.newest_stored().id)
    found = {one.outcome.posterior.id for one in answers.standing(fitted)}
    assert found == {fitted.newest_stored().id if is_by_fit else before}


def _rename_fits(monkeypatch, name):
    """As if nobody looked which fit a point is of."""
    real = Store.trail
    monkeypatch.setattr(
        Store,
        "trail",
        lambda *asked: tuple(dataclasses.replace(point, fit=name) for point in real(*asked)),
    )
