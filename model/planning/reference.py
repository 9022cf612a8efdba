"""The smooth density from which rehearsed truths and their weighted draws both come.

The reduced draws of a fit, unbounded in every place, are taken as normal with their mean and
covariance. So there are as many fresh draws as one likes, a truth is never one of the draws that
are weighted to find it, and draws can be moved exactly (:mod:`model.planning.moves`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.planning.reduced import Reduced

Array = NDArray[np.float64]
Single = NDArray[np.float32]


@dataclass(frozen=True, kw_only=True)
class Reference:
    """A normal density of reduced draws.

    Parameters
    ----------
    pattern : Reduced
        Whose rows and names the vectors have.
    mean : (place,) array
    root : (place, direction) array
        From independent standard normals to a vector's distance from the mean.
    """

    pattern: Reduced
    mean: Single
    root: Single

    @classmethod
    def of(cls, draws: Reduced, still: frozenset[str] = frozenset()) -> "Reference":
        """The normal density with the draws' mean and covariance.

        Parameters
        ----------
        still : frozenset of str
            What of the draws may stay at its mean, since nothing that is asked or pulled goes by
            it: fewer directions to move in.
        """
        vectors = draws.vectors()
        mean = vectors.mean(axis=0)
        away = np.where(draws.places_of(still), 0.0, vectors - mean)
        values, directions = np.linalg.eigh(away.T @ away / len(away))
        kept = values > values[-1] * 1e-10  # rows that are sums of others leave no direction
        root = directions[:, kept] * np.sqrt(values[kept])
        return cls(pattern=draws, mean=mean.astype(np.float32), root=root.astype(np.float32))

    @property
    def n_direction(self) -> int:
        """Independent directions."""
        return len(self.root.T)

    def draw(self, n_draw: int, rng: np.random.Generator) -> Single:
        """Standard normals of new draws, ``(draw, direction)``."""
        return rng.standard_normal((n_draw, self.n_direction), dtype=np.float32)

    def reduced(self, standard: Single) -> Reduced:
        """The draws that standard normals stand for."""
        return self.pattern.like(self.mean + standard @ self.root.T)
