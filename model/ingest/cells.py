"""One cell's text to one value: numbers, choices, dates; each says what would do."""

import datetime as dt
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from types import MappingProxyType
from typing import Final

from model.base.constants import DATE_YEARS, MOST_BURIED_M, MOST_LOAD_KN
from model.base.units import to_kn, to_m
from model.ingest.known_names import plain, shown
from model.records.columns import DateOrder
from model.records.pull import BuriedRode, Ending, ModeSeen, Reading, Start

MAX_DECIMALS: Final = 40
"""More digits than any number has that a computer wrote."""

_MOST_M: Final = 1000.0
"""Most metres of a cell: the records take no more."""

_NUMBER: Final = re.compile(r"([+-]?)([0-9]{1,15})?(?:([.,])([0-9]*))?")
_DATE: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_DAY: Final = re.compile(r"([0-9]{1,2})[./-]([0-9]{1,2})[./-]([0-9]{4})")
_DAY_NUMBER: Final = re.compile(r"[2-6][0-9]{4}(\.[0-9]+)?")
_DATE_EXAMPLES: Final = {
    "year first": "year-month-day, as 2026-05-03",
    "day first": "day, month and year, as 03.05.2026, or 2026-05-03",
    "month first": "month, day and year, as 05/03/2026, or 2026-05-03",
}
_TO_ONE: Final = re.compile(r":0?1(:00)?$")
_TIME: Final = re.compile(r"[0-9]{1,2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,6})?)?")
_BURIED: Final = re.compile(r"(?P<sign>>=?|≥|<=?|≤)?\s*(?P<length>[^±]*)(?:±(?P<half>.*))?")


class CellFault(Exception):
    """What is wrong with a cell, and what would do; the reader adds where it stands."""

    def __init__(self, found: str, remedy: str) -> None:
        super().__init__(found)
        self.found = found
        self.remedy = remedy


@dataclass(frozen=True, kw_only=True)
class Style:
    """How a column writes its cells: its unit, and the file's decimal sign and order of dates."""

    unit: str = ""
    has_decimal_comma: bool = False
    date_order: DateOrder = "year first"


@dataclass(frozen=True, kw_only=True)
class Measured:
    """A number in SI or kN, with one unit of the last digit that was written."""

    value: float
    last_digit: float
    unit: str


CellReader = Callable[[str, Style], object]


def read_number(text: str, style: Style, *, least: float, most: float) -> Measured:
    """A plain decimal number: no exponent, no thousands sign, no unit behind it.

    Raises
    ------
    CellFault
        If it is no such number or lies outside ``least`` to ``most``.
    """
    match = _NUMBER.fullmatch(text)
    if match is None or not re.search("[0-9]", text):
        raise CellFault(f"{shown(text)} is not a number", "Write digits only, as 3.9")
    sign, whole, point, decimals = (part or "" for part in match.groups())
    if point == "," and not style.has_decimal_comma:
        raise CellFault(
            f"{shown(text)} has a decimal comma",
            "Write a point; or semicolons between the cells, or decimal_comma under [columns]",
        )
    if point == "." and style.has_decimal_comma and len(decimals) == len("000"):
        raise CellFault(
            f"{shown(text)} may be a thousand times as much", "Write it without a point"
        )
    if len(decimals) > MAX_DECIMALS:
        raise CellFault(f"{shown(text)} has too many decimals", "Write fewer")
    value = float(f"{sign}{whole or 0}.{decimals or 0}")
    if not least <= value <= most:
        raise CellFault(f"{shown(text)} is out of range", f"Write {least:g} to {most:g}")
    return Measured(value=value, last_digit=float(f"1e-{len(decimals)}"), unit=style.unit)


def plain_number(least: float, most: float) -> CellReader:
    """A reader of numbers without a unit."""

    def read(text: str, style: Style) -> float:
        return read_number(text, style, least=least, most=most).value

    return read


def whole_number(least: int, most: int) -> CellReader:
    """A reader of whole numbers."""

    def read(text: str, style: Style) -> int:
        value = read_number(text, style, least=least, most=most).value
        if value != int(value):
            raise CellFault(f"{shown(text)} is not whole", f"Write {least} to {most}")
        return int(value)

    return read


def _converted(text: str, style: Style, factor: float, most: float) -> Measured:
    """A number of the column's unit in kN or metres, from 0 to `most` of them."""
    found = read_number(text, style, least=0, most=most / factor)
    # At the very limit a conversion may round to just above it, which no record takes.
    value = min(found.value * factor, most)
    return Measured(value=value, last_digit=found.last_digit * factor, unit=found.unit)


def read_load(text: str, style: Style) -> Measured:
    """A load of the column's unit in kN, 0 to 1000 kN."""
    return _converted(text, style, to_kn(1.0, style.unit), MOST_LOAD_KN)


def read_length(text: str, style: Style, most_m: float = _MOST_M) -> Measured:
    """A length of the column's unit in metres, 0 to 1000 m unless told otherwise."""
    return _converted(text, style, to_m(1.0, style.unit), most_m)


def read_scope(text: str, style: Style) -> float:
    """A scope as ``5`` or ``5:1``; a spreadsheet takes that for a time, and writes ``05:01``."""
    return read_number(_TO_ONE.sub("", text), style, least=1, most=100).value


def read_buried(text: str, style: Style) -> BuriedRode:
    """Buried rode as ``0.6``, ``>0.9``, ``<0.2`` or ``0.63±0.05``, up to 100 m."""
    match = _BURIED.fullmatch(text.replace("+-", "±"))
    sign, written, half = match.group("sign", "length", "half") if match else (None, "", None)
    read = partial(read_length, style=style, most_m=MOST_BURIED_M)
    found = read((written or "").strip())
    if found.value <= 0 or (sign and half is not None):
        raise CellFault(
            f"{shown(text)} is no length", "Write 0.6, >0.9, or <0.2 where less than that was seen"
        )
    if sign:
        return BuriedRode(kind="less_than" if sign in "<=≤" else "at_least", length_m=found.value)
    width_m = found.last_digit if half is None else 2 * read(half.strip()).value
    if width_m <= 0:
        raise CellFault(f"{shown(text)} has no width", "Write the half width after ±, above 0")
    return BuriedRode(kind="reading", length_m=found.value, resolution_m=width_m)


def _word(text: str) -> str:
    """A word however it is spaced, hyphenated or capitalised."""
    return plain(text.replace("_", " ").replace("-", " "))


def choice(
    words: Mapping[str, StrEnum], also: Mapping[str, StrEnum] = MappingProxyType({})
) -> CellReader:
    """A reader of one of a few words, however spaced or capitalised.

    Parameters
    ----------
    words : mapping of str to StrEnum
        The words that a fault names.
    also : mapping of str to StrEnum
        Other words for the same, taken without a fault.
    """
    known = {_word(word): value for word, value in {**also, **words}.items()}

    def read(text: str, _style: Style) -> StrEnum:
        value = known.get(_word(text))
        if value is None:
            raise CellFault(f"{shown(text)} is none of its words", f"Write {', '.join(words)}")
        return value

    return read


read_ending: Final = choice({value.value.replace("_", " "): value for value in Ending})
read_start: Final = choice(
    {value.value.replace("_", " "): value for value in Start},
    also={
        "turn": Start.AFTER_TURN,
        **dict.fromkeys(
            ("slip", "re-set", "reset", "after re-set", "after reset", "after release"),
            Start.AFTER_SLIP,
        ),
    },
)
read_reading: Final = choice({value.value: value for value in Reading})
read_mode: Final = choice(
    {value.value: value for value in ModeSeen}, also={"on its side": ModeSeen.ON_SIDE}
)


def read_yes_no(text: str, _style: Style) -> bool:
    """``yes`` or ``no``."""
    word = plain(text)
    if word not in {"yes", "no"}:
        raise CellFault(f"{shown(text)} is neither yes nor no", "Write yes, no, or nothing")
    return word == "yes"


def read_signs(text: str, style: Style) -> dict[str, bool]:
    """Signs as ``marker under=yes|shank out=no``."""
    found: dict[str, bool] = {}
    seen: set[str] = set()
    for part in text.split("|"):
        name, equals, word = part.partition("=")
        if not equals or not name.strip():
            raise CellFault(
                f"{shown(part)} is no sign", "Write name=yes or name=no, with | between signs"
            )
        if plain(name) in seen:
            raise CellFault(f"the sign {shown(name.strip())} stands twice", "Write it once")
        seen.add(plain(name))
        found[name.strip()] = read_yes_no(word, style)
    return found


def dated(day: dt.date) -> dt.date:
    """The same day, if it is of a year in which somebody can have pulled.

    Raises
    ------
    CellFault
        If it is of another.
    """
    first, last = DATE_YEARS
    if not first <= day.year <= last:
        found = f"{day.isoformat()} is in the year {day.year}"
        raise CellFault(found, f"Write a day of the years {first} to {last}, as 2026-05-03")
    return day


def read_date(text: str, style: Style) -> dt.date:
    """A date as ``2026-05-03``, or in the order that the campaign says of its sheets."""
    try:
        if _DATE.fullmatch(text):
            return dated(dt.date.fromisoformat(text))
        match = _DAY.fullmatch(text) if style.date_order != "year first" else None
        if match:
            one, other, year = (int(part) for part in match.groups())
            day, month = (one, other) if style.date_order == "day first" else (other, one)
            return dated(dt.date(year, month, day))
    except ValueError:
        pass
    if _DAY_NUMBER.fullmatch(text):
        found = f"{shown(text)} is no date, but may be a spreadsheet's number of a day"
        raise CellFault(found, "Give its column a format of dates, or write it as 2026-05-03")
    example = _DATE_EXAMPLES[style.date_order]
    raise CellFault(f"{shown(text)} is no date", f"Write {example}")


def read_time(text: str, _style: Style) -> dt.time:
    """A time of day as ``09:10`` or ``09:10:30``."""
    try:
        if _TIME.fullmatch(text):
            return dt.time.fromisoformat(text if text[1] != ":" else f"0{text}")
    except ValueError:
        pass
    raise CellFault(f"{shown(text)} is no time of day", "Write hours:minutes, as 09:10")


def read_words(text: str, _style: Style) -> str:
    """Any text, as it is."""
    return text
