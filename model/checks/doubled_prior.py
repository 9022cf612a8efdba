"""Each standing answer with the prior of the effect doubled in width.

That a finding stands under it is one of the conditions of a finding, so that no settled answer can
be lost here. What is judged is every standing answer: whether what is likeliest stays as likely.
"""

from collections.abc import Sequence
from math import exp
from typing import Final

import numpy as np

from model.base.percents import percent_words
from model.checks.asked import Asked
from model.checks.check import NO_QUESTION, Check, Status, not_checked
from model.checks.moves import ERRORS, HIGHER, REGION_WORDS, can_tell, moves
from model.posterior.posterior import CHAIN, Posterior
from model.questions.sensitivity import doubled_prior_weights
from model.questions.weights import Weights
from model.records.base import Record

NAME: Final = "doubled_prior"
TITLE: Final = "do the answers stand under a wider prior"
FALL_MAX: Final = 0.05
"""A look is due where the chance of what is likeliest falls by more than this."""


class Doubled(Record):
    """One answer under both priors; what is doubled is None where the draws cannot tell.

    Parameters
    ----------
    p_higher, p_higher_doubled : float
        Chance that A is higher.
    likeliest : str
        Of higher beyond the band, no practical difference, and lower beyond it.
    p_likeliest, p_likeliest_doubled : float
        Its chance.
    fall_error : float
        Monte Carlo standard error of how far that falls.
    effect, effect_doubled : float
        Mean effect: a ratio (geometric mean), or a difference of chances.
    is_ratio : bool
        Which of the two.
    is_settled : bool
        Whether it is a finding, and so has stood under this prior before.
    """

    question: str
    p_higher: float
    p_higher_doubled: float | None = None
    likeliest: str
    p_likeliest: float
    p_likeliest_doubled: float | None = None
    fall_error: float | None = None
    effect: float
    effect_doubled: float | None = None
    is_ratio: bool
    is_settled: bool

    @property
    def fall(self) -> float | None:
        """How far the chance of what is likeliest falls; below 0 where it rises."""
        doubled = self.p_likeliest_doubled
        return None if doubled is None else self.p_likeliest - doubled

    @property
    def falls(self) -> bool:
        """Whether it falls further than is taken lightly, and than simulation error lets it."""
        fall = self.fall
        return fall is not None and fall > max(FALL_MAX, ERRORS * (self.fall_error or 0.0))


class DoubledPriors(Record):
    """The check with its table."""

    check: Check
    rows: tuple[Doubled, ...]


def double_priors(posterior: Posterior, asked: Sequence[Asked]) -> DoubledPriors:
    """Double the prior of what each standing question compares."""
    rows = tuple(_doubled(posterior, one) for one in asked)
    return DoubledPriors(check=_check(rows), rows=rows)


def _doubled(posterior: Posterior, one: Asked) -> Doubled:
    shares, k = doubled_prior_weights(posterior, one.question)
    n_chain = len(np.unique(posterior.draws[CHAIN].to_numpy()))
    found = moves(one, shares, n_chain)
    region = max(REGION_WORDS, key=lambda name: found[name].before)
    higher, likeliest = found[HIGHER], found[region]
    row = Doubled(
        question=one.question.name,
        p_higher=higher.before,
        likeliest=REGION_WORDS[region],
        p_likeliest=likeliest.before,
        effect=_shown(float(one.effect.mean()), one),
        is_ratio=one.is_ratio,
        is_settled=one.is_settled,
    )
    if not can_tell(Weights(shares=shares, pareto_k=k)):
        return row
    return row.model_copy(
        update={
            "p_higher_doubled": higher.after,
            "p_likeliest_doubled": likeliest.after,
            "fall_error": likeliest.error,
            "effect_doubled": _shown(float(shares @ one.effect), one),
        }
    )


def _shown(effect: float, one: Asked) -> float:
    return exp(effect) if one.is_ratio else effect


def _check(rows: Sequence[Doubled]) -> Check:
    if not rows:
        return not_checked(NAME, TITLE, NO_QUESTION)
    fallen = [row for row in rows if row.falls]
    unknown = [row for row in rows if row.fall is None]
    status = Status.LOOK if fallen or unknown else Status.PASSED
    told = [_fallen_words(row) for row in fallen]
    told += [f"Of “{row.question}” the draws cannot tell." for row in unknown]
    if not told:
        told = [_none_words(rows)]
    if any(row.is_settled for row in rows):
        told.append("A finding must stand under this prior to be one: none can fall here.")
    return Check(
        name=NAME,
        title=TITLE,
        status=status,
        reason=" ".join(told),
        remedy="" if status is Status.PASSED else REMEDY,
    )


REMEDY: Final = "Take what these answers say as a guess that more pulls may overturn."


def _none_words(rows: Sequence[Doubled]) -> str:
    most = max(max(row.fall or 0.0, 0.0) for row in rows)
    return (
        f"With a prior twice as wide what is likeliest gets less likely by {100 * most:.0f} points "
        f"at most in {len(rows)} answers; a look is due beyond {100 * FALL_MAX:.0f}."
    )


def _fallen_words(row: Doubled) -> str:
    return (
        f"“{row.question}”: with a prior twice as wide {row.likeliest} is "
        f"{percent_words(row.p_likeliest_doubled or 0.0)} likely in place of "
        f"{percent_words(row.p_likeliest)}."
    )
