"""Each bite's own chance of having been upright, and what moved it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from model.arrays.campaign_arrays import bites_that_count, campaign_arrays, used_pulls
from model.outcomes.likelihood import DRAWS_AT_ONCE
from model.outcomes.memberships import PARTS, mode_log_odds
from model.outcomes.prediction import sigmoid
from model.posterior.posterior import Posterior
from model.questions.effect import parameters_of
from model.questions.passed import require_passed
from model.questions.setting_modes import Place
from model.records.pull import Ending, ModeSeen, Pull

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Step:
    """The chance of upright once one more part is known; see :data:`PARTS`."""

    part: str
    p_upright: float


@dataclass(frozen=True, kw_only=True)
class BiteModes:
    """One bite of one pull that set.

    Parameters
    ----------
    pull : str
        ``outing/code``.
    bites : int
        How many bites that pull has.
    seen : ModeSeen or None
        As noted in the log.
    steps : tuple of Step
        The chance before anything of the bite is known, then with each part of
        which something was recorded. The first is what its set-up and day say;
        all pulls taught that, this one among them.
    """

    pull: str
    bite: int
    bites: int
    place: Place
    ending: Ending
    seen: ModeSeen | None
    has_camera: bool | None
    steps: tuple[Step, ...]

    @property
    def p_upright(self) -> float:
        """Chance that it was upright, given everything seen of its pull."""
        return self.steps[-1].p_upright

    @property
    def moved_by(self) -> dict[str, float]:
        """What each part added to the chance; the first is where it began."""
        before = [0.0, *(step.p_upright for step in self.steps)]
        return {
            step.part: step.p_upright - earlier
            for step, earlier in zip(self.steps, before, strict=False)
        }

    @property
    def is_at_odds(self) -> bool:
        """Whether it was noted in one mode and is likelier to have been in the other."""
        return self.seen is not None and (self.seen is ModeSeen.UPRIGHT) != (self.p_upright >= 0.5)


def bite_modes(posterior: Posterior, pulls: Sequence[Pull]) -> tuple[BiteModes, ...]:
    """Chance of upright of every bite that was seen, in the order of the pulls.

    Parameters
    ----------
    posterior : Posterior
    pulls : sequence of Pull
        Those the posterior rests on; void ones, and those that never set, have
        no bite to tell of.

    Raises
    ------
    FitFailed
        If the draws failed their fit check.
    """
    require_passed(posterior)
    arrays = campaign_arrays(posterior.campaign, pulls)
    told, chances = _chances(posterior, arrays)
    is_there = arrays["is_unseen"].to_numpy() == 0
    bites = [
        (pull, bite)
        for pull in used_pulls(pulls)
        for bite in bites_that_count(pull)
        if bite is not None
    ]
    found = {
        (pull.id, bite.number): BiteModes(
            pull=pull.id,
            bite=bite.number,
            bites=len(pull.bites),
            place=Place.of(posterior.campaign, pull),
            ending=bite.ending,
            seen=bite.mode,
            has_camera=bite.has_camera,
            steps=tuple(_steps(told[:, row], chances[:, row])),
        )
        for (pull, bite), row in zip(bites, np.flatnonzero(is_there), strict=True)
    }
    order = [(pull.id, bite.number) for pull in pulls for bite in pull.bites]
    return tuple(found[key] for key in order if key in found)


def _chances(posterior: Posterior, arrays: xr.Dataset) -> tuple[NDArray[np.bool_], Array]:
    """Whether each part says anything, and the chance once it is known; ``(part, bite)``."""
    parameters = parameters_of(posterior)
    n_draws = posterior.draws.sizes["draw"]
    told = np.zeros((len(PARTS), arrays.sizes["bite"]), dtype=bool)
    total = np.zeros(told.shape)
    for start in range(0, n_draws, DRAWS_AT_ONCE):
        some = {name: drawn[start : start + DRAWS_AT_ONCE] for name, drawn in parameters.items()}
        parts = np.stack(list(mode_log_odds(some, arrays).values()))
        told |= (parts != 0).any(axis=1)
        total += sigmoid(np.cumsum(parts, axis=0)).sum(axis=1)
    return told, total / n_draws


def _steps(is_told: NDArray[np.bool_], chances: Array) -> Iterator[Step]:
    for index, part in enumerate(PARTS):
        if index == 0 or is_told[index]:
            yield Step(part=part, p_upright=float(chances[index]))
