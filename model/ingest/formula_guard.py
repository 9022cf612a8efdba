"""Text cells that a spreadsheet would run as a formula, made harmless and back.

A cell that begins with = + - @, or with their wide forms, or with a tab or the end
of a line is a formula to one spreadsheet or another. The writer puts an apostrophe
before it, the reader takes that one off again; what already looks guarded gets one
more, so that every text reads back as it was.
"""

import re
from typing import Final

GUARD: Final = "'"
_STARTS: Final = r"[=+\-@\uff1d\uff0b\uff0d\uff20\t\r\n]"
_DANGEROUS: Final = re.compile(f"'*{_STARTS}")
_GUARDED: Final = re.compile(f"'+{_STARTS}")


def guarded(text: str) -> str:
    """The text as a cell that no spreadsheet runs."""
    return GUARD + text if _DANGEROUS.match(text) else text


def unguarded(cell: str) -> str:
    """The text that :func:`guarded` was given."""
    return cell[1:] if _GUARDED.match(cell) else cell
