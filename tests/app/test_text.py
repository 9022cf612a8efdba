import string
import unicodedata

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.style.text import JOINER, as_hint, as_prose, as_text, on_one_line

NASTY = [
    "<script>alert(1)</script>",
    "<img src='http://example.invalid/x.png'>",
    "![picture](http://example.invalid/x.png)",
    "[link](http://example.invalid)",
    "www.example.invalid",
    "someone@example.invalid",
    "$\\frac{1}{2}$ and $$x$$",
    ":material/anchor:",
    ":red[alarm] :blue-background[x] :small[y] :badge[z]",
    ":smile: :streamlit:",
    "a -> b <- c <-> d -- e >= f <= g ~= h",
    "# heading",
    "1. list",
    "- item",
    "> quote",
    "    code",
    "`code` and ```fence```",
    "**bold** _slant_ ~~gone~~",
    "a | b\n--|--\n1 | 2",
    "&amp; &#60;",
    "back\\slash",
    "line one\nline two\r\n\ttabbed",
    "\u202eesrever",
]


def read_back(markdown):
    """What Markdown shows for text in which every punctuation mark is escaped."""
    shown, escaped = [], False
    for sign in markdown:
        if sign == "\\" and not escaped:
            escaped = True
            continue
        if not escaped and sign in string.punctuation:
            raise AssertionError(f"{sign!r} stands bare in {markdown!r}")
        shown.append(sign)
        escaped = False
    return "".join(shown).replace(JOINER, "")


@pytest.mark.parametrize("text", NASTY)
def test_nasty_text_reads_as_it_is(text):
    assert read_back(as_text(text)) == on_one_line(text)


@given(st.text())
def test_any_text_reads_as_it_is(text):
    assert read_back(as_text(text)) == on_one_line(text).replace(JOINER, "")


@pytest.mark.parametrize(
    "pattern", [":material/", "->", "<-", "--", ">=", "<=", "~=", "://", "www.", "@e", ":smile"]
)
def test_what_is_replaced_after_parsing_is_broken_up(pattern):
    for text in NASTY:
        assert pattern not in as_text(text).replace("\\", "")


def test_without_the_joiner_an_icon_would_come_through(monkeypatch):
    monkeypatch.setattr("app.style.text.JOINER", "")
    assert ":material/" in as_text(":material/anchor:").replace("\\", "")


@given(st.text())
def test_one_line_holds_no_control_signs(text):
    found = {unicodedata.category(sign) for sign in on_one_line(text)}
    assert not found & {"Cc", "Zl", "Zp"}


def test_a_per_cent_sign_stays_with_its_number():
    assert as_prose("it is likely (88 %), 8 % higher") == as_text(
        "it is likely (88\u00a0%), 8\u00a0% higher"
    )


def test_hints_show_commands_as_code():
    assert as_hint("Run `kedgewise fit` again.") == "Run `kedgewise fit` again\\."


def test_a_stray_backtick_in_a_hint_is_shown():
    assert as_hint("a ` b") == "a \\` b"


def test_what_stands_outside_the_backticks_of_a_hint_is_escaped():
    assert as_hint("name :red[x], `run`") == f"name \\:{JOINER}red\\[x\\]\\, `run`"


def test_a_table_behind_a_picture_is_guarded_for_spreadsheets(monkeypatch):
    from app.parts import pictures

    shown = []
    monkeypatch.setattr(pictures.st, "dataframe", lambda table, **_: shown.append(table))
    table = pd.DataFrame({"anchor": ["=1+1", "S6"], "pulls": [1, 2], "load": [-1.5, 2.0]})
    pictures.show_table_behind(table, "Table")
    assert shown[0].to_dict("list") == {
        "anchor": ["'=1+1", "S6"],
        "pulls": [1, 2],
        "load": [-1.5, 2.0],
    }
    monkeypatch.setattr(pictures, "guarded", lambda text: text)
    pictures.show_table_behind(table, "Table")
    assert shown[1]["anchor"][0] == "=1+1"  # without the guard it would run
