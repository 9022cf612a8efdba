"""Numbers as pages print them: the campaign's own unit first, intervals with their mass."""

from typing import Final

from model.base.units import LOAD_SYMBOLS, from_kn, from_m
from model.questions.answer import Estimate
from model.records.answer import Effect, Interval
from model.records.campaign import Campaign

PERCENT_ENDS: Final = (0.01, 0.99)
"""Beyond these a probability is printed as "under 1 %" or "over 99 %": simulation
cannot tell 99.9 % from certain, and a page must not print 100 %."""


MINUS: Final = "\u2212"
SPACE: Final = "\u00a0"
"""No-break space: a number is not parted from its unit at the end of a line."""


def load_symbol(campaign: Campaign) -> str:
    """Symbol of the campaign's own load unit."""
    return LOAD_SYMBOLS[campaign.load_unit.strip().lower()]


def percent(probability: float) -> str:
    """A probability in per cent, never 0 or 100."""
    low, high = PERCENT_ENDS
    if probability < low:
        return f"under 1{SPACE}%"
    if probability > high:
        return f"over 99{SPACE}%"
    return f"{100 * probability:.0f}{SPACE}%"


def significant(value: float, digits: int = 3) -> str:
    """A number to so many significant digits, without an exponent."""
    if value == 0:
        return "0"
    text = f"{value:.{digits}g}"
    return f"{float(text):,.0f}" if "e" in text else text


def padded(value: float, digits: int) -> str:
    """Like :func:`significant`, with the zeros at the end that belong to the digits: ``4.0``."""
    text = f"{value:#.{digits}g}"
    return significant(value, digits) if "e" in text else text.rstrip(".")


def load(load_kn: float, campaign: Campaign, *, with_kn: bool = False) -> str:
    """A load in the campaign's own unit, on wish with kN behind it."""
    own = f"{significant(from_kn(load_kn, campaign.load_unit))}{SPACE}{load_symbol(campaign)}"
    if with_kn and load_symbol(campaign) != "kN":
        return f"{own} ({significant(load_kn)}{SPACE}kN)"
    return own


def _figure(value: float, unit: str, campaign: Campaign, digits: int = 3) -> str:
    if unit == "kN":
        return padded(from_kn(value, campaign.load_unit), digits)
    if unit == "m":
        return padded(from_m(value, campaign.length_unit), digits)
    return percent(value).removesuffix(f"{SPACE}%") if unit == "chance" else f"{value:.2f}"


def _symbol(unit: str, campaign: Campaign) -> str:
    named = {"kN": load_symbol(campaign), "m": campaign.length_unit, "chance": "%"}
    return named.get(unit, unit)


def estimate(value: Estimate, campaign: Campaign) -> str:
    """A median with its interval, as ``3.4 kN (2.9 to 4.1)``."""
    ends = [
        _figure(end, value.unit, campaign) for end in (value.interval.lower, value.interval.upper)
    ]
    return f"{median(value, campaign)} ({ends[0]} to {ends[1]})"


def median(value: Estimate, campaign: Campaign, *, digits: int = 3) -> str:
    """A median alone, as ``3.41 kN``; loads and lengths to so many significant digits."""
    figure = _figure(value.median, value.unit, campaign, digits)
    return f"{figure}{SPACE}{_symbol(value.unit, campaign)}"


def interval_name(interval: Interval) -> str:
    """Kind and mass of an interval: a number never stands under another one's name."""
    return f"{100 * interval.prob:.0f}{SPACE}% {interval.kind} interval"


def effect_figure(value: float, kind: str) -> str:
    """One effect: a ratio as ``1.21 ×``, a difference of chances in percentage points."""
    if kind == "ratio":
        return f"{value:.2f}{SPACE}×"
    return f"{round(100 * value):+d}{SPACE}points".replace("-", MINUS).replace("+0", "0")


def effect(found: Effect) -> str:
    """The size of a difference with its labelled interval."""
    lower, upper = found.interval.lower, found.interval.upper
    middle = effect_figure(found.median, found.kind)
    return f"{middle} ({interval_name(found.interval)} {effect_range(lower, upper, found.kind)})"


def effect_range(lower: float, upper: float, kind: str) -> str:
    """Two ends of an effect, the unit once: ``0.94 to 1.35 ×``, ``−6 to +30 points``."""
    return f"{effect_figure(lower, kind).split(SPACE)[0]} to {effect_figure(upper, kind)}"


def counted(count: int, noun: str) -> str:
    """A count with its noun, plural where due."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
