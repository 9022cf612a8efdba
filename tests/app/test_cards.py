"""A card fails alone. The scripts below run inside Streamlit's test harness."""

import logging

from streamlit.testing.v1 import AppTest

from app.style.cards import UNFORESEEN


def a_page_with_a_broken_card(error):
    import streamlit as st

    from app.style.cards import card

    with card():
        st.markdown("before")
        raise error
    with card():
        st.markdown("after")


def shown(at):
    return [element.value for element in at.markdown]


def run(script, **values):
    return AppTest.from_function(script, kwargs=values, default_timeout=60).run()


def test_a_known_error_shows_its_message_and_hint():
    from model.base.errors import FitFailed

    at = run(a_page_with_a_broken_card, error=FitFailed("12 divergences", hint="Run `it` again."))
    assert [error.value for error in at.error] == ["**Failed:** 12 divergences"]
    assert shown(at) == ["before", "Run `it` again\\.", "after"]
    assert not at.exception


def test_a_known_error_is_no_line_in_the_terminal(caplog):
    """A slip in a form, on any paired device, is one."""
    from model.base.errors import InputError

    with caplog.at_level(logging.INFO):
        run(a_page_with_a_broken_card, error=InputError("1 fault: a slip"))
    [level] = [one.levelno for one in caplog.records if "1 fault: a slip" in one.getMessage()]
    assert level == logging.INFO


def test_an_unforeseen_error_says_no_more_and_is_logged(caplog):
    with caplog.at_level(logging.ERROR):
        at = run(a_page_with_a_broken_card, error=ValueError("secret path"))
    assert UNFORESEEN[:-1] in at.error[0].value
    assert "secret path" not in at.error[0].value
    assert "after" in shown(at)
    assert "secret path" in caplog.text


def test_without_the_guard_the_page_would_end_there(monkeypatch):
    from app.style.cards import Guarded

    monkeypatch.setattr(Guarded, "_show", lambda self, error: False)
    at = run(a_page_with_a_broken_card, error=ValueError("boom"))
    assert at.exception
    assert "after" not in shown(at)


def test_stopping_a_script_passes_through():
    def script():
        import streamlit as st

        from app.style.cards import card

        with card():
            st.stop()
        st.markdown("after")

    at = run(script)
    assert not at.error
    assert not shown(at)


def test_a_message_of_several_lines_keeps_them():
    from model.base.errors import InputError

    at = run(a_page_with_a_broken_card, error=InputError("two faults:\n  first\n  second"))
    assert at.error[0].value == "**Failed:** two faults\\:\u2060  \nfirst  \nsecond"


def test_not_yet_is_a_card_and_no_error():
    def script():
        from app.style.cards import card, show_not_yet
        from model.records.answer import NotYet

        with card():
            show_not_yet(NotYet(question="q", reason="too few :red[pulls]", hint="Pull more"))

    at = run(script)
    assert not at.error
    assert "**Not yet:** too few \\:" in at.info[0].value
    assert shown(at) == ["Pull more"]
