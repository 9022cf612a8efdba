"""Exact split of a typical load's ratio: through load, through load once upright, through mode."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.outcomes.measures import typical
from model.outcomes.prediction import Prediction, sigmoid
from model.questions.answer import Split
from model.questions.effect import UNITS, Predictions, estimate

Array = NDArray[np.float64]

MIDPOINT: Final = 0.5
"""Share of A in the values at which the two changes of a product are weighed.

With the log load on its side L, the gap G and the chance to be upright p, a
typical log load is L + p G. Only at the midpoints of p and G do the changes of
p and of G add up to the change of their product.
"""


def split_parts(a: Prediction, b: Prediction) -> dict[str, Array]:
    """Log ratios ``(draw, row)`` whose sum is the typical load's log ratio, A against B.

    Raises
    ------
    ArithmeticError
        If they do not add up to it.
    """
    p_a, p_b = sigmoid(a.logit_upright), sigmoid(b.logit_upright)
    gap_a, gap_b = a.log_upright - a.log_on_side, b.log_upright - b.log_on_side
    parts = {
        "load": a.log_on_side - b.log_on_side,
        "upright_only": _between(p_a, p_b) * (gap_a - gap_b),
        "through_mode": _between(gap_a, gap_b) * (p_a - p_b),
    }
    if not np.allclose(sum(parts.values()), typical(a) - typical(b)):
        raise ArithmeticError("the parts of an effect do not add up to it")
    return parts


def _between(a: Array, b: Array) -> Array:
    return MIDPOINT * a + (1 - MIDPOINT) * b


def split_of(sides: Predictions) -> Split:
    """The split averaged over anchors and seabeds, as ratios."""
    parts = split_parts(sides.a, sides.b)
    shown = {
        name: estimate(np.exp(part.mean(axis=1)), UNITS["ratio"]) for name, part in parts.items()
    }
    return Split(**shown)
