"""The chance of all that was seen so far, under many draws, and how it changes with them."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.planning.outcome_table import OutcomeSpace
from model.planning.pull_chance import BY_DRAW_TOLD, BY_ROW_TOLD, pull_chances
from model.planning.reduced import BY_ROW, Reduced
from model.planning.reference import Reference
from model.planning.standard import Standard, day_effects

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Places = NDArray[np.int64]

LEAST_CHANCE: Final = 1e-30
NUDGE: Final = np.float32(1e-2)
"""By which a place is moved to find a slope: the chances are in single precision."""


@dataclass(frozen=True, kw_only=True)
class Past:
    """Pulls made so far.

    Parameters
    ----------
    rows, outcomes, days : (kind,) int
        Row of the reduced draws, what was seen, and day counted from 0.
    counts : (kind,) array
        How many pulls were like that; a chance raised to a power counts as much less.
    """

    rows: Places
    outcomes: Places
    days: Places
    counts: Array

    @classmethod
    def of(cls, rows: Places, outcomes: Places, days: Places) -> "Past":
        """Pulls one by one, those that are alike counted."""
        kinds, counts = np.unique(np.stack([rows, outcomes, days]), axis=1, return_counts=True)
        return cls(rows=kinds[0], outcomes=kinds[1], days=kinds[2], counts=counts.astype(float))

    def raised(self, power: float) -> "Past":
        """The same, its chance raised to a power."""
        return replace(self, counts=power * self.counts)

    def and_then(self, later: "Past") -> "Past":
        """These pulls and later ones."""
        return Past(
            rows=np.concatenate([self.rows, later.rows]),
            outcomes=np.concatenate([self.outcomes, later.outcomes]),
            days=np.concatenate([self.days, later.days]),
            counts=np.concatenate([self.counts, later.counts]),
        )


class PastChance:
    """Chance of a past under draws of a reference; only the places it touches are worked out."""

    def __init__(self, reference: Reference, past: Past, space: OutcomeSpace) -> None:
        rows, self._row_of_kind = np.unique(past.rows, return_inverse=True)
        n_row = reference.pattern.by_row["log_upright"].shape[0]
        of_rows = [BY_ROW.index(name) * n_row + rows for name in BY_ROW_TOLD]
        others = list(reference.pattern.by_draw)
        of_draws = [len(BY_ROW) * n_row + others.index(name) for name in BY_DRAW_TOLD]
        places = np.concatenate([*of_rows, np.array(of_draws)])
        self._root = np.ascontiguousarray(reference.root[places])
        self._mean = reference.mean[places]
        self._n_row, self._past, self._space = rows.size, past, space

    def log_chance(self, standard: Standard) -> Array:
        """Log chance of all that was seen, ``(draw,)``."""
        found: Array = self._past.counts @ self._by_kind(self._draws(standard), standard.of_days)
        return found

    def slopes(self, standard: Standard) -> Array:
        """How the log chance changes with each standard normal, ``(draw, direction)``."""
        draws, of_days = self._draws(standard), standard.of_days
        now, counts = self._by_kind(draws, of_days), self._past.counts[:, None]
        of_kind = counts.T * (self._row_of_kind == np.arange(self._n_row)[:, None])
        parts = []
        for is_by_row, nudged in self._nudged(draws):
            change = (self._by_kind(nudged, of_days) - now) / NUDGE
            parts.append(of_kind @ change if is_by_row else (counts * change).sum(axis=0)[None])
        of_reference = np.concatenate(parts).T @ self._root
        of_each_day = [
            (counts * (self._by_kind(draws, nudged) - now) / NUDGE)[self._past.days == day + 1]
            for day in range(of_days.shape[1])
            for nudged in (of_days + NUDGE * np.eye(2, dtype=np.float32)[part] for part in range(2))
        ]
        of_days_flat = [change.sum(axis=0)[:, None] for change in of_each_day]
        return np.concatenate([of_reference, *of_days_flat], axis=1)

    def _draws(self, standard: Standard) -> Reduced:
        parts = (self._mean + standard.of_reference @ self._root.T).T
        n = self._n_row
        by_row = {name: parts[i * n : (i + 1) * n] for i, name in enumerate(BY_ROW_TOLD)}
        rest = parts[len(BY_ROW_TOLD) * n :]
        return Reduced(by_row=by_row, by_draw=dict(zip(BY_DRAW_TOLD, rest, strict=True)))

    def _nudged(self, draws: Reduced) -> Iterator[tuple[bool, Reduced]]:
        """The draws with one kind of place after another moved a little, rows' first."""
        by_row, by_draw = draws.by_row, draws.by_draw
        for name in BY_ROW_TOLD:
            yield True, Reduced(by_row={**by_row, name: by_row[name] + NUDGE}, by_draw=by_draw)
        for name in BY_DRAW_TOLD:
            yield False, Reduced(by_row=by_row, by_draw={**by_draw, name: by_draw[name] + NUDGE})

    def _by_kind(self, draws: Reduced, of_days: Single) -> Array:
        """Log chance of a pull of each kind, ``(kind, draw)``."""
        past = self._past
        by_day = [day_effects(draws, of_days, day) for day in range(int(past.days.max()) + 1)]
        load, logit = (np.stack([both[i] for both in by_day])[past.days] for i in range(2))
        chances = pull_chances(
            draws, self._row_of_kind, past.outcomes, (load, logit), self._space
        ).astype(np.float64)
        found: Array = np.log(np.maximum(chances, LEAST_CHANCE))
        return found
