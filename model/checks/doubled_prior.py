"""Each standing answer with the prior of the effect doubled in width."""

from collections.abc import Sequence
from typing import Final

from model.base.percents import percent_words
from model.checks.asked import Asked, furthest
from model.checks.check import Check, Status, worst
from model.posterior.posterior import Posterior
from model.questions.flags import PRIOR_SHIFT_MAX
from model.questions.sensitivity import doubled_prior_weights
from model.questions.weights import pareto_limit
from model.records.base import Record

NAME: Final = "doubled_prior"
TITLE: Final = "do the answers stand under a wider prior"


class Doubled(Record):
    """One answer under both priors.

    Parameters
    ----------
    p_higher, p_higher_doubled : float
        Chance that A is higher; the second None where the draws cannot tell.
    moved : float or None
        Furthest that a chance of its regions moved.
    keeps_finding : bool or None
        Whether a settled answer stays settled; None where there is none, or it cannot be told.
    """

    question: str
    p_higher: float
    p_higher_doubled: float | None
    moved: float | None
    keeps_finding: bool | None


class DoubledPriors(Record):
    """The check with its table."""

    check: Check
    rows: tuple[Doubled, ...]


def double_priors(posterior: Posterior, asked: Sequence[Asked]) -> DoubledPriors:
    """Double the prior of what each standing question compares."""
    rows = tuple(_doubled(posterior, one) for one in asked)
    return DoubledPriors(check=_check(rows), rows=rows)


def _doubled(posterior: Posterior, one: Asked) -> Doubled:
    before = one.shares()
    weights, k = doubled_prior_weights(posterior, one.question)
    if not k <= pareto_limit(one.effect.size):
        return Doubled(
            question=one.question.name,
            p_higher=before.higher,
            p_higher_doubled=None,
            moved=None,
            keeps_finding=None,
        )
    after = one.shares(weights)
    return Doubled(
        question=one.question.name,
        p_higher=before.higher,
        p_higher_doubled=after.higher,
        moved=furthest(before, after),
        keeps_finding=one.keeps_finding(after) if one.is_settled else None,
    )


def _check(rows: Sequence[Doubled]) -> Check:
    lost = [row for row in rows if row.keeps_finding is False]
    moved = [row for row in rows if row.moved is not None and row.moved >= PRIOR_SHIFT_MAX]
    unknown = [row for row in rows if row.moved is None]
    status = worst(
        [
            Status.FAILED if lost else Status.PASSED,
            Status.LOOK if moved or unknown else Status.PASSED,
        ]
    )
    told = [f"“{row.question}” would no longer be settled." for row in lost]
    told += [_moved_words(row) for row in moved if row not in lost]
    told += [f"Of “{row.question}” the draws cannot tell." for row in unknown]
    if not told:
        most = max((row.moved or 0.0 for row in rows), default=0.0)
        told = [f"With a prior twice as wide no chance moves by more than {100 * most:.0f} points."]
    return Check(
        name=NAME,
        title=TITLE,
        status=status,
        reason=" ".join(told),
        remedy="" if status is Status.PASSED else REMEDY,
    )


REMEDY: Final = "Take what these answers say as a guess that more pulls may overturn."


def _moved_words(row: Doubled) -> str:
    higher = percent_words(row.p_higher_doubled or 0.0)
    return (
        f"“{row.question}”: with a prior twice as wide a chance moves by "
        f"{100 * (row.moved or 0.0):.0f} points (higher: {higher} in place of "
        f"{percent_words(row.p_higher)})."
    )
