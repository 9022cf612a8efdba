"""Power-scaling sensitivity of each standing answer (Kallioinen et al. 2024).

The prior, or the likelihood, is raised to a power near 1 by weighing the draws, and how far the
answer's distribution moves is told as a distance for each doubling of the power.
"""

import warnings
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from arviz_stats.base.array import array_stats
from numpy.typing import NDArray

from model.checks.asked import Asked, furthest
from model.checks.check import Check, Status, worst
from model.questions.weights import ALIKE, Weights, smoothed_weights
from model.records.base import Record

Array = NDArray[np.float64]

_statistics: Any = array_stats  # ships no types

NAME: Final = "sensitivity"
TITLE: Final = "do the pulls make the answers, or the priors"
POWERS: Final = (0.99, 1.01)
"""As the method's authors take them."""
SENSITIVE: Final = 0.05
"""From here on an answer counts as sensitive, as the method's authors take it."""
SHOWN_POWERS: Final = (0.8, 1.25)
"""Powers of the prior at which the chances themselves are told: a prior a little weaker or
stronger, as far as weights of the draws reach."""
MOVES: Final = 0.05
"""A chance that moves by this much between them is owed to the priors as well."""
SHUFFLES: Final = 20
"""Shufflings of the draws, the furthest of which tells what simulation alone brings about."""
SEED: Final = 20_261_131


class Sensitivity(Record):
    """Of one answer, how far it moves with the prior and with the likelihood.

    Parameters
    ----------
    prior, likelihood : float
        Cumulative Jensen-Shannon distance for each doubling of the power, 0 and up.
    prior_noise, likelihood_noise : float
        The same of draws that have nothing to do with it: below this nothing is told.
    moved : float or None
        Furthest that a chance moves with the priors at either of ``SHOWN_POWERS``; None where
        the draws cannot tell.
    keeps_finding : bool
        Whether a settled answer stays settled at both, as far as the draws can tell.
    """

    question: str
    prior: float
    prior_noise: float
    likelihood: float
    likelihood_noise: float
    moved: float | None
    keeps_finding: bool

    @property
    def is_by_prior(self) -> bool:
        """Whether the prior moves it."""
        return self.prior >= max(SENSITIVE, self.prior_noise)

    @property
    def is_by_pulls(self) -> bool:
        """Whether the pulls move it."""
        return self.likelihood >= max(SENSITIVE, self.likelihood_noise)

    @property
    def is_owed_to_priors(self) -> bool:
        """Whether it says something else under other priors, or its pulls say next to nothing."""
        is_moved = self.moved is None or self.moved >= MOVES or not self.keeps_finding
        return self.is_by_prior and (is_moved or not self.is_by_pulls)


class Sensitivities(Record):
    """The check with its table."""

    check: Check
    rows: tuple[Sensitivity, ...]


def find_sensitivities(
    asked: Sequence[Asked], log_prior: Array, log_likelihood: Array, n_chain: int
) -> Sensitivities:
    """Power-scale every standing answer.

    Parameters
    ----------
    log_prior : (draw,) array
        From :func:`model.checks.log_prior.log_prior`.
    log_likelihood : (draw,) array
        Summed over the pulls.
    """
    rng = np.random.default_rng(SEED)
    scaled = [scaled_weights(component) for component in (log_prior, log_likelihood)]
    other = [smoothed_weights((power - 1) * log_prior) for power in SHOWN_POWERS]
    rows = []
    for one in asked:
        told = []
        for weights in scaled:
            noise = max(
                power_sensitivity(rng.permutation(one.effect), weights, n_chain)
                for _ in range(SHUFFLES)
            )
            told += [power_sensitivity(one.effect, weights, n_chain), noise]
        moved, keeps = _under(one, other)
        rows.append(
            Sensitivity(
                question=one.question.name,
                prior=told[0],
                prior_noise=told[1],
                likelihood=told[2],
                likelihood_noise=told[3],
                moved=moved,
                keeps_finding=keeps,
            )
        )
    return Sensitivities(check=_check(asked, rows), rows=tuple(rows))


def scaled_weights(component: Array) -> tuple[Array, Array]:
    """Weights of the draws with a log density raised to each of ``POWERS``."""
    if np.ptp(component) < ALIKE:  # nothing to scale, and no tail to smooth
        alike = np.full(component.size, 1 / component.size)
        return alike, alike
    found = []
    for power in POWERS:
        with warnings.catch_warnings():
            # Of few draws it says that their tail is short: what is known of them says the noise.
            warnings.simplefilter("ignore", UserWarning)
            log_weights = _statistics.power_scale_lw(component, alpha=power)
        weights = np.exp(log_weights - np.max(log_weights))
        found.append(weights / weights.sum())
    return found[0], found[1]


def power_sensitivity(values: Array, weights: tuple[Array, Array], n_chain: int) -> float:
    """Distance that values move for each doubling of the power."""
    if np.ptp(values) == 0.0:  # the model knows of nothing by which they could differ
        return 0.0
    lower, upper = (one.reshape(n_chain, -1) for one in weights)
    by_chain = values.reshape(n_chain, -1)
    return float(_statistics.power_scale_sense(by_chain, lower, upper, *POWERS))


def _under(one: Asked, other: Sequence[Weights]) -> tuple[float | None, bool]:
    """Furthest that a chance moves under other priors, and whether a finding is kept."""
    if not all(weights.is_within_limit for weights in other):
        return None, True
    shares = [one.shares(weights.shares) for weights in other]
    keeps = not one.is_settled or all(one.keeps_finding(after) for after in shares)
    return max(furthest(one.shares(), after) for after in shares), keeps


def _check(asked: Sequence[Asked], rows: Sequence[Sensitivity]) -> Check:
    is_settled = {one.question.name: one.is_settled for one in asked}
    owed = [row for row in rows if row.is_owed_to_priors]
    is_empty = any(is_settled[row.question] and not row.is_by_pulls for row in owed)
    status = worst(
        [Status.FAILED if is_empty else Status.PASSED, Status.LOOK if owed else Status.PASSED]
    )
    return Check(
        name=NAME,
        title=TITLE,
        status=status,
        reason=" ".join(_words(row) for row in owed) if owed else _none_words(rows),
        remedy=REMEDY if owed else "",
    )


REMEDY: Final = (
    "Pull more of what these answers are about, or say with each of them that it rests on the "
    "priors as well."
)


def _none_words(rows: Sequence[Sensitivity]) -> str:
    most = max((row.moved or 0.0 for row in rows if row.is_by_prior), default=None)
    if most is None:
        return f"None of {len(rows)} answers moves with the priors beyond simulation error."
    count = sum(row.is_by_prior for row in rows)
    return (
        f"{count} of {len(rows)} answers move{'s' if count == 1 else ''} with the priors, but no "
        f"chance by more than {100 * most:.0f} points where all priors are a fifth weaker or a "
        "quarter stronger."
    )


def _words(row: Sensitivity) -> str:
    how = f"{row.prior:.2f} for the priors and {row.likelihood:.2f} for the pulls"
    if not row.is_by_pulls:
        return f"“{row.question}” rests on the priors more than on the pulls ({how})."
    if row.moved is None:
        return f"“{row.question}” moves with both ({how}); how far, the draws cannot tell."
    return (
        f"“{row.question}” moves with both ({how}): with all priors a fifth weaker or a quarter "
        f"stronger a chance moves by {100 * row.moved:.0f} points."
    )
