"""What the table of answers is made of, from the kept results alone."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from model.base.constants import SETTLED_MIN_PULLS
from model.calibration.answers_campaign import answers_campaign
from model.calibration.answers_judging import rivals_question
from model.calibration.answers_result import AnswersResult, JudgedAnswer, Region, Said
from model.calibration.demo_again import extended_campaign
from model.calibration.limits import (
    Share,
    ShareRow,
    clustered_share,
    share_row,
    stated_words,
)
from model.calibration.parameter_draws import parameter_labels
from model.calibration.result import THIS_MODEL
from model.calibration.scenario import ANSWERS_AGAIN
from model.calibration.thinned_rank import RANKS
from model.calibration.uniform_ranks import RankRow, rank_row, rank_rows_of
from model.questions.effect import band_ends
from model.records.campaign import Campaign
from model.records.question import Measure, Question
from model.simulate.world import dim_names

OVERALL_ERROR: Final = 0.01
"""Chance, at most, that calibrated ranks are called off; and the same of all shares."""
INTERVALS: Final = (0.50, 0.90)
CLAIMED: Final = 0.95
"""Chance from which a region is taken as said."""
LEVEL: Final = 0.95
"""Of limits that no verdict hangs on."""

Case = tuple[int, bool]
"""Number of the campaign, and whether it is so."""


def campaign_of(table: str) -> Campaign:
    """The campaign that all results of a table have in common."""
    return extended_campaign() if table == ANSWERS_AGAIN else answers_campaign()


def rank_rows(results: Sequence[AnswersResult], campaign: Campaign) -> tuple[RankRow, ...]:
    """Every answer's and every parameter's ranks, the least likely first.

    A refused fit has none; its share is bounded by itself.

    Raises
    ------
    LookupError
        If a result knows other parameters than the campaign has.
    """
    labels = parameter_labels(dim_names(campaign))
    ranks: dict[str, list[float]] = defaultdict(list)
    for result in results:
        for name, answer in result.answers.items():
            ranks[f"answer, {name}"].append(_share(answer.rank))
        if result.answers and len(result.parameters) != len(labels):
            raise LookupError(f"campaign {result.scenario.number} has other parameters")
        for name, rank in zip(labels, result.parameters, strict=False):
            if rank is not None:
                ranks[name].append(_share(rank))
    return rank_rows_of(ranks)


def _share(rank: int) -> float:
    return (rank + 0.5) / RANKS


def share_rows(results: Sequence[AnswersResult], campaign: Campaign) -> tuple[ShareRow, ...]:
    """Cover of every measure's intervals, and whether stated chances are what they say."""
    if not results:
        return ()
    groups = {**_cover_cases(results, campaign), **_chance_cases(results, campaign)}
    level = 1 - OVERALL_ERROR / len(groups)
    return tuple(
        share_row(
            name,
            float(np.mean([expected for expected, _, _ in cases])),
            [hit for _, _, hit in cases],
            [number for _, number, _ in cases],
            level,
        )
        for name, cases in groups.items()
    )


Groups = dict[str, list[tuple[float, int, bool]]]
"""By name: what was said, the campaign's number, and whether it was so."""


def _cover_cases(results: Sequence[AnswersResult], campaign: Campaign) -> Groups:
    """By measure; a refused fit is a miss of every interval.

    The next pull has none: where one side may never set, an interval of its effect holds
    more than its mass.
    """
    groups: Groups = defaultdict(list)
    for mass in INTERVALS:
        for question in campaign.questions:
            if question.measure is Measure.NEXT:
                continue
            for result in results:
                answer = result.answers.get(question.name)
                hit = answer is not None and is_held(answer, mass)
                groups[f"{100 * mass:.0f} % interval, {question.measure}"].append(
                    (mass, result.scenario.number, hit)
                )
    return groups


def is_held(said: Said, mass: float) -> bool:
    """Whether an interval of that mass held the truth."""
    return said.in_50 if mass == INTERVALS[0] else said.in_90


def _chance_cases(results: Sequence[AnswersResult], campaign: Campaign) -> Groups:
    """Chances of the three regions, and of the next pull of A being the higher."""
    groups: Groups = defaultdict(list)
    for result in results:
        number = result.scenario.number
        for question, answer in _answered(result, campaign):
            if question.measure is Measure.NEXT:
                # Where neither set, none was higher: a half, as chances count it.
                hit = answer.truth > 0 or (answer.truth == 0 and number % 2 == 0)
                name = f"next pull, {stated_words(answer.p_higher)}"
                groups[name].append((answer.p_higher, number, hit))
                continue
            truth = region_of(question, answer.truth)
            for region, chance in answer.shares.items():
                name = f"region, {stated_words(chance)}"
                groups[name].append((chance, number, region == truth))
    return dict(sorted(groups.items()))


def _answered(result: AnswersResult, campaign: Campaign) -> Iterator[tuple[Question, JudgedAnswer]]:
    for question in campaign.questions:
        if question.name in result.answers:
            yield question, result.answers[question.name]


def region_of(question: Question, truth: float) -> Region:
    """Where an effect lies: below, inside or above the band of its question."""
    lower, upper = band_ends(question.band)
    if truth < lower:
        return -1
    return 1 if truth > upper else 0


@dataclass(frozen=True, kw_only=True)
class FindingRow:
    """How many findings there were, and how many of them were wrong.

    Parameters
    ----------
    answers : int
        That could have been findings: with pulls enough a side.
    wrong : Share or None
        Of the findings, those whose truth lies in another region; None without findings.
    other_sign : Share or None
        Of the findings of a difference, those whose truth has the other sign.
    """

    name: str
    answers: int
    wrong: Share | None
    other_sign: Share | None


def finding_rows(results: Sequence[AnswersResult], campaign: Campaign) -> tuple[FindingRow, ...]:
    """Findings of the rule, and regions with 0.95 at one look, whatever the pulls a side.

    The rule's second look is at the same draws: as if the pull before had said the same.
    """
    every = [question for question in campaign.questions if question.measure is not Measure.NEXT]
    enough = [question for question in every if _has_pulls_enough(question, campaign)]
    measures = ", ".join(dict.fromkeys(question.measure.value for question in enough))
    name = f"settled by the rule, had the look before said the same ({measures})"
    return (
        _finding_row(name, results, enough, lambda answer: answer.settled),
        _finding_row("0.95 in a region at one look", results, every, claimed),
    )


def _has_pulls_enough(question: Question, campaign: Campaign) -> bool:
    """Whether the rule can settle it: each anchor is pulled once a side on each outing."""
    n_anchor = len(campaign.anchors) if question.a.anchor is None else 1
    return n_anchor * len(campaign.outings) >= SETTLED_MIN_PULLS


def claimed(said: Said) -> Region | None:
    """The region that an estimator takes for likely enough."""
    return next((region for region, chance in said.shares.items() if chance >= CLAIMED), None)


def _finding_row(
    name: str,
    results: Sequence[AnswersResult],
    questions: Sequence[Question],
    found: Callable[[JudgedAnswer], Region | None],
) -> FindingRow:
    wrong, sign, count = [], [], 0
    for result in results:
        for question in questions:
            answer = result.answers.get(question.name)
            if answer is None:
                continue
            count += 1
            region = found(answer)
            if region is None:
                continue
            number = result.scenario.number
            wrong.append((number, region != region_of(question, answer.truth)))
            if region != 0:
                sign.append((number, region * answer.truth < 0))
    return FindingRow(name=name, answers=count, wrong=_share_of(wrong), other_sign=_share_of(sign))


def _share_of(cases: Sequence[Case]) -> Share | None:
    return clustered_share([hit for _, hit in cases], [number for number, _ in cases], level=LEVEL)


@dataclass(frozen=True, kw_only=True)
class RivalRow:
    """One estimator of one anchor's typical load; without an answer every interval missed."""

    name: str
    answered: int
    covers_50: Share
    covers_90: Share
    ranks: RankRow | None
    claims: int
    wrong: Share | None


def rival_rows(results: Sequence[AnswersResult], campaign: Campaign) -> tuple[RivalRow, ...]:
    """The other estimators, and this model on the same question last."""
    question = rivals_question(campaign)
    if question is None or not results:
        return ()
    names = list(dict.fromkeys(name for result in results for name in result.rivals))
    rows = [
        _rival_row(name, question, results, [result.rivals.get(name) for result in results],
                   [result.rivals_truth for result in results])
        for name in names
    ]  # fmt: skip
    ours = [result.answers.get(question.name) for result in results]
    truths = [result.rivals_truth for result in results]
    return (*rows, _rival_row(THIS_MODEL, question, results, ours, truths))


def _rival_row(
    name: str,
    question: Question,
    results: Sequence[AnswersResult],
    said: Sequence[Said | None],
    truths: Sequence[float],
) -> RivalRow:
    numbers = [result.scenario.number for result in results]
    covers = [
        clustered_share([one is not None and is_held(one, mass) for one in said], numbers)
        for mass in INTERVALS
    ]
    if covers[0] is None or covers[1] is None:
        raise LookupError(f"no cases of {name}")
    claims = [
        (number, claimed(one) != region_of(question, truth))
        for number, one, truth in zip(numbers, said, truths, strict=True)
        if one is not None and claimed(one) is not None
    ]
    ranks = np.array([_share(one.rank) for one in said if one is not None])
    return RivalRow(
        name=name,
        answered=ranks.size,
        covers_50=covers[0],
        covers_90=covers[1],
        ranks=rank_row(name, ranks) if ranks.size else None,
        claims=len(claims),
        wrong=_share_of(claims),
    )
