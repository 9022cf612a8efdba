"""Power-scaling sensitivity of each standing answer (Kallioinen et al. 2024).

The prior, or the likelihood, is raised to a power near 1 by weighing the draws, and how far the
answer's distribution moves is told as a distance for each doubling of the power.
"""

import warnings
from collections.abc import Sequence
from math import log
from typing import Any, Final

import numpy as np
from arviz_stats.base.array import array_stats
from numpy.typing import NDArray

from model.checks.asked import Asked
from model.checks.check import NO_QUESTION, Check, Status, not_checked, worst
from model.checks.moves import ERRORS, Move, can_tell, furthest_move, moves
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
WEAKER: Final = {
    0.8: "a fifth weaker or a quarter stronger",
    0.9: "a tenth weaker or a ninth stronger",
    0.95: "a twentieth weaker or as much stronger",
}
"""Powers of the prior at which the chances themselves are told, each with its inverse. The first
one is taken that the weighed draws reach: many priors together leave few of them effective."""
MOVES: Final = 0.05
"""A chance that moves by this much at the first of these powers is owed to the priors as well; at
the others by as much less as these are nearer to 1."""
ROLLS: Final = 20
"""Times that draws are moved along their chains, so that they have nothing to do with the weights
and are as slow as they were: the furthest says what simulation alone brings about."""
SEED: Final = 20_261_131


class Sensitivity(Record):
    """Of one answer, how far it moves with the prior and with the likelihood.

    Parameters
    ----------
    prior, likelihood : float
        Cumulative Jensen-Shannon distance for each doubling of the power, 0 and up.
    prior_noise, likelihood_noise : float
        The same of draws that have nothing to do with it: below this nothing is told.
    moved, moved_error : float or None
        Furthest that a chance moves with the priors a little weaker or stronger, and the standard
        error of that; None where the draws cannot tell.
    least : float
        Move from which it is owed to the priors as well.
    keeps_finding : bool
        Whether a settled answer stays settled at both, as far as the draws can tell.
    """

    question: str
    prior: float
    prior_noise: float
    likelihood: float
    likelihood_noise: float
    moved: float | None
    moved_error: float | None
    least: float
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
    def is_moved(self) -> bool:
        """Whether it says something else under other priors, beyond simulation error."""
        if self.moved is None or not self.moved > ERRORS * (self.moved_error or 0.0):
            return False
        return self.moved >= self.least or not self.keeps_finding

    @property
    def is_made_by_priors(self) -> bool:
        """Whether its pulls say next to nothing, and less than the priors do."""
        return self.is_by_prior and not self.is_by_pulls and self.likelihood < self.prior

    @property
    def is_empty(self) -> bool:
        """Whether the priors make it, and not even by the method's own limit the pulls move it.

        Between that limit and a large noise it is not known how much they do.
        """
        return self.is_made_by_priors and self.likelihood < SENSITIVE

    @property
    def is_owed_to_priors(self) -> bool:
        """Whether it says something else under other priors, or its pulls say next to nothing."""
        return self.is_by_prior and (self.is_moved or self.is_made_by_priors)

    @property
    def is_untold(self) -> bool:
        """Whether it moves with the priors, but how far, or what the pulls do, cannot be told."""
        is_unknown = self.moved is None or not self.is_by_pulls
        return self.is_by_prior and is_unknown and not self.is_owed_to_priors


class Sensitivities(Record):
    """The check with its table.

    Parameters
    ----------
    weaker : float or None
        Power of the priors, of ``WEAKER``, at which and at whose inverse chances are told.
    """

    check: Check
    rows: tuple[Sensitivity, ...]
    weaker: float | None

    @property
    def weaker_words(self) -> str:
        """What the priors are there; empty where the draws reach none."""
        return "" if self.weaker is None else WEAKER[self.weaker]


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
    weaker, other = within_reach(log_prior)
    least = MOVES if weaker is None else MOVES * log(weaker) / log(min(WEAKER))
    rows = []
    for one in asked:
        told = []
        for weights in scaled:
            noise = max(
                power_sensitivity(_rolled(one.effect, n_chain, rng), weights, n_chain)
                for _ in range(ROLLS)
            )
            told += [power_sensitivity(one.effect, weights, n_chain), noise]
        move, keeps = _under(one, other, n_chain)
        rows.append(
            Sensitivity(
                question=one.question.name,
                prior=told[0],
                prior_noise=told[1],
                likelihood=told[2],
                likelihood_noise=told[3],
                moved=None if move is None else move.size,
                moved_error=None if move is None else move.error,
                least=least,
                keeps_finding=keeps,
            )
        )
    return Sensitivities(check=_check(asked, rows, weaker), rows=tuple(rows), weaker=weaker)


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


def within_reach(log_prior: Array) -> tuple[float | None, tuple[Weights, ...]]:
    """The strongest of ``WEAKER`` powers that the draws reach with its inverse, and weights."""
    for power in WEAKER:
        other = tuple(smoothed_weights((one - 1) * log_prior) for one in (power, 1 / power))
        if all(can_tell(weights) for weights in other):
            return power, other
    return None, ()


def _under(one: Asked, other: Sequence[Weights], n_chain: int) -> tuple[Move | None, bool]:
    """Furthest that a chance moves under other priors, and whether a finding is kept."""
    if not other:
        return None, True
    found = [furthest_move(moves(one, weights.shares, n_chain)) for weights in other]
    keeps = [one.keeps_finding(one.shares(weights.shares)) for weights in other]
    return max(found, key=lambda move: move.size), not one.is_settled or all(keeps)


def _rolled(values: Array, n_chain: int, rng: np.random.Generator) -> Array:
    """Each chain moved along by a lag of its own: as slow as it was, and of no other's making."""
    chains = values.reshape(n_chain, -1)
    least = chains.shape[1] // 10
    lags = rng.integers(least, chains.shape[1] - least, size=n_chain)
    return np.concatenate([np.roll(chain, lag) for chain, lag in zip(chains, lags, strict=True)])


def _check(asked: Sequence[Asked], rows: Sequence[Sensitivity], weaker: float | None) -> Check:
    if not rows:
        return not_checked(NAME, TITLE, NO_QUESTION)
    is_settled = {one.question.name: one.is_settled for one in asked}
    owed = [row for row in rows if row.is_owed_to_priors]
    untold = [row for row in rows if row.is_untold]
    is_empty = any(is_settled[row.question] and row.is_empty for row in owed)
    status = worst(
        [
            Status.FAILED if is_empty else Status.PASSED,
            Status.LOOK if owed or untold else Status.PASSED,
        ]
    )
    told = [_words(row, weaker) for row in (*owed, *untold)]
    remedies = [*([REMEDY] if owed else []), *([UNTOLD_REMEDY] if untold else [])]
    return Check(
        name=NAME,
        title=TITLE,
        status=status,
        reason=" ".join(told or [_none_words(rows, weaker)]),
        remedy=" ".join(remedies),
    )


REMEDY: Final = (
    "Pull more of what these answers are about, or say with each of them that it rests on the "
    "priors as well."
)
UNTOLD_REMEDY: Final = (
    "Where the draws cannot tell, say with the answer that it leans on the priors by an unknown "
    "amount: more draws would tell, and not more pulls."
)


def _none_words(rows: Sequence[Sensitivity], weaker: float | None) -> str:
    most = max((row.moved or 0.0 for row in rows if row.is_by_prior), default=None)
    if most is None or weaker is None:
        return f"None of {len(rows)} answers moves with the priors beyond simulation error."
    count = sum(row.is_by_prior for row in rows)
    return (
        f"{count} of {len(rows)} answers move{'s' if count == 1 else ''} with the priors, but no "
        f"chance by more than {100 * most:.0f} points where all priors are {WEAKER[weaker]}."
    )


def _words(row: Sensitivity, weaker: float | None) -> str:
    how = f"{row.prior:.2f} for the priors and {row.likelihood:.2f} for the pulls"
    if row.is_made_by_priors:
        return f"“{row.question}” rests on the priors more than on the pulls ({how})."
    both = "both" if row.is_by_pulls else "the priors"
    blind = "" if row.is_by_pulls else " The draws cannot tell how much the pulls move it."
    if row.moved is None or weaker is None:
        return f"“{row.question}” moves with {both} ({how}); how far, the draws cannot tell.{blind}"
    return (
        f"“{row.question}” moves with {both} ({how}): with all priors {WEAKER[weaker]} a chance "
        f"moves by {100 * row.moved:.0f} points.{blind}"
    )
