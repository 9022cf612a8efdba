"""Probabilities in whole per cent, as pages and sentences alike print them."""

from typing import Final

from model.base.constants import SETTLED_PROB

ENDS: Final = (0.01, 0.99)
"""Beyond these a probability is "under 1 %" or "over 99 %": simulation cannot tell
99.9 % from certain, and nothing here is 0 or 100 %."""


def whole_percent(probability: float) -> int:
    """A probability to the nearest whole per cent, but never up to what a finding needs.

    Parameters
    ----------
    probability : float
        0 to 1.

    Returns
    -------
    int
        94.6 % is 94, since as 95 it would read as enough for a finding. A
        probability and its opposite always make 100, so 5.4 % is 6.
    """
    if probability < 0.5:
        return 100 - whole_percent(1 - probability)
    nearest, needed = round(100 * probability), round(100 * SETTLED_PROB)
    return needed - 1 if probability < SETTLED_PROB and nearest >= needed else nearest


def percent_words(probability: float) -> str:
    """As ``52 %``, ``under 1 %`` or ``over 99 %``, with plain spaces."""
    low, high = ENDS
    if probability < low:
        return "under 1 %"
    if probability > high:
        return "over 99 %"
    return f"{whole_percent(probability)} %"
