"""The tree of errors that a user may meet, each with a hint that says what to do.

"Not yet" is a value, not an error; see :class:`model.records.answer.Finding`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

EXIT_OTHER: Final = 1
EXIT_BAD_INPUT: Final = 2
EXIT_FIT_FAILED: Final = 3

PRINTED_FAULTS: Final = 50
"""Faults that a message spells out; beyond it a reader stops reading, so the rest are counted."""

PRINTED_LINES: Final = 5
"""Lines that are named of those with the same fault."""


class KedgewiseError(Exception):
    """Base of every error that is meant for a user's eyes.

    Parameters
    ----------
    message : str
        What was found, and where.
    hint : str
        What the user can do about it.
    """

    exit_code: int = EXIT_OTHER

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message}\n  {self.hint}" if self.hint else self.message


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One thing wrong in one place of a file.

    Parameters
    ----------
    source : str
        File name.
    line : int or None
        Line as an editor counts it (the header is line 1).
    column : str or None
        Heading of the column, or path of the key in a campaign file.
    found : str
        What stands there, as it stands there.
    remedy : str
        What would do instead.
    """

    source: str
    line: int | None
    column: str | None
    found: str
    remedy: str

    def __str__(self) -> str:
        where = [self.source]
        if self.line is not None:
            where.append(f"line {self.line}")
        if self.column is not None:
            where.append(self.column)
        return f"{', '.join(where)}: {self.found}. {self.remedy}"


class InputError(KedgewiseError):
    """Something the user gave cannot be used; nothing of it was stored."""

    exit_code = EXIT_BAD_INPUT


class FaultyFile(InputError):
    """A file with one fault or more, all of them in `faults`.

    The message spells out the first ones; the same fault on many lines is said once.
    """

    def __init__(self, faults: Sequence[Fault], *, hint: str = "") -> None:
        count = f"{len(faults)} fault" + ("" if len(faults) == 1 else "s")
        alike = _alike(faults)
        lines = "\n".join(_lines_of(group) for group in alike[:PRINTED_FAULTS])
        if len(alike) > PRINTED_FAULTS:
            lines += f"\n  and {sum(len(group) for group in alike[PRINTED_FAULTS:])} more"
        hint = hint or "Nothing of this file was stored. Put these right and import it again."
        super().__init__(f"{count}:\n{lines}", hint=hint)
        self.faults = tuple(faults)


def _alike(faults: Sequence[Fault]) -> list[list[Fault]]:
    """Faults that differ in their line only, in the order of the first of each kind."""
    groups: dict[Fault, list[Fault]] = {}
    for fault in faults:
        groups.setdefault(replace(fault, line=None), []).append(fault)
    return list(groups.values())


def _lines_of(group: Sequence[Fault]) -> str:
    first, *others = group
    if not others:
        return f"  {first}"
    s = "" if len(others) == 1 else "s"
    lines = [str(fault.line) for fault in others if fault.line is not None]
    named = f": line{s} {', '.join(lines[:PRINTED_LINES])}" if lines else ""
    more = " …" if len(lines) > PRINTED_LINES else ""
    return f"  {first}\n    and {len(others)} more row{s} like this{named}{more}"


class KnownPull(InputError):
    """A new pull under a number that its outing has already; nothing of it was stored.

    Parameters
    ----------
    is_removed : bool
        Whether the pull of that number was taken out.
    is_same : bool
        Whether it is the same pull word for word, as of a second tap on the same button.
    """

    def __init__(
        self, message: str, *, hint: str = "", is_removed: bool = False, is_same: bool = False
    ) -> None:
        super().__init__(message, hint=hint)
        self.is_removed, self.is_same = is_removed, is_same


class UnknownName(InputError):
    """A name that the campaign does not know."""


class StoreError(KedgewiseError):
    """The store cannot be opened, read or written."""


class StoreBusy(StoreError):
    """Another program is at it; the same step may be repeated when that is done."""


class StoreReadOnly(StoreError):
    """A folder or a file of a store that may be read and not be written."""


class StoreDamaged(StoreError):
    """A store whose content cannot be what was stored; nothing but a safe copy helps."""


class DrawsGone(StoreError):
    """A posterior's draws that were given up for newer ones; the newest answer in their place."""


class StoreTooNew(StoreError):
    """A store whose tables a newer program made; this one must not write to it."""


class NoStore(StoreError):
    """There is no store where one was named."""

    exit_code = EXIT_BAD_INPUT


class FitFailed(KedgewiseError):
    """A fit ended without draws that may be used; the previous posterior stays."""

    exit_code = EXIT_FIT_FAILED


class FitStopped(KedgewiseError):
    """A fit was stopped before it ended, by nothing in its pulls; it may be tried again."""


class PosteriorInvalid(KedgewiseError):
    """Stored draws do not have the declared schema."""
