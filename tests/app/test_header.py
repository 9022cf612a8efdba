"""What the head of a page says of the fit behind its answers."""

import datetime as dt

from app.parts.header import HOW_TO_FIT, NO_WORKER, posterior_words, worker_words
from app.shown import Overview
from model.base.errors import StoreError
from model.records.answer import PosteriorSummary
from model.service.worker_state import WorkerState

FITTED = PosteriorSummary(id="0123456789abcdef", state="full", pulls=15, fit_check="passed")


def _overview(campaign, **what):
    return Overview(**{"campaign": campaign, "used_pulls": 15, "void_pulls": 0,
                       "posterior": FITTED} | what)  # fmt: skip


def test_pulls_that_wait_are_counted(small_campaign):
    assert "since" not in posterior_words(_overview(small_campaign))
    words = posterior_words(_overview(small_campaign, used_pulls=17))
    assert words.startswith("answers rest on 15 pulls")
    assert "2 pulls since, in answers marked quick" in words


def test_a_campaign_that_was_changed_is_said(small_campaign):
    assert "has changed since" in posterior_words(_overview(small_campaign, has_changed=True))


def test_before_the_first_fit(small_campaign):
    assert posterior_words(_overview(small_campaign, posterior=None)) == "no fit yet"


def test_who_has_a_worker_or_nothing_to_fit_need_not_ask_for_a_fit(small_campaign):
    up_to_date = _overview(small_campaign)
    assert worker_words(None, up_to_date) == NO_WORKER
    for what in ({"used_pulls": 17}, {"has_changed": True}, {"posterior": None}):
        found = _overview(small_campaign, **what)
        assert HOW_TO_FIT not in worker_words(_state(), found)
        assert HOW_TO_FIT in worker_words(None, found)
        assert HOW_TO_FIT not in posterior_words(found)


def _state(doing="idle", **more):
    now = dt.datetime(2026, 5, 4, 12, 0, tzinfo=dt.UTC)
    return WorkerState(pid=1, started_at=now, beat_at=now, doing=doing, **more)


def test_what_the_worker_does_is_said(small_campaign):
    found = _overview(small_campaign)
    fitting = _state("fitting", pulls=93, share=0.4)
    assert worker_words(fitting, found) == "fitting 93 pulls\\, 40\u00a0\\%"
    assert worker_words(_state(), found) == "waiting for new pulls"


def test_words_of_an_error_are_no_markup(small_campaign, require_no_markup):
    hostile = _state("waiting", detail="<b> :red[x] ![p](y) a -> b")
    require_no_markup([worker_words(hostile, _overview(small_campaign))])


def _captions(at):
    return " ".join(element.value for element in at.caption)


def test_every_page_says_what_the_worker_does(page, made_up_data):
    assert "no worker runs" in _captions(page("pulls"))
    made_up_data.at_work = _state("fitting", pulls=15, share=0.4)
    said = _captions(page("pulls"))
    assert "fitting 15 pulls" in said
    assert "no worker runs" not in said


def test_with_news_the_page_is_drawn_anew(page, made_up_data, monkeypatch):
    """The head looks again by itself; what it finds new renews the answers below."""
    from app import data

    drawn, real, news = [], made_up_data.overview, []

    def overview():
        drawn.append(1)
        return real()

    monkeypatch.setattr(data, "overview", overview)
    monkeypatch.setattr(data, "news", lambda: news.pop() if news else made_up_data.seen)
    page()
    without_news = len(drawn)
    news.append("newer")
    page()
    assert len(drawn) > 2 * without_news


def test_a_store_that_is_gone_while_a_page_is_shown_is_said(page, made_up_data, monkeypatch):
    from app import data

    def gone():
        raise StoreError("there is no store any more", hint="Put it back.")

    monkeypatch.setattr(data, "news", gone)
    at = page()
    assert not at.exception
    assert "there is no store any more" in at.error[0].value


def test_who_cannot_run_a_fit_is_not_told_to(small_campaign, monkeypatch):
    from app import data

    waiting = _overview(small_campaign, used_pulls=17)
    assert HOW_TO_FIT in worker_words(None, waiting)
    monkeypatch.setattr(data, "may_change", lambda: False)
    assert worker_words(None, waiting) == NO_WORKER
