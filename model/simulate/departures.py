"""How a world departs from what the model supposes: heavier tails, a third mode, and the like.

By default it does not. What departs is drawn on the water as all else is, so that the
answers of a model that knows nothing of it can be held against the truth.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm
from scipy.stats import t as student

from model.base.errors import InputError

Array = NDArray[np.float64]

QUARTILE: Final = 0.75
DEVIATES: Final = 4001
"""Even probabilities over which a normal deviation is averaged."""


@dataclass(frozen=True, kw_only=True)
class ThirdMode:
    """A way to set besides upright and on its side; at even odds it looks like either.

    Parameters
    ----------
    share : float
        Chance that a bite is one of these, whatever is pulled; from 0 to 1.
    gaps : float
        How far its load lies below that on its side, in units of the anchor's own gap
        between the two modes (log scale). Its scatter is that on its side.
    """

    share: float
    gaps: float


@dataclass(frozen=True, kw_only=True)
class Departures:
    """What of a world is not as the model supposes; nothing by default.

    Parameters
    ----------
    tail_degrees : float or None
        Degrees of freedom of a Student's t that stands for the normal scatter of log
        capacity within a mode, with the same quartiles.
    third : ThirdMode or None
        A third mode.
    drift : float
        Log load gained from the first to the last pull of every day; see ``Plan.through_day``.
    thrust_factors : tuple of float
        True over stated thrust of each step of the ladder; empty where the steps are as stated.

    Raises
    ------
    InputError
        If a number is out of its range.
    """

    tail_degrees: float | None = None
    third: ThirdMode | None = None
    drift: float = 0.0
    thrust_factors: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        faults = []
        if self.tail_degrees is not None and self.tail_degrees <= 1:
            faults.append(f"tail_degrees is {self.tail_degrees}: no mean below 1")
        if self.third is not None and not 0 <= self.third.share <= 1:
            faults.append(f"the third mode's share is {self.third.share}")
        if any(factor <= 0 for factor in self.thrust_factors):
            faults.append("a thrust factor is not above 0")
        if faults:
            raise InputError("; ".join(faults), hint="See the class's parameters.")

    @property
    def third_share(self) -> float:
        """Chance that a bite is of the third mode; 0 without one."""
        return 0.0 if self.third is None else self.third.share

    def scattered(self, mean: float, sd: float, rng: np.random.Generator) -> float:
        """One draw of log capacity within a mode: a normal one unless the tails are heavier."""
        if self.tail_degrees is None:
            return rng.normal(mean, sd)
        z = rng.normal()
        # By its chance, so that the same stream of chance gives the same pull, only further out.
        away = student.isf(norm.sf(abs(z)), self.tail_degrees) * _tail_scale(self.tail_degrees)
        return mean + sd * float(np.copysign(away, z))

    def chance_above(self, value: float, mean: float, sd: float, other_sd: float) -> float:
        """Chance that a draw of :meth:`scattered` plus a normal deviation is above a value.

        Parameters
        ----------
        other_sd : float
            Standard deviation of the normal one that is added: of day and pull.
        """
        if self.tail_degrees is None:
            return float(norm.sf(value, mean, np.hypot(sd, other_sd)))
        others = other_sd * norm.ppf((np.arange(DEVIATES) + 0.5) / DEVIATES)
        scale = sd * _tail_scale(self.tail_degrees)
        return float(np.mean(student.sf((value - mean - others) / scale, self.tail_degrees)))

    def stated_kn(self, true_kn: float, loads_kn: Sequence[float]) -> float:
        """What the ladder states of a true thrust: by log between its steps, as at the ends beyond.

        Parameters
        ----------
        loads_kn : sequence of float
            The steps as stated, kN.

        Raises
        ------
        InputError
            If the factors are not one for each step, or the true steps do not rise.
        """
        if not self.thrust_factors:
            return true_kn
        if len(self.thrust_factors) != len(loads_kn):
            raise InputError(
                f"{len(self.thrust_factors)} thrust factors for {len(loads_kn)} steps",
                hint="Give one for each step of the ladder.",
            )
        true_steps = np.log(loads_kn) + np.log(self.thrust_factors)
        if (np.diff(true_steps) <= 0).any():
            raise InputError("the true steps do not rise", hint="Use factors closer to 1.")
        # The log of stated over true thrust; beyond the ends it stays as it is there.
        shift = np.interp(np.log(true_kn), true_steps, -np.log(self.thrust_factors))
        return true_kn * float(np.exp(shift))


def _tail_scale(degrees: float) -> float:
    """Scale of the t whose quartiles are those of a standard normal."""
    return float(norm.ppf(QUARTILE) / student.ppf(QUARTILE, degrees))


AS_MODELLED: Final = Departures()
"""A world as the model supposes it."""
