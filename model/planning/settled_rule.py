"""The rule by which an answer is settled, for many rehearsed campaigns at once.

The same conditions as :mod:`model.questions.settling`, in the same words: 0.95 for one region at
this look and at the one before it, six pulls a side, a shared day, clear of simulation error,
and the same finding when the prior of the effect is twice as wide. A look is a pull.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.constants import SETTLED_MIN_PULLS, SETTLED_PROB
from model.planning.information import ABOVE, BELOW, INSIDE
from model.questions.settling import MCSE_MARGIN
from model.records.answer import Finding

Array = NDArray[np.float64]
Places = NDArray[np.int64]

NONE: Final = -1
FINDINGS: Final = {
    Finding.LOWER: BELOW,
    Finding.NO_PRACTICAL_DIFFERENCE: INSIDE,
    Finding.HIGHER: ABOVE,
    Finding.NOT_SETTLED: NONE,
}
"""Each finding's region."""

FIT_EFFECTIVE_DRAWS: Final = 2000
"""Effective draws behind a finding that a fit check demands: a rehearsed answer is as blurred."""

LEAST_DOUBLED: Final = 100.0
"""Effective draws below which the weights of a doubled prior tell nothing."""


@dataclass(frozen=True, kw_only=True)
class Looks:
    """What each campaign's draws say after a pull.

    Parameters
    ----------
    shares : (campaign, region) array
        Chance of each region.
    doubled : (campaign, region) array
        The same under the doubled prior.
    doubled_worth : (campaign,) array
        Effective draws of that.
    """

    shares: Array
    doubled: Array
    doubled_worth: Array


def seen_at(shares: Array) -> Places:
    """Region that holds at least 0.95, or ``NONE``, ``(campaign,)``."""
    best = shares.argmax(axis=1)
    found: Places = np.where(shares.max(axis=1) >= SETTLED_PROB, best, NONE)
    return found


def is_settled(
    looks: Looks, last: Places, n_a: Places, n_b: Places, shares_a_day: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which campaigns are settled at this look; `last` is what the look before said."""
    now = seen_at(looks.shares)
    best = looks.shares.max(axis=1)
    blur = MCSE_MARGIN * np.sqrt(best * (1 - best) / FIT_EFFECTIVE_DRAWS)
    stands = (seen_at(looks.doubled) == now) & (looks.doubled_worth >= LEAST_DOUBLED)
    found: NDArray[np.bool_] = (
        (now != NONE)
        & (now == last)
        & (best - blur >= SETTLED_PROB)
        & (np.minimum(n_a, n_b) >= SETTLED_MIN_PULLS)
        & shares_a_day
        & stands
    )
    return found
