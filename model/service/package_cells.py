"""What cells of a package mean, and what is wrong with one in words that a tester can follow."""

from collections.abc import Collection, Iterable, Mapping
from typing import Final

from pydantic import ValidationError

TRUTHS: Final = {"true": True, "false": False}
"""Table Schema's own words; spreadsheets write them in capitals."""


def truth(row: Mapping[str, str], column: str) -> bool:
    """Whether a cell says true.

    Raises
    ------
    ValueError
        If it says neither true nor false: a guess would bring a pull back, or take one out.
    """
    cell = row[column]
    found = TRUTHS.get(cell.strip().casefold())
    if found is None:
        raise ValueError(f"{column} is {cell[:40]!r}, and neither true nor false")
    return found


def require_columns(headings: Collection[str], wanted: Iterable[str], name: str) -> None:
    """Refuse a table without a column; an emptied file would read as one without pulls.

    Raises
    ------
    ValueError
        Naming each column that is missing.
    """
    missing = [column for column in wanted if column not in headings]
    if missing:
        raise ValueError(f"{name} has no column {', '.join(missing)}")


def fault_words(error: Exception) -> str:
    """What reading ended in, shortly and without the words of a library."""
    if isinstance(error, ValidationError):
        first = error.errors(include_url=False)[0]
        place = ".".join(str(part) for part in first["loc"]) or "the campaign"
        if first["type"] == "extra_forbidden":
            return f"it has {place[:80]!r}, of which this version knows nothing: of a newer one?"
        return f"{place[:80]}: {first['msg'].removeprefix('Value error, ')}"
    if isinstance(error, KeyError):
        return f"it lacks {str(error.args[0])[:40]!r}"
    if isinstance(error, RecursionError):
        return "it is nested deeper than can be read"
    return str(error) or "it is not as this program writes one"
