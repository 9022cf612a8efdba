"""Predicted against recorded: the share of every ending, and of what was seen, per anchor."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from model.base.constants import INTERVAL_PROB
from model.checks.check import (
    LOOK_RATE,
    NO_PULL,
    Check,
    Status,
    chance_words,
    not_checked,
    status_at,
)
from model.checks.counts import Count, Counted, cell_name, count_endings
from model.checks.endings import LEFT_OUT, Endings
from model.checks.first_bites import FirstBites
from model.checks.pull_names import load_words
from model.records.base import Record
from model.records.campaign import Campaign

NAME: Final = "shares"
TITLE: Final = "do pulls end as often each way as predicted"
MOST_NAMED: Final = 3
SEED: Final = 20_261_130
"""Of the replicated campaigns: fixed, so that a check shown again is the same check."""


class ShareRow(Record):
    """Recorded and predicted of one ending of one anchor's first bites.

    Parameters
    ----------
    ending : str
        As ``let go at 2.6 kN``, ``held``, ``never set``, ``seen upright``.
    load_kn : float or None
        The step, kN, of a release.
    pulls, recorded : int
        Pulls that tell of it, and in how many it was so.
    expected : float
        Predicted count.
    lower, upper : int
        Equal-tailed interval of the count, posterior and sampling spread both in it.
    stands_out : bool
        Beyond what all counts together let be.
    """

    anchor: str
    ending: str
    load_kn: float | None
    pulls: int
    recorded: int
    expected: float
    lower: int
    upper: int
    stands_out: bool


class Shares(Record):
    """The check with its table; the interval's mass; pulls that tell of no ending."""

    check: Check
    rows: tuple[ShareRow, ...]
    interval_prob: float
    left_out: int


def compare_shares(campaign: Campaign, bites: FirstBites, endings: Endings) -> Shares:
    """Compare how first bites ended with what the draws say of them.

    The posterior knows the pulls that it is compared with, so that its counts mostly lie nearer
    to them than those of new pulls would. What is certain is that under a right model no more than
    twice :data:`LOOK_RATE` are called "look" (Meng 1994).
    """
    found = count_endings(bites, endings, np.random.default_rng(SEED), rate=LOOK_RATE)
    rows = share_rows(campaign, endings, found)
    return Shares(
        check=_check(rows, found.p) if rows else not_checked(NAME, TITLE, NO_PULL),
        rows=rows,
        interval_prob=INTERVAL_PROB,
        left_out=int((endings.end == LEFT_OUT).sum()),
    )


def _check(rows: Sequence[ShareRow], p: float) -> Check:
    odd = [row for row in rows if row.stands_out]
    status = status_at(p)
    tests = f"{len(rows)} counts of {len({row.anchor for row in rows})} anchors"
    if status is Status.PASSED:
        reason = (
            f"{tests}: even the one furthest from what was predicted is no further than chance "
            f"alone brings about {chance_words(p)}."
        )
    else:
        reason = f"{_odd_words(odd)}. Over {tests} chance alone does as much {chance_words(p)}."
    return Check(
        name=NAME,
        title=TITLE,
        status=status,
        reason=reason,
        remedy="" if status is Status.PASSED else _remedy(odd),
    )


def share_rows(campaign: Campaign, endings: Endings, found: Counted) -> tuple[ShareRow, ...]:
    """The table of a comparison, by anchor, endings in their order."""
    ordered = sorted(found.counts, key=lambda one: (one.anchor, one.cell))
    return tuple(_row(campaign, endings, one, found.limit) for one in ordered)


def _row(campaign: Campaign, endings: Endings, one: Count, limit: float) -> ShareRow:
    words, load_kn = cell_name(endings, one.cell)
    lower, upper = one.interval()
    return ShareRow(
        anchor=campaign.anchors[one.anchor].code,
        ending=words if load_kn is None else f"{words} {load_words(campaign, load_kn)}",
        load_kn=load_kn,
        pulls=one.pulls,
        recorded=one.recorded,
        expected=one.expected,
        lower=lower,
        upper=upper,
        stands_out=bool(one.surprise[one.recorded] <= limit),
    )


def _odd_words(odd: Sequence[ShareRow]) -> str:
    told = [
        f"{row.anchor} {row.ending} in {row.recorded} of {row.pulls} pulls, predicted "
        f"{row.expected:.1f} ({row.lower} to {row.upper})"
        for row in odd[:MOST_NAMED]
    ]
    more = f"; and {len(odd) - MOST_NAMED} more" if len(odd) > MOST_NAMED else ""
    return "; ".join(told) + more


def _remedy(odd: Sequence[ShareRow]) -> str:
    anchors = ", ".join(dict.fromkeys(row.anchor for row in odd))
    return (
        f"Look at the pulls of {anchors} in the log: a wrong load, ladder, seabed or setting mode "
        "shows so. If they are right, this anchor does what the model has no room for: do not lean "
        "on its answers."
    )
