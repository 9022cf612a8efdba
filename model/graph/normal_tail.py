"""Tail and density of the standard normal from one exponential.

The likelihood needs both at every end of every range. The tail is the density
times a rational function (Mills' ratio), which saves a call of ``erfc`` with
exponentials of its own.

The rational functions are those of W. J. Cody, "Rational Chebyshev
approximations for the error function", Mathematics of Computation 23 (1969)
631-637, whose relative error is below 6e-19.
"""

from math import exp, pi, sqrt
from typing import Final

from model.graph.machine_code import compiled

SQRT_HALF: Final = sqrt(0.5)
DENSITY: Final = 1 / sqrt(2 * pi)
MILLS: Final = sqrt(pi / 2)
"""Mills' ratio over exp(y^2) erfc(y), where y is the end over the root of 2."""

NEAR: Final = 0.46875
FAR: Final = 4.0
"""Where the paper's three ranges of y meet."""


@compiled
def erf_near(y: float) -> float:
    """``erf(y)`` for ``0 <= y <= NEAR``."""
    s = y * y
    above = 1.85777706184603153e-1 * s + 3.16112374387056560e0
    above = (above * s + 1.13864154151050156e2) * s + 3.77485237685302021e2
    above = above * s + 3.20937758913846947e3
    below = (s + 2.36012909523441209e1) * s + 2.44024637934444173e2
    below = (below * s + 1.28261652607737228e3) * s + 2.84423683343917062e3
    return y * above / below


@compiled
def scaled_erfc(y: float) -> float:
    """``exp(y^2) erfc(y)`` for ``NEAR < y <= FAR``."""
    above = (2.15311535474403846e-8 * y + 5.64188496988670089e-1) * y + 8.88314979438837594e0
    above = (above * y + 6.61191906371416295e1) * y + 2.98635138197400131e2
    above = (above * y + 8.81952221241769090e2) * y + 1.71204761263407058e3
    above = (above * y + 2.05107837782607147e3) * y + 1.23033935479799725e3
    below = (y + 1.57449261107098347e1) * y + 1.17693950891312499e2
    below = (below * y + 5.37181101862009858e2) * y + 1.62138957456669019e3
    below = (below * y + 3.29079923573345963e3) * y + 4.36261909014324716e3
    below = (below * y + 3.43936767414372164e3) * y + 1.23033935480374942e3
    return above / below


@compiled
def scaled_erfc_far(y: float) -> float:
    """``exp(y^2) erfc(y)`` for ``y > FAR``."""
    r = 1 / (y * y)
    above = (1.63153871373020978e-2 * r + 3.05326634961232344e-1) * r + 3.60344899949804439e-1
    above = (above * r + 1.25781726111229246e-1) * r + 1.60837851487422766e-2
    above = above * r + 6.58749161529837803e-4
    below = (r + 2.56852019228982242e0) * r + 1.87295284992346725e0
    below = (below * r + 5.27905102951428412e-1) * r + 6.05183413124413191e-2
    below = below * r + 2.33520497626869185e-3
    return (1 / sqrt(pi) - r * above / below) / y


@compiled
def tail_and_density(z: float) -> tuple[float, float]:
    """Probability beyond an end on its own side of 0, and the density there.

    Parameters
    ----------
    z : float
        The end, in standard deviations from the mean; may be infinite.

    Returns
    -------
    tail, density : float
        ``Phi(-|z|)`` and ``phi(z)``; both 0 at an infinite end.
    """
    x = abs(z)
    density = DENSITY * exp(-0.5 * x * x)
    if density == 0.0:
        return 0.0, 0.0
    y = x * SQRT_HALF
    if y <= NEAR:
        return 0.5 - 0.5 * erf_near(y), density
    scaled = scaled_erfc(y) if y <= FAR else scaled_erfc_far(y)
    return density * MILLS * scaled, density


@compiled
def between(a: float, tail_a: float, b: float, tail_b: float) -> float:
    """``Phi(b) - Phi(a)`` from the tails of both ends, ``a <= b``.

    Ends on one side of 0 leave the difference of two small tails, so that a
    range far out keeps its digits.
    """
    if a > 0.0:
        return tail_a - tail_b
    if b < 0.0:
        return tail_b - tail_a
    return 1.0 - tail_a - tail_b
