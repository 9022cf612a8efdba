"""Rehearsed pulls as they go on the water: set or not, one mode, one capacity, step by step.

Written apart from the table of outcomes by which they are weighed, so that a fault in one shows
against the other.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.outcomes.prediction import sigmoid
from model.planning.outcome_table import NOT_SEEN, SEEN_ON_SIDE, SEEN_UPRIGHT, OutcomeSpace
from model.planning.reduced import Reduced

Array = NDArray[np.float64]
Places = NDArray[np.int64]

SETS, MODE, SPOILT, SPOILT_STEP, LOST, CALLED = range(6)
"""What each uniform number of a pull decides."""


@dataclass(frozen=True, kw_only=True)
class Luck:
    """All that is left to chance, drawn beforehand: the same for every policy.

    Parameters
    ----------
    uniform : (campaign, pull, 6) array
        See ``SETS`` and those after it.
    capacity : (campaign, pull) array
        Standard normals: one patch, one gauge reading, one bite.
    day : (campaign, day, 2) array
        Standard normals of each day's effects; the first day's stand in the truth.
    coin : (campaign, pull) array
        Which arm of a pair goes first.
    """

    uniform: Array
    capacity: Array
    day: Array
    coin: Array

    @classmethod
    def draw(cls, n_campaign: int, n_pull: int, n_day: int, rng: np.random.Generator) -> "Luck":
        """Draw it for campaigns of at most so many pulls and days."""
        return cls(
            uniform=rng.random((n_campaign, n_pull, 6)),
            capacity=rng.standard_normal((n_campaign, n_pull)),
            day=rng.standard_normal((n_campaign, n_day, 2)),
            coin=rng.random((n_campaign, n_pull)),
        )


@dataclass(frozen=True, kw_only=True)
class Truths:
    """One truth a campaign, and the day it has come to.

    Parameters
    ----------
    draws : Reduced
        The dim ``draw`` is the campaign.
    """

    draws: Reduced
    luck: Luck

    def day(self, members: Places, day: int) -> tuple[Array, Array]:
        """A day's effects on log load and on the logit of upright, ``(member,)`` each."""
        draw = self.draws.by_draw
        if day == 0:
            return draw["today_load"][members], draw["today_logit"][members]
        load, logit = self.luck.day[members, day].T
        return (
            np.exp(draw["log_day_load"][members]) * load,
            np.exp(draw["log_day_logit"][members]) * logit,
        )

    def pull(
        self, members: Places, rows: Places, pull: int, day: int, space: OutcomeSpace
    ) -> Places:
        """Outcome of one pull of each member, each of a row of its own, ``(member,)``."""
        uniform, draw = self.luck.uniform[members, pull], self.draws.by_draw
        row = {name: values[rows, members] for name, values in self.draws.by_row.items()}
        day_load, day_logit = self.day(members, day)
        is_upright = uniform[:, MODE] < sigmoid(row["logit_upright"] + day_logit)
        log_sd = np.where(is_upright, row["log_sd_upright"], row["log_sd_on_side"])
        mean = np.where(is_upright, row["log_upright"], row["log_on_side"])
        sd = np.sqrt(
            np.exp(2 * log_sd)
            + np.exp(2 * draw["log_pull_load"][members])
            + np.exp(2 * draw["log_gauge"][members])
        )
        load = mean + day_load + draw["boat_bias"][members] + sd * self.luck.capacity[members, pull]
        end = _end(load, space.log_edges(draw["log_hold_exponent"][members]))
        is_spoilt = uniform[:, SPOILT] < sigmoid(draw["logit_spoilt"][members])
        n_step = space.n_end - 1
        end = np.where(is_spoilt, (uniform[:, SPOILT_STEP] * n_step).astype(np.int64), end)
        seen = self._seen(members, is_upright, uniform) if space.has_camera else 0
        has_set = uniform[:, SETS] < sigmoid(row["logit_sets"])
        found: Places = np.where(has_set, 1 + end * space.n_seen + seen, 0)
        return found

    def _seen(self, members: Places, is_upright: NDArray[np.bool_], uniform: Array) -> Places:
        draw = self.draws.by_draw
        half = draw["not_seen_difference"][members] / 2
        logit_lost = draw["not_seen_base"][members] + np.where(is_upright, half, -half)
        right = np.where(
            is_upright, draw["logit_seen_upright"][members], draw["logit_seen_on_side"][members]
        )
        is_called_upright = (uniform[:, CALLED] < sigmoid(right)) == is_upright
        shown = np.where(is_called_upright, SEEN_UPRIGHT, SEEN_ON_SIDE)
        found: Places = np.where(uniform[:, LOST] < sigmoid(logit_lost), NOT_SEEN, shown)
        return found


def _end(load: Array, edges: NDArray[np.floating]) -> Places:
    """Step at which each lets go, counted from 0; their number where it holds to the end."""
    stands = load[None, :] > edges
    found: Places = np.argmin(np.vstack([stands, np.zeros((1, load.size), dtype=bool)]), axis=0)
    return found
