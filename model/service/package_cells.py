"""What cells of a package mean, and what is wrong with one in words that a tester can follow."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Final

from pydantic import ValidationError

from model.ingest.known_names import shown

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


def require_described(
    headings: Sequence[str], described: Collection[str], name: str, descriptor: str
) -> None:
    """Refuse a table with a column that its descriptor does not list, or that stands twice.

    Raises
    ------
    ValueError
        Naming the first such column.
    """
    more = next((heading for heading in headings if heading not in described), None)
    if more is not None:
        raise ValueError(f"{name} has a column {shown(more)}, which {descriptor} does not list")
    twice = next((heading for heading, count in Counter(headings).items() if count > 1), None)
    if twice is not None:
        raise ValueError(f"{name} has the column {shown(twice)} twice")


def fault_words(error: Exception, *, whole: str = "the campaign") -> str:
    """What reading ended in, shortly and without the words of a library.

    Parameters
    ----------
    whole : str
        What was read, for a fault of all of it.
    """
    if isinstance(error, ValidationError):
        first = error.errors(include_url=False)[0]
        place = ".".join(str(part) for part in first["loc"]) or whole
        if first["type"] == "json_invalid":
            return f"{whole} is no JSON ({first['msg'].removeprefix('Invalid JSON: ')[:80]})"
        if first["type"] == "extra_forbidden":
            return f"it has {place[:80]!r}, of which this version knows nothing: of a newer one?"
        return f"{place[:80]}: {first['msg'].removeprefix('Value error, ')}"
    if isinstance(error, KeyError):
        return f"it lacks {str(error.args[0])[:40]!r}"
    if isinstance(error, RecursionError):
        return "it is nested deeper than can be read"
    return str(error) or "it is not as this program writes one"
