"""What the priors alone expect of a campaign, whether it is possible, and whether it came so.

Two things are judged. The range of loads, in weights of the anchor, is a test of the priors alone:
a mass is divided out of it again, so that a wrong one hardly shows there. Wrong masses, units and
seabeds show in what was recorded.
"""

from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from model.base.constants import INTERVAL_PROB, LOG_CAP, STANDARD_GRAVITY_M_S2
from model.base.priors import Priors
from model.checks.check import (
    LOOK_RATE,
    NO_PULL,
    Check,
    Status,
    chance_words,
    not_checked,
    status_at,
    worst,
)
from model.checks.counts import Counted, count_endings
from model.checks.endings import NEVER_SET, Endings
from model.checks.first_bites import FirstBites, first_bites
from model.checks.shares import ShareRow, share_rows
from model.outcomes.prior_draws import prior_draws
from model.outcomes.shape import Shape
from model.records.base import Record
from model.records.campaign import Campaign

Array = NDArray[np.float64]

NAME: Final = "priors"
TITLE: Final = "do the priors expect what is possible"
DRAWS: Final = 1000
SEED: Final = 20_261_128
POSSIBLE_WEIGHTS: Final = (0.5, 500.0)
"""Loads at the first release that a tester would call possible, in weights of the anchor. A
judgement: what only slides on hard ground holds about half its weight by friction alone, and the
power law behind the priors (UFC 4-159-03), carried down to small boats, gives 7 to 40."""
MOST_IMPOSSIBLE: Final = (0.05, 0.20)
"""Share of the priors' loads outside of that from which a look is due, and from which they fail."""


class PriorRange(Record):
    """What the priors expect of one anchor's pulls, medians with equal-tailed intervals.

    Parameters
    ----------
    weights, weights_lower, weights_upper : float
        Load at the first release, in weights of the anchor.
    """

    anchor: str
    weights: float
    weights_lower: float
    weights_upper: float


class PriorRanges(Record):
    """The check with its two tables."""

    check: Check
    ranges: tuple[PriorRange, ...]
    rows: tuple[ShareRow, ...]
    interval_prob: float


def compare_with_priors(
    campaign: Campaign, priors: Priors, arrays: xr.Dataset, endings: Endings
) -> PriorRanges:
    """Draw from the priors, and compare with what is possible and with what was recorded.

    Nothing of the pulls has gone into the priors, so that the false-alarm rate of the comparison
    is what is stated.
    """
    rng = np.random.default_rng(SEED)
    shape = Shape.of(campaign)
    bites = first_bites(prior_draws(arrays, priors, shape, DRAWS, rng), arrays)
    weights = _weights(campaign, bites, endings, rng)
    counted = count_endings(bites, endings, rng, rate=LOOK_RATE)
    rows = share_rows(campaign, endings, counted)
    check = (
        _check(np.concatenate(list(weights.values())), counted, rows)
        if weights
        else not_checked(NAME, TITLE, NO_PULL)
    )
    return PriorRanges(
        check=check,
        ranges=tuple(_range(anchor, values) for anchor, values in weights.items()),
        rows=rows,
        interval_prob=INTERVAL_PROB,
    )


def _weights(
    campaign: Campaign, bites: FirstBites, endings: Endings, rng: np.random.Generator
) -> dict[str, Array]:
    """Loads at the first release by anchor, one a draw and pull, in weights of the anchor."""
    is_side = rng.random(bites.p_upright.shape) >= bites.p_upright
    mean, sd = (np.where(is_side, both[1], both[0]) for both in (bites.mean, bites.sd))
    log_load = mean + sd * rng.standard_normal(mean.shape)
    loads_kn = np.exp(np.clip(log_load, -LOG_CAP, LOG_CAP))
    return {
        campaign.anchors[anchor].code: loads_kn[:, endings.anchor == anchor].ravel()
        / (campaign.anchors[anchor].mass_kg * STANDARD_GRAVITY_M_S2 / 1000)
        for anchor in np.unique(endings.anchor)
    }


def _range(anchor: str, weights: Array) -> PriorRange:
    tails = ((1 - INTERVAL_PROB) / 2, 0.5, (1 + INTERVAL_PROB) / 2)
    lower, median, upper = (float(value) for value in np.quantile(weights, tails))
    return PriorRange(anchor=anchor, weights=median, weights_lower=lower, weights_upper=upper)


def _check(weights: Array, counted: Counted, rows: tuple[ShareRow, ...]) -> Check:
    low, high = POSSIBLE_WEIGHTS
    impossible = float(np.mean((weights < low) | (weights > high)))
    possible = _possible_status(impossible)
    status = worst([possible, status_at(counted.p)])
    if not rows and status is Status.PASSED:
        status = Status.NOT_CHECKED
    ends = np.quantile(weights, [(1 - INTERVAL_PROB) / 2, (1 + INTERVAL_PROB) / 2])
    said = (
        f"Before any pull the priors let {100 * INTERVAL_PROB:.0f} % of first releases be at "
        f"{ends[0]:.2g} to {ends[1]:.3g} times the anchor's weight; {100 * impossible:.1f} % lie "
        f"beyond what is possible ({low:g} to {high:g} times)."
    )
    odd = [row for row in rows if row.stands_out]
    if not rows:
        recorded = "What was recorded no pull tells: not checked."
    elif status_at(counted.p) is Status.PASSED:
        recorded = "What was recorded lies within what they expected."
    else:
        first = odd[0] if odd else rows[NEVER_SET]
        recorded = (
            f"What was recorded surprises them ({chance_words(counted.p)} by chance): "
            f"{first.anchor} {first.ending} in {first.recorded} of {first.pulls} pulls, expected "
            f"{first.lower} to {first.upper}."
        )
    return Check(
        name=NAME,
        title=TITLE,
        status=status,
        reason=f"{said} {recorded}",
        remedy=_remedy(possible) if status in {Status.LOOK, Status.FAILED} else "",
    )


def _possible_status(impossible: float) -> Status:
    look, failed = MOST_IMPOSSIBLE
    if impossible > failed:
        return Status.FAILED
    return Status.LOOK if impossible > look else Status.PASSED


def _remedy(possible: Status) -> str:
    if possible is not Status.PASSED:
        return (
            "These priors are not made for such anchors: do not lean on answers from few pulls, "
            "which the priors make as much as the pulls do."
        )
    return (
        "Look whether loads stand in the unit that the log names, and whether masses and seabeds "
        "are right. If they are, these pulls are unlike the ones that the priors were made for, "
        "and an answer from few pulls leans on the wrong ones."
    )
