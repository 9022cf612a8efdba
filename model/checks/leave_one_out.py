"""Leave one pull out: how far the draws can tell what would be known without it.

All bites of a pull go together, and the pull effect that they share is integrated out of its
likelihood: left in the draws, it would be known from the very pull that is left out, and the
weights would have no mean. Weights by PSIS (Vehtari et al. 2017 and 2024).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from model.posterior.posterior import LOG_LIKELIHOOD, Posterior
from model.questions.weights import Weights, smoothed_weights

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """Weights of the draws without each pull.

    Parameters
    ----------
    pulls : tuple of str
        ``outing/code`` of each, in the order of the draws' dim ``pull``.
    weights : tuple of Weights
        With its Pareto k, of each.
    elpd : (pull,) array
        Log of the chance that the others gave to what was recorded of it; a density for buried
        rode and peaks.
    """

    pulls: tuple[str, ...]
    weights: tuple[Weights, ...]
    elpd: Array

    @property
    def pareto_k(self) -> Array:
        """Shape of the weights' tail, ``(pull,)``."""
        return np.array([one.pareto_k for one in self.weights])

    @property
    def shares(self) -> Array:
        """Weight of each draw without each pull, ``(draw, pull)``, summing to 1 over draws."""
        return np.stack([one.shares for one in self.weights], axis=1)

    @property
    def asks_for_refit(self) -> tuple[str, ...]:
        """Pulls of which the draws cannot tell, those that ask most first."""
        order = np.argsort(-self.pareto_k)
        return tuple(self.pulls[i] for i in order if not self.weights[i].is_within_limit)


def leave_each_out(posterior: Posterior) -> LeftOut:
    """Weigh the draws of a posterior for each of its pulls left out."""
    told = posterior.draws[LOG_LIKELIHOOD].to_numpy()
    weights = tuple(smoothed_weights(-column) for column in told.T)
    elpd = [logsumexp(column, b=one.shares) for column, one in zip(told.T, weights, strict=True)]
    names = posterior.draws["pull"].to_numpy()
    return LeftOut(pulls=tuple(str(name) for name in names), weights=weights, elpd=np.array(elpd))
