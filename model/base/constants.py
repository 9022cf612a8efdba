"""Constants with their meaning, unit and source."""

from math import exp
from typing import Final

STANDARD_GRAVITY_M_S2: Final = 9.80665
"""Standard acceleration of gravity; exact by definition (NIST SP 811)."""

REFERENCE_MASS_KG: Final = 10.0
"""Anchor mass at which the intercept of the load model stands (a common small-boat size)."""

DEFAULT_SCOPE: Final = 5.0
"""Scope taken as usual where neither the campaign nor a pull names one (common practice)."""

LEAST: Final = 1e-3
"""Least mass, kg, load, kN, and dwell, s: whatever is smaller was written in another unit."""

MOST_LOAD_KN: Final = 1000.0
"""Most load of anything written or asked, kN; far above what any small boat pulls."""

MOST_BURIED_M: Final = 100.0
"""Most buried rode, m: no small boat has more out (common practice), so that more of it was
written in another unit, or has lost its decimal point."""

DATE_YEARS: Final = (1900, 2100)
"""First and last year that a date may have; any other is a slip of the pen."""

INTERVAL_PROB: Final = 0.90
"""Mass of every reported interval; equal-tailed (the label says so)."""

SETTLED_PROB: Final = 0.95
"""A finding needs at least this probability at two looks running."""

SETTLED_MIN_PULLS: Final = 6
"""A finding needs at least this many used pulls on each side.

With three, a few pulls of an anchor that lay on its side were enough where two anchors are
compared: of 500 campaigns looked at after every pull, up to 1.6 % were ever settled on the
other side of no difference, where 1 % is the most that is wanted.
"""

LOG_CAP: Final = 20.0
"""Log ratio that stands for a pull against one that never set; beyond any band."""

BEYOND: Final = exp(LOG_CAP / 2)
"""From here on a ratio, or its inverse, is no ratio of two loads: one pull never set."""
