"""A user's own words on a page: shown as text, never as markup.

Streamlit renders most strings as Markdown with additions: ``$`` for formulas,
``:red[...]`` for colours, ``:material/...:`` and ``:name:`` for icons, arrows for
``->``, links for anything like an address. A name or a note goes through
:func:`as_text` before it stands in any of them. Places that show plain text
(selectbox options, dataframe cells) take it as it is.
"""

import re
from typing import Final

JOINER: Final = "\u2060"
"""Word joiner, invisible: breaks what is replaced *after* backslashes are taken out
(icons, arrows, bare addresses), where escaping alone would let it through."""

ID_SHOWN: Final = 8
"""Characters of a posterior's identity that are enough to tell two apart."""

_PUNCTUATION: Final = re.compile(r"([!-/:-@\[-`{-~])")
_AFTER_PARSING: Final = re.compile(r"(<->|->|<-|--|>=|<=|~=|:|@|www(?=\.))", re.IGNORECASE)
_CONTROL: Final = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]+")


def _broken(match: re.Match[str]) -> str:
    found = match.group(0)
    return JOINER.join(found) if len(found) > 1 else found + JOINER


def on_one_line(text: str) -> str:
    """The text without line breaks, control characters and direction overrides."""
    return _CONTROL.sub(" ", text).strip()


def as_text(text: str) -> str:
    """Markdown that shows `text` exactly as it reads, on one line.

    Parameters
    ----------
    text : str
        Anything a user may have typed.

    Returns
    -------
    str
        Every ASCII punctuation mark escaped, and a word joiner wherever a later
        pass over the finished text would replace something.
    """
    return _as_text(on_one_line(text))


def _as_text(line: str) -> str:
    return _PUNCTUATION.sub(r"\\\1", _AFTER_PARSING.sub(_broken, line))


def as_hint(text: str) -> str:
    """Like :func:`as_text`, but what stands between backticks is shown as a command.

    For hints of our own, which name commands; a stray backtick is shown as it is.
    """
    parts = on_one_line(text).split("`")
    if len(parts) % 2 == 0:
        return as_text(text)
    return "".join(
        f"`{part}`" if place % 2 and part.strip() else _as_text(part)
        for place, part in enumerate(parts)
    )


def as_prose(text: str) -> str:
    """Like :func:`as_text`, for sentences of our own: a per cent sign stays with its number."""
    return as_text(text.replace(" %", "\u00a0%"))


def short_id(identity: str) -> str:
    """As much of an identity as a reader needs."""
    return identity[:ID_SHOWN]
