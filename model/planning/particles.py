"""The draws by which rehearsed campaigns are weighed, and their tables of outcomes, day by day."""

from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.errors import KedgewiseError
from model.planning.information import N_REGION
from model.planning.outcome_table import OutcomeSpace, outcome_table
from model.planning.reduced import Reduced
from model.planning.start import Asked
from model.records.question import Measure

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Places = NDArray[np.int64]

FEW: Final = (1500, 5000)
"""Least and most draws by which the next pair is chosen, else a fifth of all: a choice may be
rougher than an answer."""


class Particles:
    """Draws in the order of their regions, with the table of a day.

    Parameters
    ----------
    draws : Reduced
    asked : Asked
        The question that is rehearsed.
    rows : (candidate,) int
        Rows of the candidates.
    """

    def __init__(self, draws: Reduced, asked: Asked, rows: Places, space: OutcomeSpace) -> None:
        place = asked.regions(draws).place
        order = np.argsort(place, kind="stable")
        self.place = place[order]
        self.draws = Reduced(
            by_row={name: values[:, order] for name, values in draws.by_row.items()},
            by_draw={name: values[order] for name, values in draws.by_draw.items()},
        )
        self._rows, self._space, self._asked = rows, space, asked
        n_few = min(max(place.size // 5, FEW[0]), FEW[1])
        self._few = np.arange(0, place.size, max(1, place.size // n_few))
        self.members = self._members()

    @property
    def size(self) -> int:
        """How many draws."""
        return int(self.place.size)

    def _members(self) -> Single:
        """Matrix from weights to what a look needs, ``(draw, 8)``.

        Share of each region; of each under the doubled prior; and the squares' sum of that.
        """
        region = (self.place[:, None] == np.arange(N_REGION)).astype(np.float32)
        by_draw = self.draws.by_draw
        log_ratio = np.zeros(self.size)
        for name in self._asked.doubled:
            log_ratio += 0.5 * by_draw[name] ** 2 * (1 - 0.25) - np.log(2.0)
        doubled = np.exp(np.minimum(log_ratio, 20.0)).astype(np.float32)
        self.doubled_squared = doubled**2
        return np.concatenate([region, region * doubled[:, None]], axis=1)

    def begin_day(self, rng: np.random.Generator) -> None:
        """Another day, of which each draw has effects of its own."""
        by_draw = dict(self.draws.by_draw)
        for name, scale in (("today_load", "log_day_load"), ("today_logit", "log_day_logit")):
            by_draw[name] = np.exp(by_draw[scale]) * rng.standard_normal(self.size)
        self.draws = Reduced(by_row=self.draws.by_row, by_draw=by_draw)
        for name in ("table", "_joint"):
            self.__dict__.pop(name, None)

    @cached_property
    def table(self) -> Single:
        """Chances of today's outcomes, ``(candidate, outcome, draw)``."""
        return outcome_table(self.draws, self._rows, self._space)

    def joint(self, pairs: Places) -> tuple[Single, Places]:
        """Chances of both outcomes of each pair under a few draws, and which draws these are.

        Returns
        -------
        (draw, pair * outcome * outcome) array
            Outcomes merged to what the question's measure is mostly told by.
        (draw,) int
        """
        if self.__dict__.get("_joint") is None:
            few = self.table[:, :, self._few]
            merged = merge(few, self._space, self._asked.question.measure)
            n_few = self._few.size
            found = np.empty((n_few, len(pairs), merged.shape[1] ** 2), dtype=np.float32)
            for index, (first, second) in enumerate(pairs):
                both = merged[first][:, None, :] * merged[second][None, :, :]
                found[:, index] = both.reshape(-1, n_few).T
            self.__dict__["_joint"] = found.reshape(n_few, -1)
        return self.__dict__["_joint"], self._few

    def chosen(self, which: Places) -> Reduced:
        """Some of the draws."""
        return Reduced(
            by_row={name: values[:, which] for name, values in self.draws.by_row.items()},
            by_draw={name: values[which] for name, values in self.draws.by_draw.items()},
        )


def merge(table: Single, space: OutcomeSpace, measure: Measure) -> Single:
    """Outcomes put together to those that tell most of what a measure is about.

    Information of merged outcomes is never more than that of the outcomes themselves, and
    choosing takes a table over pairs of them.

    Raises
    ------
    KedgewiseError
        If a measure is not told by how a bite ends and what is seen of it.
    """
    ends = table[:, 1:].reshape(len(table), space.n_end, space.n_seen, table.shape[2])
    never = table[:, :1]
    if measure is Measure.SETS:
        parts = [never, 1 - never]
    elif measure is Measure.UPRIGHT:
        parts = [never, ends.sum(axis=1)]
    elif measure in TOLD_BY_FIRST_BITES:
        parts = [never, ends.sum(axis=2)]
    else:
        raise KedgewiseError(f"no plan tells of {measure.value}")
    return np.concatenate(parts, axis=1)


TOLD_BY_FIRST_BITES: Final = frozenset(
    {
        Measure.TYPICAL,
        Measure.BEST,
        Measure.CAPPED,
        Measure.NINE_IN_TEN,
        Measure.HOLD,
        Measure.UPRIGHT,
        Measure.SETS,
    }
)
"""Measures of which the end of a first bite tells, so that they can be planned for."""
