"""What the head of a page says of the fit behind its answers."""

from app.parts.header import HOW_TO_FIT, posterior_words
from app.shown import Overview
from model.records.answer import PosteriorSummary

FITTED = PosteriorSummary(id="0123456789abcdef", state="full", pulls=15, fit_check="passed")


def _overview(campaign, **what):
    return Overview(**{"campaign": campaign, "used_pulls": 15, "void_pulls": 0,
                       "posterior": FITTED} | what)  # fmt: skip


def test_a_fit_that_is_up_to_date_asks_for_nothing(small_campaign):
    words = posterior_words(_overview(small_campaign))
    assert words.startswith("answers rest on 15 pulls")
    assert HOW_TO_FIT not in words


def test_pulls_that_wait_are_counted(small_campaign):
    words = posterior_words(_overview(small_campaign, used_pulls=17))
    assert "2 pulls since: in answers marked quick" in words
    assert HOW_TO_FIT in words


def test_a_campaign_that_was_changed_is_said(small_campaign):
    words = posterior_words(_overview(small_campaign, has_changed=True))
    assert "has changed since" in words
    assert HOW_TO_FIT in words


def test_before_the_first_fit(small_campaign):
    assert posterior_words(_overview(small_campaign, posterior=None)).startswith("no fit yet")
