"""Names as people write them: matched kindly, refused with a suggestion."""

import unicodedata
from collections.abc import Sequence
from difflib import get_close_matches
from typing import Final

SHOWN_NAMES: Final = 12
"""Known names listed in a remedy; a longer list hides the suggestion before it."""

SHOWN_CHARACTERS: Final = 60
"""Characters of a faulty cell that are shown; what is cut is marked."""
UNSEEN: Final = "Cf"
"""Category of signs that only shape the text around them; in a name they hide what it is."""


def visible(name: str) -> str:
    """A name without signs that are not seen themselves, as those that turn the writing round."""
    return "".join(sign for sign in name if unicodedata.category(sign) != UNSEEN)


def plain(name: str) -> str:
    """A name without regard to case, to the number of spaces, and to how its signs are coded.

    What no eye can tell apart is alike: composed or not, wide or narrow, with or without
    format characters between.
    """
    once = unicodedata.normalize("NFKC", visible(name)).casefold()
    folded = unicodedata.normalize("NFKC", once)
    return " ".join(folded.split())


def find_name(written: str, known: Sequence[str]) -> str | None:
    """The known name that was written: exactly, else the only one alike; see :func:`plain`."""
    if written in known:
        return written
    alike = [name for name in known if plain(name) == plain(written)]
    return alike[0] if len(alike) == 1 else None


def suggestion(written: str, known: Sequence[str], listed: Sequence[str] | None = None) -> str:
    """What could have been meant, and what is known, as a remedy.

    Parameters
    ----------
    written : str
        The name that is not known.
    known : sequence of str
        Names it could have been.
    listed : sequence of str or None
        Names to list; all of `known` unless given.
    """
    if not known:
        return "The campaign names none"
    listed = known if listed is None else listed
    by_plain = {plain(name): name for name in known}
    close = get_close_matches(plain(written), list(by_plain), n=1, cutoff=0.6)
    meant = f"Did you mean {by_plain[close[0]]!r}? " if close else ""
    more = "" if len(listed) <= SHOWN_NAMES else f" and {len(listed) - SHOWN_NAMES} more"
    return f"{meant}Known: {', '.join(listed[:SHOWN_NAMES])}{more}"


def shown(text: str) -> str:
    """A cell's text in quotes, cut where it is long, fit for one line."""
    return repr(text if len(text) <= SHOWN_CHARACTERS else f"{text[:SHOWN_CHARACTERS]}…")
