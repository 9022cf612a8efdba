"""The kernel's log-space half: probabilities too small to be held as they are."""

from math import erfc, exp, expm1, inf, log, log1p, pi, sqrt
from typing import Any, Final

from model.graph.machine_code import compiled

SQRT_HALF: Final = sqrt(0.5)
LOG_SQRT_2PI: Final = 0.5 * log(2 * pi)
LOG_HALF: Final = log(0.5)
FAR_TAIL: Final = -30.0
"""Below this erfc nears underflow; the asymptotic series is exact to 1e-15 there."""


@compiled
def log_ndtr(z: float) -> float:
    """Log of the standard normal cdf."""
    if z > 0:
        return log1p(-0.5 * erfc(z * SQRT_HALF))
    if z > FAR_TAIL:
        return LOG_HALF + log(erfc(-z * SQRT_HALF))
    r = 1 / (z * z)
    series = log1p(-r * (1 - 3 * r * (1 - 5 * r * (1 - 7 * r * (1 - 9 * r)))))
    return -0.5 * z * z - LOG_SQRT_2PI - log(-z) + series


@compiled
def log1mexp(log_p: float) -> float:
    """``log(1 - exp(log_p))`` for ``log_p < 0``."""
    return log(-expm1(log_p)) if log_p > LOG_HALF else log1p(-exp(log_p))


@compiled
def log_sigmoid(logit: float) -> float:
    """Log of the inverse logit."""
    return -log1p(exp(-logit)) if logit > 0 else logit - log1p(exp(logit))


@compiled
def log_interval(a: float, b: float) -> float:
    """Log of ``Phi(b) - Phi(a)``; infinite ends allowed, a < b."""
    if a == -inf:
        return 0.0 if b == inf else log_ndtr(b)
    if b == inf:
        return log_ndtr(-a)
    # Both ends on the side of zero where tails are small, or a range far above
    # the mean would read as 1 - 1.
    low, high = (-b, -a) if a + b > 0 else (a, b)
    log_high = log_ndtr(high)
    return log_high + log1mexp(min(log_ndtr(low) - log_high, -1e-300))


@compiled
def log_density(z: float) -> float:
    """Log of the standard normal density; minus infinity at an infinite end."""
    return -inf if z in (inf, -inf) else -0.5 * z * z - LOG_SQRT_2PI


@compiled
def mode_parts_in_tail(
    prepared: Any, shift: float, spoilt: float, log_spoilt: float, out: Any
) -> float:
    """The same as :func:`model.graph.kernel.mode_parts`, in log space."""
    log_sound, log_share = log1p(-spoilt), log(spoilt) + log_spoilt
    total = -inf
    for mode in range(2):
        z = shift / prepared[mode, 1]
        a, b = prepared[mode, 2] - z, prepared[mode, 3] - z
        sound = prepared[mode, 0] + log_sound
        out[mode, 1] = sound + log_interval(a, b)
        out[mode, 2], out[mode, 3] = sound + log_density(a), sound + log_density(b)
        larger = max(out[mode, 1], prepared[mode, 0] + log_share)
        smaller = min(out[mode, 1], prepared[mode, 0] + log_share)
        out[mode, 0] = larger + log1p(exp(smaller - larger))
        larger, smaller = max(total, out[mode, 0]), min(total, out[mode, 0])
        total = larger + log1p(exp(smaller - larger))
    for mode in range(2):
        for part in range(4):
            out[mode, part] = exp(out[mode, part] - total)
    return total


@compiled
def reset_term(
    log_bite: float, log_resets: float, is_reset: float, is_unseen: float
) -> tuple[float, float]:
    """A bite's term with its re-set chance, and the term's derivative by `log_bite`."""
    if is_reset == 0.0:
        return log_bite, 1.0
    if is_unseen == 0.0:
        return log_bite + log_resets, 1.0
    log_again = min(log_resets + log_bite, -1e-12)
    return log1mexp(log_again), exp(log_again) / expm1(log_again)
