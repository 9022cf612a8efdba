"""What each standing answer would be without each pull, and which pulls it hangs on.

An answer hangs on a pull without which its effect shifts further than the largest shift of a right
model does, at :data:`LOOK_RATE` over all standing questions (:mod:`model.checks.largest_shift`), or
without which a finding is lost.
"""

from collections.abc import Mapping, Sequence
from math import exp
from typing import Final

from model.base.percents import percent_words
from model.checks.asked import Asked, claim_words
from model.checks.check import (
    LOOK_RATE,
    NO_PULL,
    NO_QUESTION,
    Check,
    Status,
    not_checked,
    worst,
)
from model.checks.largest_shift import shift_limit
from model.checks.leave_one_out import LeftOut
from model.checks.pull_names import pull_name
from model.questions.effect import BandShares
from model.records.base import Record
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question

NAME: Final = "influence"
TITLE: Final = "does an answer hang on one pull"
LOST: Final = 0.66
"""A finding that is less likely than this without one pull was not there to be found.

Not 0.95: a finding that is just settled falls below that without some pull in nearly every right
campaign; below 0.66, with the six pulls a side that a finding needs, in less than one of 500.
"""
KNOWN: Final = ("weighed", "refitted")
"""States of what is known."""
NAMED: Final = 3
"""Pulls that a reason names."""
SHOWN: Final = 10
"""Pulls kept of each question, those that move it most first."""


class Refit(Record):
    """What a fit without one pull said of one question.

    Parameters
    ----------
    pull : str
        ``outing/code`` of the pull left out.
    trouble : str
        Why that fit may not be used; empty where it may.
    higher, above, inside, below : float
        Chances of the effect, see :class:`model.questions.effect.BandShares`.
    mean : float
        Of the effect, on the scale on which it is compared.
    """

    pull: str
    question: Question
    trouble: str = ""
    higher: float
    above: float
    inside: float
    below: float
    mean: float

    @property
    def shares(self) -> BandShares:
        """The chances together."""
        return BandShares(
            higher=self.higher, above=self.above, inside=self.inside, below=self.below
        )


class Influence(Record):
    """One answer without one pull.

    Parameters
    ----------
    question : str
        Its name.
    pull, pull_words : str
        ``outing/code``, and the pull in a few words.
    pareto_k : float or None
        Shape of the weights' tail; None where no number is.
    state : str
        ``weighed``: from the draws; ``refitted``: from a fit without it; ``failed``: that fit may
        not be used; ``unknown``: the draws cannot tell and no fit was made.
    p_with, p_without : float
        Chance that A is higher, with and without it; the same where not known.
    effect_with, effect_without : float
        Mean effect: a ratio (geometric mean), or a difference of chances.
    is_ratio : bool
        Which of the two.
    shift : float
        How far the mean of the effect moves without it, in sd of the effect.
    limit : float
        How far the pull that moves it most may, if chance alone is at work.
    finding_share : float
        Chance without it that the finding is so; 1 where nothing is settled.
    loses_finding : bool
        Whether a settled answer would not be settled without it; by little it is nothing odd.
    """

    question: str
    pull: str
    pull_words: str
    pareto_k: float | None
    state: str
    p_with: float
    p_without: float
    effect_with: float
    effect_without: float
    is_ratio: bool
    shift: float
    limit: float
    finding_share: float
    loses_finding: bool

    @property
    def move(self) -> float:
        """How far the chance moves."""
        return abs(self.p_without - self.p_with)

    @property
    def hangs(self) -> bool:
        """Whether the answer hangs on this pull."""
        return self.is_lost or self.is_far

    @property
    def is_lost(self) -> bool:
        """Whether the finding is gone without it, not only a little below what it needs."""
        return self.loses_finding and self.finding_share < LOST

    @property
    def is_far(self) -> bool:
        """Whether the effect shifts further than chance lets it."""
        return abs(self.shift) >= self.limit


class Influences(Record):
    """The check with its table.

    Parameters
    ----------
    rows : tuple of Influence
        By question, those that move it most first; every pull that asks for a refit too.
    claims : dict of str to str
        By question, what the chance is of.
    asks_for_refit : tuple of str
        Pulls of which the draws cannot tell and that were not fitted without.
    refitted : tuple of str
        Pulls that were fitted without, whether or not that fit may be used.
    """

    check: Check
    rows: tuple[Influence, ...]
    claims: dict[str, str]
    asks_for_refit: tuple[str, ...]
    refitted: tuple[str, ...]


def find_influences(
    campaign: Campaign,
    pulls: Mapping[str, Pull],
    asked: Sequence[Asked],
    left_out: LeftOut,
    refits: Sequence[Refit],
) -> Influences:
    """Work out every standing answer without every pull.

    Parameters
    ----------
    pulls : mapping of str to Pull
        By ``outing/code``; those that the draws know.
    refits : sequence of Refit
        Fits that were made without a pull; they take the place of weights.
    """
    made = {(one.pull, one.question.model_dump_json()): one for one in refits}
    rate = LOOK_RATE / max(len(asked), 1)  # so that it holds over all questions together
    rows = []
    for one in asked:
        of_question = [
            _influence(campaign, pulls, one, left_out, place, made, shift_limit(*one.pulls, rate))
            for place in range(len(left_out.pulls))
        ]
        of_question.sort(key=lambda row: (row.state not in KNOWN, -abs(row.shift)))
        rows += [
            row for place, row in enumerate(of_question) if place < SHOWN or row.state != "weighed"
        ]
    asks = still_to_refit(left_out, [one.question for one in asked], refits)
    return Influences(
        check=_check(campaign, asked, rows, asks),
        rows=tuple(rows),
        claims={one.question.name: claim_words(campaign, one.question) for one in asked},
        asks_for_refit=asks,
        refitted=tuple(dict.fromkeys(one.pull for one in refits)),
    )


def still_to_refit(
    left_out: LeftOut, questions: Sequence[Question], refits: Sequence[Refit]
) -> tuple[str, ...]:
    """Pulls that ask for a fit without them and have none for every question, those most first."""
    made = {(one.pull, one.question.model_dump_json()) for one in refits}
    return tuple(
        pull
        for pull in left_out.asks_for_refit
        if any((pull, question.model_dump_json()) not in made for question in questions)
    )


def _influence(
    campaign: Campaign,
    pulls: Mapping[str, Pull],
    one: Asked,
    left_out: LeftOut,
    place: int,
    made: Mapping[tuple[str, str], Refit],
    limit: float,
) -> Influence:
    pull, weights = left_out.pulls[place], left_out.weights[place]
    refit = made.get((pull, one.question.model_dump_json()))
    with_it, mean = one.shares(), float(one.effect.mean())
    if refit is not None and not refit.trouble:
        state, without, moved = "refitted", refit.shares, refit.mean
    elif weights.is_within_limit:
        state, without = "weighed", one.shares(weights.shares)
        moved = float(weights.shares @ one.effect)
    else:
        state, without, moved = "unknown" if refit is None else "failed", with_it, mean
    sd = float(one.effect.std())
    k = weights.pareto_k
    return Influence(
        question=one.question.name,
        pull=pull,
        pull_words=pull_name(campaign, pulls[pull]),
        pareto_k=float(k) if abs(k) < float("inf") else None,
        state=state,
        p_with=with_it.higher,
        p_without=without.higher,
        effect_with=exp(mean) if one.is_ratio else mean,
        effect_without=exp(moved) if one.is_ratio else moved,
        is_ratio=one.is_ratio,
        shift=(moved - mean) / sd if sd > 0 else 0.0,
        limit=limit,
        finding_share=one.finding_share(without) if state in KNOWN else 1.0,
        loses_finding=one.is_settled and not one.keeps_finding(without),
    )


def without_words(campaign: Campaign, question: Question, row: Influence) -> str:
    """The influence of a pull in plain words."""
    if row.state == "unknown":
        return f"of {row.pull_words} the draws cannot tell what would be known without it"
    if row.state == "failed":
        return f"the fit without {row.pull_words} failed its check, so that nothing is known of it"
    how = ", by a fit without it" if row.state == "refitted" else ""
    lost = ", and the answer would not be settled" if row.loses_finding else ""
    claim = claim_words(campaign, question)
    chances = percent_words(row.p_without), percent_words(row.p_with)
    if chances[0] != chances[1]:
        return (
            f"without {row.pull_words} the chance that {claim} would be {chances[0]} in place of "
            f"{chances[1]}{how}{lost}"
        )
    sizes = [_size(row, value) for value in (row.effect_without, row.effect_with)]
    return (
        f"without {row.pull_words} it would be as likely that {claim} ({chances[0]}), by "
        f"{sizes[0]} in place of {sizes[1]}{how}{lost}"
    )


def _size(row: Influence, effect: float) -> str:
    # Of the mean: an answer's own estimate is the median, and the two are not the same number.
    return (
        f"a mean factor of {effect:.2f}"
        if row.is_ratio
        else f"{100 * effect:+.0f} points on average"
    )


def _check(
    campaign: Campaign, asked: Sequence[Asked], rows: Sequence[Influence], asks: Sequence[str]
) -> Check:
    if not rows:
        return not_checked(NAME, TITLE, NO_PULL if asked else NO_QUESTION)
    questions = {one.question.name: one.question for one in asked}
    odd = sorted(
        (row for row in rows if row.hangs), key=lambda row: (row.finding_share, -abs(row.shift))
    )
    is_made_by_one = any(row.is_lost and row.is_far for row in odd)
    status = worst(
        [
            Status.FAILED if is_made_by_one else Status.PASSED,
            Status.LOOK if odd or asks else Status.PASSED,
        ]
    )
    words = [
        f"“{row.question}”: {without_words(campaign, questions[row.question], row)}."
        for row in (odd[:NAMED] or _most(rows))
    ]
    head = [] if odd else ["No answer hangs on one pull."]
    head += ["Most is owed to one pull in"] if words and not odd else []
    more = [f"And {len(odd) - NAMED} more."] if len(odd) > NAMED else []
    told = " ".join([*head, *words, *more, *_waits(asks)])
    return Check(name=NAME, title=TITLE, status=status, reason=told, remedy=_remedy(odd, asks))


def _waits(asks: Sequence[str]) -> list[str]:
    if not asks:
        return []
    count, them = (f"{len(asks)} pulls", "them") if len(asks) > 1 else ("one pull", "it")
    return [
        f"Of {count} the draws cannot tell what would be known without {them}: {', '.join(asks)}."
    ]


def _most(rows: Sequence[Influence]) -> list[Influence]:
    """The pull that moves any answer most, where one is known to."""
    known = [row for row in rows if row.state in KNOWN]
    return [max(known, key=lambda row: abs(row.shift))] if known else []


def _remedy(odd: Sequence[Influence], asks: Sequence[str]) -> str:
    told = []
    if odd:
        told.append(
            "Look at these pulls on the film and in the log. Do not take one out because it "
            "disagrees: pull these set-ups again, on the same day."
        )
    if asks:
        told.append("Run `kedgewise check --refit`: it fits again without each of them.")
    return " ".join(told)
