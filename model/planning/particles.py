"""The draws by which rehearsed campaigns are weighed, and the chances of outcomes under them."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.errors import KedgewiseError
from model.planning.information import N_REGION
from model.planning.outcome_table import TOLD_BY_FIRST_BITES, OutcomeSpace, outcome_table
from model.planning.pull_chance import pull_chances
from model.planning.reduced import Reduced
from model.planning.reference import Reference
from model.planning.standard import Standard, day_effects
from model.planning.start import Asked
from model.records.question import Measure

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Places = NDArray[np.int64]

COARSE: Final = 6
"""Ends of a bite that a choice tells apart, of the dozen there are."""

FEW_SHARED, FEW_OWN = 10_000, 1_000
"""Draws by which the next pair is chosen, of many campaigns and of one: a choice may be rougher
than an answer."""


class Particles:
    """Draws in the order of their regions, and the day they have come to.

    Parameters
    ----------
    reference : Reference
        The density they were drawn from.
    standard : Standard
        The draws as standard normals.
    asked : Asked
        The question that is rehearsed.
    rows : (candidate,) int
        Rows of the candidates.
    is_shared : bool
        Whether many campaigns are weighed by them, so that a table of all outcomes pays.
    """

    def __init__(
        self,
        reference: Reference,
        standard: Standard,
        asked: Asked,
        rows: Places,
        space: OutcomeSpace,
        *,
        is_shared: bool,
    ) -> None:
        draws = reference.reduced(standard.of_reference)
        place = asked.regions(draws).place
        order = np.argsort(place, kind="stable")
        self.reference, self.standard = reference, standard.chosen(order)
        self.place, self._draws = place[order], draws.chosen(order)
        self._rows, self._space, self._asked = rows, space, asked
        few = FEW_SHARED if is_shared else FEW_OWN
        self._few = np.arange(0, place.size, max(1, place.size // few))
        self.is_shared = is_shared
        self._table: Single | None = None
        self._joint: Single | None = None
        self.members, self.doubled_squared = self._members()

    @property
    def size(self) -> int:
        """How many draws."""
        return self.standard.n_draw

    @property
    def day(self) -> int:
        """Days before this one."""
        return int(self.standard.of_days.shape[1])

    def _members(self) -> tuple[Single, Single]:
        """Matrix from weights to what a look needs, ``(draw, 6)``; and squares, ``(draw,)``.

        Share of each region, and of each under the doubled prior; the squares of its weights.
        """
        region = (self.place[:, None] == np.arange(N_REGION)).astype(np.float32)
        log_ratio = np.zeros(self.size)
        for name in self._asked.doubled:
            log_ratio += 0.5 * self._draws.by_draw[name] ** 2 * (1 - 0.25) - np.log(2.0)
        doubled = np.exp(np.minimum(log_ratio, 20.0)).astype(np.float32)
        return np.concatenate([region, region * doubled[:, None]], axis=1), doubled**2

    def begin_day(self, rng: np.random.Generator) -> None:
        """Another day, of which each draw has effects of its own."""
        self.standard = self.standard.with_day(rng)
        self._table = self._joint = None

    def _today(self, draws: Reduced, standard: Standard) -> Reduced:
        load, logit = day_effects(draws, standard.of_days, self.day)
        by_draw = {**draws.by_draw, "today_load": load, "today_logit": logit}
        return Reduced(by_row=draws.by_row, by_draw=by_draw)

    def weigh(self, weights: Single, chosen: Places, outcomes: Places) -> None:
        """Weigh each campaign's draws by what its pull of today showed, in place.

        Parameters
        ----------
        weights : (campaign, draw) array
        chosen, outcomes : (campaign,) int
            Candidate and outcome.
        """
        if self.is_shared:
            if self._table is None:
                today = self._today(self._draws, self.standard)
                self._table = outcome_table(today, self._rows, self._space)
            for place in range(len(weights)):
                weights[place] *= self._table[chosen[place], outcomes[place]]
        else:
            load, logit = day_effects(self._draws, self.standard.of_days, self.day)
            both = (load[None, :], logit[None, :])
            rows = self._rows[chosen]
            weights *= pull_chances(self._draws, rows, outcomes, both, self._space)
        weights /= weights.sum(axis=1, keepdims=True)

    def joint(self, pairs: Places) -> tuple[Single, Places]:
        """Chances of both outcomes of each pair under a few draws, and which draws these are.

        Returns
        -------
        (draw, pair * outcome * outcome) array
            Outcomes merged to what the question's measure is mostly told by.
        (draw,) int
        """
        if self._joint is None:
            few = self._today(self._draws.chosen(self._few), self.standard.chosen(self._few))
            table = outcome_table(few, self._rows, self._space)
            merged = merge(table, self._space, self._asked.question.measure)
            n_few, n_outcome = self._few.size, merged.shape[1]
            found = np.empty((n_few, len(pairs), n_outcome, n_outcome), dtype=np.float32)
            by_draw = np.ascontiguousarray(merged.transpose(2, 0, 1))
            first, second = pairs.T
            np.multiply(by_draw[:, first, :, None], by_draw[:, second, None, :], out=found)
            self._joint = found.reshape(n_few, -1)
        return self._joint, self._few


def merge(table: Single, space: OutcomeSpace, measure: Measure) -> Single:
    """Outcomes put together to those that tell most of what a measure is about.

    Information of merged outcomes is never more than that of the outcomes themselves, and
    choosing takes a table over pairs of them.

    Raises
    ------
    KedgewiseError
        If a measure is not told by how a bite ends and what is seen of it.
    """
    ends = table[:, 1:].reshape(len(table), space.n_end, space.n_seen, -1)
    never = table[:, :1]
    if measure is Measure.SETS:
        parts = [never, 1 - never]
    elif measure is Measure.UPRIGHT and space.has_camera:
        parts = [never, ends.sum(axis=1)]
    elif measure in TOLD_BY_FIRST_BITES:
        parts = [never, _coarse(ends.sum(axis=2))]
    else:
        raise KedgewiseError(f"no plan tells of {measure.value}")
    return np.concatenate(parts, axis=1)


def _coarse(ends: Single) -> Single:
    """Ends ``(candidate, end, draw)`` put together, neighbour by neighbour, to a few alike likely.

    Of each candidate by its own loads: one that nearly always holds is told apart up there.
    """
    mass = ends.mean(axis=2)
    middle = (np.cumsum(mass, axis=1) - mass / 2) / mass.sum(axis=1, keepdims=True)
    group = np.minimum((middle * COARSE).astype(np.int64), COARSE - 1)
    found = np.zeros((len(ends), COARSE, ends.shape[2]), dtype=np.float32)
    for candidate, groups in enumerate(group):
        np.add.at(found[candidate], groups, ends[candidate])
    return found
