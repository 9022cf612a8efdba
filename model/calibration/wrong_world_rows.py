"""How the answers stand in each world beside the model's own, from the kept results alone."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from model.calibration.limits import Mean, Share, clustered_share, mean_over_campaigns
from model.calibration.result import THIS_MODEL, CampaignResult, Estimate, QuestionResult
from model.calibration.scenario import RIGHT_WORLD, WORLDS
from model.records.question import Measure

OVERALL_ERROR: Final = 0.05
"""Chance, at most, that one kind of paired change is seen in any world by luck; split over them."""

CHANGE_LEVEL: Final = 1 - OVERALL_ERROR / (len(WORLDS) - 1)
SHARE_LEVEL: Final = 0.95
"""Of limits that no sentence hangs on."""

MEASURES: Final = (Measure.TYPICAL, Measure.UPRIGHT, Measure.HOLD)

BySeed = Mapping[int, CampaignResult]


@dataclass(frozen=True, kw_only=True)
class WorldRow:
    """One world beside the model's own.

    Changes are from that to this, on the seeds that both answer; each is None in the model's own
    world, and where there are too few.

    Parameters
    ----------
    campaigns, refused : int
        Run, and of these refused by the fit check.
    cover90, cover50 : Share
        Of intervals that hold this world's own truth; a refused fit's do not.
    cover90_answered : Share or None
        The same, of what was answered.
    cover_change : Mean or None
        Of the share of a campaign's 90 % intervals that hold the truth.
    claims : Share
        Directions claimed at 95 %, of all questions.
    sign_errors, false_claims : Share or None
        Claims of the other sign, of questions whose effect is not exactly nil; and any claim, of
        those whose effect is. None without such questions.
    wrong_change : Mean or None
        Of the share of a campaign's questions that are claimed wrongly, of either kind.
    load_shift : Mean or None
        Change of the error of the treatments' typical loads, log ratio: a bias has a sign.
    """

    world: str
    campaigns: int
    refused: int
    cover90: Share
    cover90_answered: Share | None
    cover50: Share
    cover_change: Mean | None
    claims: Share
    sign_errors: Share | None
    false_claims: Share | None
    wrong_change: Mean | None
    load_shift: Mean | None


@dataclass(frozen=True, kw_only=True)
class MeasureRow:
    """One measure in one world: cover, and how far off the answers are.

    Parameters
    ----------
    cover90 : Share
        A refused fit's intervals do not hold the truth.
    cover_change : Mean or None
        As in :class:`WorldRow`.
    median_error, median_error_right : float or None
        Median absolute error, log ratio of loads or difference of chances; the second in the
        model's own world. Over the questions that both answer.
    """

    world: str
    measure: Measure
    cover90: Share
    cover_change: Mean | None
    median_error: float | None
    median_error_right: float | None


def world_rows(results: Sequence[CampaignResult]) -> tuple[WorldRow, ...]:
    """Every world that has results, in the plan's order."""
    by_world = _by_world(results)
    right = by_world.get(RIGHT_WORLD, {})
    return tuple(_world_row(world, found, right) for world, found in by_world.items())


def measure_rows(results: Sequence[CampaignResult]) -> tuple[MeasureRow, ...]:
    """Every measure in every world that has results."""
    by_world = _by_world(results)
    right = by_world.get(RIGHT_WORLD, {})
    return tuple(
        _measure_row(world, measure, found, right)
        for world, found in by_world.items()
        for measure in MEASURES
    )


def _by_world(results: Sequence[CampaignResult]) -> dict[str, BySeed]:
    found: dict[str, dict[int, CampaignResult]] = {world: {} for world in WORLDS}
    for result in results:
        found[result.scenario.world][result.scenario.seed] = result
    return {world: of_world for world, of_world in found.items() if of_world}


def _questions(
    result: CampaignResult, measure: Measure | None = None
) -> tuple[QuestionResult, ...]:
    """All questions of a campaign, or those of one measure; their names end with it."""
    every = (*result.comparisons, *result.general)
    return tuple(one for one in every if measure is None or one.question.endswith(f", {measure}"))


def _said(question: QuestionResult) -> Estimate | None:
    return question.estimates[THIS_MODEL]


def _is_covered(question: QuestionResult, *, is_wide: bool) -> bool:
    said = _said(question)
    return said is not None and said.covers(question.truth, is_wide=is_wide)


def _claim(question: QuestionResult) -> int:
    said = _said(question)
    return 0 if said is None else said.claim


def _is_wrong(question: QuestionResult) -> bool:
    claim = _claim(question)
    return claim != 0 and claim * question.truth <= 0


Counts = Callable[[QuestionResult], bool]


def _share(results: Iterable[CampaignResult], is_hit: Counts, is_case: Counts) -> Share | None:
    cases = [
        (is_hit(question), result.scenario.seed)
        for result in results
        for question in _questions(result)
        if is_case(question)
    ]
    return clustered_share(
        [hit for hit, _ in cases], [seed for _, seed in cases], level=SHARE_LEVEL
    )


def _share_of_all(
    results: Iterable[CampaignResult], is_hit: Counts, measure: Measure | None = None
) -> Share:
    """Share of all questions, or of those of one measure.

    Raises
    ------
    LookupError
        If there are none.
    """
    ending = "" if measure is None else f", {measure}"
    share = _share(results, is_hit, lambda one: one.question.endswith(ending))
    if share is None:
        raise LookupError("results without a question")
    return share


def _change(
    found: BySeed, right: BySeed, value: Callable[[CampaignResult], float | None], level: float
) -> Mean | None:
    """Mean change of a campaign's value from the model's own world, over those that have both."""
    pairs = [(value(found[seed]), value(right[seed])) for seed in found if seed in right]
    changes = [new - old for new, old in pairs if new is not None and old is not None]
    if found is right or len(changes) < 2:
        return None
    return mean_over_campaigns(changes, level=level)


def _mean_hits(
    result: CampaignResult, is_hit: Counts, measure: Measure | None = None
) -> float | None:
    """Share of a campaign's questions, or of those of one measure; None if it was refused."""
    if result.refusal:
        return None
    return float(np.mean([is_hit(question) for question in _questions(result, measure)]))


def _load_error(result: CampaignResult) -> float | None:
    """Mean error of what is said of the treatments' typical loads; None where nothing is said."""
    errors = [
        said.value - question.truth
        for question in result.general
        if question.question.endswith(f", {Measure.TYPICAL}")
        and (said := _said(question)) is not None
    ]
    return float(np.mean(errors)) if errors else None


def _world_row(world: str, found: BySeed, right: BySeed) -> WorldRow:
    results = tuple(found.values())
    return WorldRow(
        world=world,
        campaigns=len(results),
        refused=sum(bool(result.refusal) for result in results),
        cover90=_share_of_all(results, lambda one: _is_covered(one, is_wide=True)),
        cover90_answered=_share(
            results,
            lambda one: _is_covered(one, is_wide=True),
            lambda one: _said(one) is not None,
        ),
        cover50=_share_of_all(results, lambda one: _is_covered(one, is_wide=False)),
        cover_change=_change(
            found,
            right,
            lambda result: _mean_hits(result, lambda one: _is_covered(one, is_wide=True)),
            CHANGE_LEVEL,
        ),
        claims=_share_of_all(results, lambda one: _claim(one) != 0),
        sign_errors=_share(results, _is_wrong, lambda one: one.truth != 0),
        false_claims=_share(results, _is_wrong, lambda one: one.truth == 0),
        wrong_change=_change(
            found, right, lambda result: _mean_hits(result, _is_wrong), CHANGE_LEVEL
        ),
        load_shift=_change(found, right, _load_error, CHANGE_LEVEL),
    )


def _measure_row(world: str, measure: Measure, found: BySeed, right: BySeed) -> MeasureRow:
    both = [
        (abs(new.value - one.truth), abs(old.value - other.truth))
        for seed, result in found.items()
        if seed in right
        for one, other in zip(
            _questions(result, measure), _questions(right[seed], measure), strict=True
        )
        if (new := _said(one)) is not None and (old := _said(other)) is not None
    ]
    return MeasureRow(
        world=world,
        measure=measure,
        cover90=_share_of_all(found.values(), lambda one: _is_covered(one, is_wide=True), measure),
        cover_change=_change(
            found,
            right,
            lambda result: _mean_hits(result, lambda one: _is_covered(one, is_wide=True), measure),
            SHARE_LEVEL,
        ),
        median_error=float(np.median([new for new, _ in both])) if both else None,
        median_error_right=float(np.median([old for _, old in both])) if both else None,
    )
