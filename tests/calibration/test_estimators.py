"""The estimators that this model is held against."""

import numpy as np
import pytest
from scipy.stats import kstest, norm, ttest_ind

from model.calibration.answers_campaign import (
    ANCHOR_MASSES_KG,
    DAYS,
    answers_campaign,
    answers_plans,
)
from model.calibration.censored_lognormal import censored_lognormal_estimate
from model.calibration.comparison_campaign import comparison_campaign
from model.calibration.pooled_normal import (
    CHANGE_PRIOR_SD,
    LEVEL_PRIOR,
    SCALE_PRIOR,
    pooled_normal_estimate,
)
from model.calibration.result import Estimate
from model.calibration.sides import sides
from model.calibration.spreadsheet import spreadsheet_estimate
from model.questions.alone import ARM_PRIOR, EFFECT_PRIOR_SD, LOG_SIGMA_PRIOR, FirstBite, load_range
from model.records.pull import Bite, Ending, Pull, Start

BAND = (float(np.log(1 / 1.15)), float(np.log(1.15)))
LADDER = comparison_campaign().ladders[0]
HELD = FirstBite(
    bite=Bite(number=1, ending=Ending.HELD, load_kn=6.2, held_s=60.0),
    ladder=LADDER,
    top_thrust_kn=6.2,
)


def _released(*loads_kn: float) -> tuple[FirstBite, ...]:
    return tuple(
        FirstBite(
            bite=Bite(number=1, ending=Ending.RELEASED, load_kn=load),
            ladder=LADDER,
            top_thrust_kn=6.2,
        )
        for load in loads_kn
    )


def _sound(estimate: Estimate | None) -> Estimate:
    assert estimate is not None
    assert np.isfinite(list(estimate.model_dump().values())).all()
    assert estimate.lower90 <= estimate.lower50 <= estimate.value
    assert estimate.value <= estimate.upper50 <= estimate.upper90
    total = estimate.p_above_band + estimate.p_inside_band + estimate.p_below_band
    assert total == pytest.approx(1.0, abs=1e-9)
    return estimate


def test_the_spreadsheet_is_welch_on_the_log_ratio_of_means() -> None:
    a, b = (2.6, 3.2, 4.6), (2.0, 2.6, 2.6)
    found = _sound(spreadsheet_estimate(_released(*a), _released(*b), log_band=BAND, truth=0.0))
    assert found.value == pytest.approx(np.log(np.mean(a) / np.mean(b)))
    # Welch on values divided by their own side's mean has the same error and degrees.
    relative = ttest_ind(a / np.mean(a), b / np.mean(b), equal_var=False)
    low, high = relative.confidence_interval(0.90)
    assert found.lower90 == pytest.approx(found.value + low)
    assert found.upper90 == pytest.approx(found.value + high)


def test_the_spreadsheet_counts_held_as_the_top_step_and_needs_two_a_side() -> None:
    held = spreadsheet_estimate((HELD, HELD), _released(6.2, 6.2), log_band=BAND, truth=0.2)
    assert held is not None
    assert (held.value, held.lower90, held.upper90, held.p_below_truth) == (0.0, 0.0, 0.0, 1.0)
    assert spreadsheet_estimate((HELD,), _released(2.0, 2.6), log_band=BAND, truth=0.0) is None


def test_ranges_are_those_of_the_ladder() -> None:
    (first,) = _released(2.6)
    assert load_range(first) == (2.0, 2.6)
    assert load_range(_released(0.5)[0]) == (0.0, 0.5)
    assert load_range(HELD) == (pytest.approx(6.2 * 4**0.024), np.inf)
    late = Bite(number=1, ending=Ending.RELEASED, load_kn=6.2, held_s=30.0)
    assert load_range(FirstBite(bite=late, ladder=LADDER, top_thrust_kn=6.2)) == (
        6.2,
        pytest.approx(6.2 * 2**0.024),
    )
    stopped = Bite(number=1, ending=Ending.STOPPED, load_kn=2.0)
    assert load_range(FirstBite(bite=stopped, ladder=LADDER, top_thrust_kn=6.2)) == (2.0, np.inf)


def test_the_grid_agrees_with_weighted_draws_from_its_prior() -> None:
    a, b = (*_released(3.9, 5.4), HELD), _released(2.6, 3.2, 2.6)
    found = _sound(censored_lognormal_estimate(a, b, log_band=BAND, truth=0.3))
    rng = np.random.default_rng(4)
    size = 1_000_000
    base, other = rng.normal(*ARM_PRIOR, (2, size))
    effect = other - base
    sigma = np.exp(rng.normal(*LOG_SIGMA_PRIOR, size))
    weight = norm.pdf(effect, scale=EFFECT_PRIOR_SD)
    for side, mean in ((a, other), (b, base)):
        for first in side:
            low, high = load_range(first)
            weight *= norm.cdf((np.log(high) - mean) / sigma) - norm.cdf(
                (np.log(low) - mean) / sigma
            )
    order = np.argsort(effect)
    below = np.cumsum(weight[order]) / weight.sum()
    ends = [float(effect[order][np.searchsorted(below, p)]) for p in (0.05, 0.5, 0.95)]
    assert (found.lower90, found.value, found.upper90) == pytest.approx(ends, abs=0.02)
    p_higher = float(weight[effect > 0].sum() / weight.sum())
    assert found.p_higher == pytest.approx(p_higher, abs=0.01)


def test_arms_alike_give_even_chances_even_when_all_held() -> None:
    for side in (_released(2.6, 3.2, 3.9), (HELD, HELD, HELD)):
        found = _sound(censored_lognormal_estimate(side, side, log_band=BAND, truth=0.0))
        assert found.p_higher == pytest.approx(0.5, abs=1e-9)
        assert found.lower90 < 0 < found.upper90
    both_held = _sound(censored_lognormal_estimate((HELD,), (HELD,), log_band=BAND, truth=0.0))
    assert both_held.upper90 - both_held.lower90 > 1.0
    assert censored_lognormal_estimate((), (HELD,), log_band=BAND, truth=0.0) is None


def test_far_apart_arms_stay_finite() -> None:
    a, b = (HELD, HELD, HELD), _released(0.5, 0.5, 0.5)
    found = _sound(censored_lognormal_estimate(a, b, log_band=BAND, truth=1.0))
    assert found.p_higher > 0.98
    mixed = (HELD, *_released(0.5))
    _sound(censored_lognormal_estimate(mixed, mixed, log_band=BAND, truth=1.0))


def test_sides_take_first_bites_of_the_set_up_alone() -> None:
    campaign = comparison_campaign()
    question = campaign.questions[0]  # "first" on K1
    slip = (
        Bite(number=1, ending=Ending.RELEASED, load_kn=2.0),
        Bite(number=2, start=Start.AFTER_SLIP, ending=Ending.HELD, load_kn=6.2, held_s=60.0),
    )

    def pull(code: str, levels: dict[str, str], *bites: Bite, anchor: str = "K1") -> Pull:
        return Pull(
            code=code, outing="day 1", anchor=anchor, seabed="sand", levels=levels, bites=bites,
            reason="fouled",
        )  # fmt: skip

    pulls = (
        pull("1", {"first": "on"}, *slip),
        pull("2", {"first": "off"}, HELD.bite),
        pull("3", {"first": "on", "second": "on"}, HELD.bite),
        pull("4", {"first": "on"}, HELD.bite, anchor="K2"),
        pull("5", {}, Bite(number=1, ending=Ending.NEVER_SET)),
        pull("6", {}, Bite(number=1, ending=Ending.VOID)),
    )
    a, b = sides(campaign, question, pulls)
    assert [first.bite for first in a] == [slip[0]]
    assert [first.bite for first in b] == [HELD.bite]


def _campaign_of_the_pooled_model(rng: np.random.Generator) -> tuple[float, list[Pull]]:
    """A true effect on K1 and a campaign's loads, all as the pooled model believes them."""
    of_anchor, of_change, of_day, of_pull = np.abs(rng.normal(0.0, SCALE_PRIOR, 4))
    level, change = rng.normal(*LEVEL_PRIOR), rng.normal(0.0, CHANGE_PRIOR_SD)
    anchors, changes = (
        {code: rng.normal(0.0, scale) for code in ANCHOR_MASSES_KG}
        for scale in (of_anchor, of_change)
    )
    days = {day: rng.normal(0.0, of_day) for day in DAYS}
    pulls = []
    for plan in answers_plans():
        mean = level + anchors[plan.anchor] + days[plan.outing]
        mean += (change + changes[plan.anchor]) * bool(plan.levels)
        # Not checked: this model believes in loads beyond what a record may hold.
        bite = Bite.model_construct(
            number=1, ending=Ending.RELEASED, load_kn=float(np.exp(rng.normal(mean, of_pull)))
        )
        pulls.append(
            Pull.model_construct(
                **{name: getattr(plan, name) for name in ("outing", "anchor", "seabed", "code")},
                levels=dict(plan.levels),
                bites=(bite,),
            )
        )
    return float(change + changes["K1"]), pulls


def _pooled(pulls: list[Pull], truth: float) -> Estimate | None:
    campaign = answers_campaign()
    return pooled_normal_estimate(
        campaign, campaign.questions[0], pulls, log_band=BAND, truth=truth
    )


def test_the_pooled_normal_is_right_where_its_own_model_is() -> None:
    """Its ranks are uniform; those of the effect with its sign changed are not."""
    rng = np.random.default_rng(8)
    cases = [_campaign_of_the_pooled_model(rng) for _ in range(300)]
    ranks = [_sound(_pooled(pulls, truth)).p_below_truth for truth, pulls in cases]
    assert kstest(ranks, "uniform").pvalue > 0.01
    turned = [_sound(_pooled(pulls, -truth)).p_below_truth for truth, pulls in cases[:100]]
    assert kstest(turned, "uniform").pvalue < 1e-4


def test_the_pooled_normal_learns_from_other_anchors_and_needs_a_pull() -> None:
    _, pulls = _campaign_of_the_pooled_model(np.random.default_rng(9))
    others = [pull for pull in pulls if pull.anchor != "K1"]
    alone = [pull for pull in pulls if pull.anchor == "K1"]
    widths = [
        found.upper90 - found.lower90
        for found in (_sound(_pooled(some, 0.0)) for some in (pulls, alone, others))
    ]
    assert widths[0] < widths[1]
    assert widths[0] < widths[2]
    assert _pooled([], 0.0) is None
