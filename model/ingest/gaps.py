"""Gaps that a drafted campaign file leaves: each is a fault until somebody has filled it in."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from model.base.errors import Fault
from model.ingest.toml_keys import Place

GAP: Final = "TO FILL IN"
"""Stands as the value of what only a person knows."""


def gap_faults(value: object, place: Place, text: str) -> Iterator[Fault]:
    """Gaps in a table of a campaign file, or in what it holds, each with what belongs there.

    Parameters
    ----------
    text : str
        Of the file, whose comment beside a gap says what belongs there.
    """
    lines = text.split("\n")
    left = [(value, place)]
    while left:  # one by one: tables may be nested deeper than functions can call themselves
        inner, here = left.pop()
        if inner == GAP:
            yield _gap(here, lines)
        elif isinstance(inner, Mapping):
            left += [(each, here.inside(key)) for key, each in inner.items()]
        elif isinstance(inner, list):
            left += [(each, here.inside(index)) for index, each in enumerate(inner)]


def _gap(place: Place, lines: Sequence[str]) -> Fault:
    line = place.fault("", "").line
    beside = lines[line - 1].partition("#")[2].strip() if line else ""
    return place.fault("still to be filled in", f"Write {beside}" if beside else "Write its value")
