"""How far a probability from draws may be off because there are only so many of them."""

from typing import Any

import numpy as np
from arviz_stats.base.array import array_stats
from numpy.typing import NDArray

from model.posterior.posterior import CHAIN, Posterior

Array = NDArray[np.float64]

_statistics: Any = array_stats  # ships no types


def indicator_mcse(indicator: Array, posterior: Posterior) -> float:
    """Monte Carlo standard error of a probability, from the effective size of its indicator.

    Of weighted draws the one of a ratio of means: what each of the fit's draws adds to the
    probability is its weight times how far its indicator lies from it, so that uneven weights
    and slow chains both count.

    Parameters
    ----------
    indicator : (draw,) array
        1 where it is so.
    """
    p = float(indicator.mean())
    weighed = posterior.weighed
    if p in {0.0, 1.0}:  # no draw outside: at most a few, if one had more draws
        return 1 / (indicator.size if weighed is None else weighed.effective_draws)
    by_draw, chain = indicator - p, posterior.draws[CHAIN].to_numpy()
    if weighed is not None:
        chain = weighed.chain
        by_draw = np.bincount(weighed.source, weights=by_draw, minlength=chain.size)
    by_chain = by_draw.reshape(len(np.unique(chain)), -1)
    ess = float(_statistics.ess(by_chain, method="mean", chain_axis=0, draw_axis=1))
    return float(np.sqrt(np.mean(by_draw**2) / ess))
