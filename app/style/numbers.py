"""Numbers as pages print them: the campaign's own unit first, intervals with their mass."""

from math import isclose
from typing import Final

from model.base.constants import BEYOND
from model.base.percents import percent_words
from model.base.units import LOAD_SYMBOLS, from_kn, from_m
from model.questions.answer import Estimate
from model.records.answer import Effect, Interval
from model.records.campaign import Campaign

MINUS: Final = "\u2212"
SPACE: Final = "\u00a0"
"""No-break space: a number is not parted from its unit at the end of a line."""

A_NEVER_SET: Final = "A never set"
B_NEVER_SET: Final = "B never set"
"""In the place of a ratio where one pull of the two never set: there is no load to compare."""
NOT_IN_MODEL: Final = "not in the model"
"""In the place of an effect that is the same in every draw: nothing was estimated."""


def load_symbol(campaign: Campaign) -> str:
    """Symbol of the campaign's own load unit."""
    return LOAD_SYMBOLS[campaign.load_unit.strip().lower()]


def percent(probability: float) -> str:
    """A probability in per cent, never 0 or 100; see :mod:`model.base.percents`."""
    return percent_words(probability).replace(" %", f"{SPACE}%")


def percent_if_known(probability: float | None) -> str:
    """The same; a dash where there is none."""
    return "–" if probability is None else percent(probability)


def percent_figure(probability: float) -> str:
    """The same under a heading that says per cent."""
    return percent(probability).removesuffix(f"{SPACE}%")


def chance(probability: float) -> str:
    """A probability as ``0.88``, rounded as :func:`percent` is, never 0 or 1."""
    words = percent_words(probability)
    word, _, figure = words.removesuffix(" %").rpartition(" ")
    return f"{word} 0.{int(figure):02d}".strip()


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
    return percent_figure(value)


def _symbol(unit: str, campaign: Campaign) -> str:
    named = {"kN": load_symbol(campaign), "m": campaign.length_unit, "chance": "%"}
    return named.get(unit, unit)


def estimate(value: Estimate, campaign: Campaign) -> str:
    """A median with its interval, as ``3.4 kN (2.9 to 4.1)``."""
    if value.unit == "×":
        return effect_size(value)
    ends = [
        _figure(end, value.unit, campaign) for end in (value.interval.lower, value.interval.upper)
    ]
    return f"{median(value, campaign)} ({ends[0]} to {ends[1]})"


def median(value: Estimate, campaign: Campaign, *, digits: int = 3) -> str:
    """A median alone, as ``3.41 kN``; loads and lengths to so many significant digits."""
    if value.unit == "×":
        return effect_figure(value.median, "ratio")
    figure = _figure(value.median, value.unit, campaign, digits)
    return f"{figure}{SPACE}{_symbol(value.unit, campaign)}"


def interval_name(interval: Interval) -> str:
    """Kind and mass of an interval: a number never stands under another one's name."""
    return f"{100 * interval.prob:.0f}{SPACE}% {interval.kind} interval"


def effect_figure(value: float, kind: str) -> str:
    """One effect: a ratio as ``1.21 ×``, a difference of chances in percentage points.

    A ratio beyond any that two loads can have is said in words: one pull never set.
    """
    if kind == "ratio":
        if value >= BEYOND:
            return B_NEVER_SET
        return A_NEVER_SET if value <= 1 / BEYOND else f"{value:.2f}{SPACE}×"
    return f"{round(100 * value):+d}{SPACE}points".replace("-", MINUS).replace("+0", "0")


def effect_range(lower: float, upper: float, kind: str) -> str:
    """Two ends of an effect, the unit once: ``0.94 to 1.35 ×``, ``−6 to +30 points``."""
    first, last = effect_figure(lower, kind), effect_figure(upper, kind)
    return f"{first.split(SPACE)[0] if SPACE in last else first} to {last}"


def is_in_model(interval: Interval) -> bool:
    """Whether an effect differs from draw to draw; one that the model does not have cannot."""
    return not isclose(interval.lower, interval.upper, rel_tol=1e-9, abs_tol=1e-12)


def effect(found: Effect) -> str:
    """The size of a difference with its labelled interval."""
    if not is_in_model(found.interval):
        return NOT_IN_MODEL
    ends = effect_range(found.interval.lower, found.interval.upper, found.kind)
    middle = effect_figure(found.median, found.kind)
    return f"{middle} ({interval_name(found.interval)} {ends})"


def effect_size(found: Effect | Estimate, *, is_short: bool = False) -> str:
    """A difference in a table, as ``1.10 × (0.88 to 1.32 ×)``; short, ``1.10 (0.88 to 1.32 ×)``."""
    if not is_in_model(found.interval):
        return NOT_IN_MODEL
    kind = "ratio" if found.unit == "×" else "difference"
    middle = effect_figure(found.median, kind)
    ends = effect_range(found.interval.lower, found.interval.upper, kind)
    return f"{middle.split(SPACE)[0] if is_short else middle} ({ends})"


def effect_chance(p_higher: float, interval: Interval) -> str:
    """The chance that A is higher; a dash where the model has no effect to be higher by."""
    return percent(p_higher) if is_in_model(interval) else "–"


def counted(count: int, noun: str) -> str:
    """A count with its noun, plural where due."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
