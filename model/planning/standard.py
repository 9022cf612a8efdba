"""Draws as independent standard normals, and the effects of the days they have come to."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.planning.reduced import Reduced

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Places = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Standard:
    """Draws as standard normals.

    Parameters
    ----------
    of_reference : (draw, direction) array
    of_days : (draw, day, 2) array
        Of each day after the first: on log load, on the logit of upright.
    """

    of_reference: Single
    of_days: Single

    @property
    def n_draw(self) -> int:
        """How many draws."""
        return len(self.of_reference)

    @property
    def flat(self) -> Single:
        """One vector a draw, ``(draw, direction)``; the days' places come last."""
        return np.concatenate([self.of_reference, self.of_days.reshape(self.n_draw, -1)], axis=1)

    def like(self, flat: Single) -> "Standard":
        """Other draws of as many days."""
        n_direction, n_day = self.of_reference.shape[1], self.of_days.shape[1]
        return Standard(
            of_reference=flat[:, :n_direction],
            of_days=flat[:, n_direction:].reshape(len(flat), n_day, 2),
        )

    def chosen(self, which: Places) -> "Standard":
        """Some of the draws."""
        return Standard(of_reference=self.of_reference[which], of_days=self.of_days[which])

    def with_day(self, rng: np.random.Generator) -> "Standard":
        """The same with one more day."""
        news = rng.standard_normal((self.n_draw, 1, 2), dtype=np.float32)
        return Standard(
            of_reference=self.of_reference, of_days=np.concatenate([self.of_days, news], axis=1)
        )


def day_effects(draws: Reduced, of_days: Single, day: int) -> tuple[Array, Array]:
    """Effects of a day under each draw, ``(draw,)`` each; the first day's stand in the draws."""
    if day == 0:
        return draws.by_draw["today_load"], draws.by_draw["today_logit"]
    load, logit = of_days[:, day - 1].T
    return (
        np.exp(draws.by_draw["log_day_load"]) * load,
        np.exp(draws.by_draw["log_day_logit"]) * logit,
    )
