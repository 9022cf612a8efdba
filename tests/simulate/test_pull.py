"""Frequencies of whole pulls against chances computed here by hand.

The formulas below are this file's own; each comparison is shown to fail on a
formula with one term left out.
"""

from collections import Counter
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import expit
from scipy.stats import binomtest, chisquare, norm

from model.base.priors import DEFAULT_PRIORS
from model.records.campaign import Campaign
from model.records.pull import Ending, ModeSeen, Pull, Reading, Start
from model.simulate.plan import Evidence, Plan, Protocol, Tape
from model.simulate.prior_world import draw_world
from model.simulate.pull import MAX_BITES, simulate_pull
from model.simulate.world import World

MakeWorld = Callable[..., World]
ENOUGH = 4000
PLAN = Plan(
    outing="day 2",
    anchor="P9",
    seabed="soft mud",
    site="south",
    levels={"leader": "wire 2 m", "chain": "6 mm"},
    scope=4.0,
    code="1",
)
A, S, D, SITE = 1, 1, 1, 1  # places of PLAN's anchor, seabed, outing and site


def _many(
    world: World, plan: Plan, seed: int, count: int = ENOUGH, **protocol: object
) -> list[Pull]:
    rng = np.random.default_rng(seed)
    crew = Protocol(**protocol)  # type: ignore[arg-type]
    return [simulate_pull(world, plan, rng, protocol=crew) for _ in range(count)]


def _changed(world: World, **changes: float) -> World:
    values = {name: np.full_like(world.values[name], value) for name, value in changes.items()}
    return World(campaign=world.campaign, values={**world.values, **values})


def _cell_chances(world: World, *, gap_factor: float = 1.0) -> NDArray[np.float64]:
    """P(released at each step, in the final hold, held) of a fresh bite of PLAN."""
    v = world.values
    p_up = expit(
        v["upright_base"]
        + v["anchor_upright"][A]
        + v["anchor_seabed_upright"][A, S]
        + v["treatment_upright"].sum()
        + v["treatment_anchor_upright"][:, A].sum()
        + v["day_upright"][D]
    )
    both = (
        v["load_base"]
        + v["anchor_load"][A]
        + v["mass_exponent"][S] * np.log(9.0 / 10.0)
        + v["seabed_load"][S]
        + v["anchor_seabed_load"][A, S]
        + v["site_load"][SITE]
        - v["scope_slope"] * (1 / 4.0 - 1 / 5.0)
        + v["treatment_load"].sum()
        + v["treatment_anchor_load"][:, A].sum()
        + v["treatment_seabed_load"][:, S].sum()
        + v["day_load"][D]
        + v["boat_bias"][0]
    )
    means = both + np.array([v["treatment_upright_load"].sum(), -gap_factor * v["mode_gap"][A]])
    sds = np.sqrt(
        np.exp(2 * (v["log_scatter"] + v["anchor_scatter"][A]))
        + v["pull_load_scale"] ** 2
        + v["gauge_scatter"][0] ** 2
    )
    loads = np.array(world.campaign.ladders[0].loads_kn)
    ends = np.append(loads, loads[-1] * (60.0 / 15.0) ** v["hold_exponent"])
    below = norm.cdf(np.log(ends)[:, None], means, sds) @ np.array([p_up, 1 - p_up])
    chances = np.diff(np.concatenate([[0.0], below, [1.0]]))
    spoilt = v["spoilt_share"]
    flat = np.append(np.full(len(loads) + 1, 1 / (len(loads) + 1)), 0.0)
    return np.asarray((1 - spoilt) * chances + spoilt * flat)


def _cell_counts(pulls: list[Pull]) -> NDArray[np.int64]:
    first = [pull.bites[0] for pull in pulls if pull.has_set]
    loads = (0.5, 1.0, 1.5, 2.0, 2.6, 3.2, 3.9, 4.6)
    counts = Counter(
        "held" if bite.ending is Ending.HELD else (bite.load_kn, bite.held_s is not None)
        for bite in first
    )
    keys = [*((load, False) for load in loads), (4.6, True), "held"]
    return np.array([counts[key] for key in keys])


def _pvalue(counts: NDArray[np.int64], chances: NDArray[np.float64]) -> float:
    """Chi-square with cells of fewer than 5 expected put together."""
    expected = chances * counts.sum()
    rare = expected < 5
    observed = np.append(counts[~rare], counts[rare].sum())
    wanted = np.append(expected[~rare], expected[rare].sum())
    keep = wanted > 0
    assert observed[~keep].sum() == 0
    return float(chisquare(observed[keep], wanted[keep] * observed.sum() / wanted.sum()).pvalue)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_fresh_bites_end_as_often_as_the_formula_says(small_campaign: Campaign, seed: int) -> None:
    drawn = draw_world(small_campaign, DEFAULT_PRIORS, np.random.default_rng(seed))
    # A spoilt share and a hold exponent that can be seen, and loads on the ladder.
    world = _changed(drawn, spoilt_share=0.1, hold_exponent=0.06, load_base=np.log(3.0))
    counts = _cell_counts(_many(world, PLAN, seed))
    assert _pvalue(counts, _cell_chances(world)) > 1e-4


def test_the_comparison_notices_a_missing_gap(plain_world: MakeWorld) -> None:
    counts = _cell_counts(_many(plain_world(), PLAN, 5))
    assert _pvalue(counts, _cell_chances(plain_world())) > 1e-4
    assert _pvalue(counts, _cell_chances(plain_world(), gap_factor=0.8)) < 1e-6


def test_it_sets_as_often_as_the_formula_says(small_campaign: Campaign) -> None:
    drawn = draw_world(small_campaign, DEFAULT_PRIORS, np.random.default_rng(6))
    world = _changed(drawn, sets_base=0.3)
    v = world.values
    chance = float(
        expit(0.3 + v["anchor_sets"][A] + v["seabed_sets"][S] + v["treatment_sets"].sum())
    )
    pulls = _many(world, PLAN, 6)
    count = sum(pull.has_set for pull in pulls)
    assert binomtest(count, ENOUGH, chance).pvalue > 1e-4
    assert all(len(pull.bites) == 1 for pull in pulls if not pull.has_set)


def test_a_reset_is_seen_only_if_it_stands_the_thrust(plain_world: MakeWorld) -> None:
    # One mode, no shared deviation: bites are independent, so the chances multiply.
    world = plain_world(upright_base=50.0, resets_base=0.4, later_bite_load=0.1)
    at_kn = 2.6
    pulls = [pull for pull in _many(world, PLAN, 7) if pull.bites[0].load_kn == at_kn]
    mean = np.log(3.0) + 0.8 * np.log(0.9) - 2.6 * 0.05 + 0.1
    stands = norm.sf((np.log(at_kn) - mean) / 0.15)
    count = sum(len(pull.bites) > 1 for pull in pulls)
    assert len(pulls) > 500
    assert binomtest(count, len(pulls), float(expit(0.4) * stands)).pvalue > 1e-4
    assert binomtest(count, len(pulls), float(expit(0.4))).pvalue < 1e-6


def test_the_bites_of_one_pull_share_its_deviation(plain_world: MakeWorld) -> None:
    # All the scatter is the pull's: a re-set has the same capacity, below the thrust, so none
    # is ever seen. With the same scatter drawn for each bite anew they are seen often.
    shared = plain_world(
        upright_base=50.0, resets_base=50.0, pull_load_scale=0.3, log_scatter=np.log(1e-9)
    )
    alone = plain_world(upright_base=50.0, resets_base=50.0, log_scatter=np.log(0.3))
    assert all(len(pull.bites) == 1 for pull in _many(shared, PLAN, 8, count=500))
    assert any(len(pull.bites) > 1 for pull in _many(alone, PLAN, 8, count=500))


def test_a_spoilt_later_bite_is_always_seen_and_bites_are_bounded(plain_world: MakeWorld) -> None:
    world = plain_world(spoilt_share=1.0, resets_base=50.0, load_base=-5.0)
    pulls = _many(world, PLAN, 9, count=20)
    assert {len(pull.bites) for pull in pulls} == {MAX_BITES}
    assert {pull.ending for pull in pulls} == {Ending.RELEASED_THEN_STOPPED}


def test_a_later_bite_has_its_own_chance_to_be_upright(plain_world: MakeWorld) -> None:
    world = plain_world(
        upright_base=-1.0, later_bite_upright=2.0, mode_gap=1e-9, resets_base=50.0, load_base=0.9
    )
    seconds = [pull.bites[1] for pull in _many(world, PLAN, 10) if len(pull.bites) > 1]
    count = sum(bite.mode is ModeSeen.UPRIGHT for bite in seconds)
    assert len(seconds) > 500
    assert binomtest(count, len(seconds), float(expit(1.0))).pvalue > 1e-4


def test_the_camera_loses_and_misreads_modes_at_its_rates(plain_world: MakeWorld) -> None:
    world = plain_world(
        upright_base=50.0, not_seen_base=-1.0, not_seen_difference=1.2, seen_upright_rate=0.9
    )
    modes = [pull.bites[0].mode for pull in _many(world, PLAN, 13)]
    p_lost = float(expit(-1.0 + 0.6))
    assert binomtest(modes.count(None), ENOUGH, p_lost).pvalue > 1e-4
    seen = [mode for mode in modes if mode is not None]
    assert binomtest(seen.count(ModeSeen.UPRIGHT), len(seen), 0.9).pvalue > 1e-4
    side = _changed(world, upright_base=-50.0, seen_on_side_rate=0.7)
    modes = [pull.bites[0].mode for pull in _many(side, PLAN, 14)]
    assert binomtest(modes.count(None), ENOUGH, float(expit(-1.0 - 0.6))).pvalue > 1e-4
    seen = [mode for mode in modes if mode is not None]
    assert binomtest(seen.count(ModeSeen.ON_SIDE), len(seen), 0.7).pvalue > 1e-4


def test_without_a_camera_nothing_is_seen(plain_world: MakeWorld) -> None:
    bites = [pull.bites[0] for pull in _many(plain_world(), PLAN, 15, count=50, camera_chance=0.0)]
    assert {(bite.mode, bite.has_camera) for bite in bites} == {(None, False)}


def test_the_crew_stops_at_a_step_chosen_beforehand(plain_world: MakeWorld) -> None:
    pulls = _many(plain_world(load_base=5.0), PLAN, 16, count=800, stop_chance=1.0)
    counts = Counter(pull.bites[0].load_kn for pull in pulls)
    assert {pull.ending for pull in pulls} == {Ending.STOPPED}
    assert all(pull.reason for pull in pulls)
    assert (
        chisquare([counts[step] for step in (0.5, 1.0, 1.5, 2.0, 2.6, 3.2, 3.9, 4.6)]).pvalue > 1e-4
    )


def test_thrust_taken_off_at_a_release_ends_the_pull(plain_world: MakeWorld) -> None:
    world = plain_world(resets_base=50.0)
    pulls = _many(world, PLAN, 17, count=300, release_stop_chance=1.0)
    assert {pull.ending for pull in pulls} <= {Ending.RELEASED_THEN_STOPPED, Ending.HELD}
    assert {len(pull.bites) for pull in pulls} == {1}


def test_void_pulls_are_kept_with_their_reason(plain_world: MakeWorld) -> None:
    pulls = _many(plain_world(), PLAN, 18, count=1000, void_chance=0.2)
    assert binomtest(sum(pull.is_void for pull in pulls), 1000, 0.2).pvalue > 1e-4
    assert all(pull.reason for pull in pulls if pull.is_void)
    planned = Plan(**{**vars(PLAN), "void_reason": "fouled on an old rope"})
    pull = simulate_pull(plain_world(), planned, np.random.default_rng(1))
    assert (pull.is_void, pull.reason) == (True, "fouled on an old rope")


def test_a_peak_is_read_within_its_step(plain_world: MakeWorld) -> None:
    world = plain_world(resets_base=1.0, hold_exponent=0.05, spoilt_share=0.05)
    pulls = _many(world, PLAN, 19, count=500, reading=Reading.PEAK, resolution_kn=0.1)
    released = [bite for pull in pulls for bite in pull.bites if bite.ending is Ending.RELEASED]
    peaks = [bite for bite in released if bite.held_s is None]
    assert all(bite.reading is Reading.PEAK and bite.resolution_kn == 0.1 for bite in peaks)
    assert all(0 < (bite.load_kn or 0.0) <= 4.6 for bite in peaks)
    late = [bite for bite in released if bite.held_s is not None]
    assert late
    assert {(bite.reading, bite.load_kn) for bite in late} == {(Reading.STEP, 4.6)}
    assert len({bite.load_kn for bite in released}) > 10
    logs = np.log(
        [
            pull.bites[0].load_kn or 1.0
            for pull in _many(
                plain_world(upright_base=50.0), PLAN, 20, reading=Reading.PEAK, resolution_kn=0.01
            )
        ]
    )
    mean = np.log(3.0) + 0.8 * np.log(0.9) - 2.6 * 0.05
    assert abs(logs.mean() - mean) < 4 * 0.15 / np.sqrt(ENOUGH)
    assert logs.std() == pytest.approx(0.15, rel=0.05)


def test_bias_and_gauge_shift_what_the_ladder_sees(plain_world: MakeWorld) -> None:
    world = plain_world(upright_base=50.0, boat_bias=0.2, gauge_scatter=0.1)
    pulls = _many(world, PLAN, 21, reading=Reading.PEAK, resolution_kn=0.01)
    logs = np.log(
        [pull.bites[0].load_kn or 1.0 for pull in pulls if pull.ending is Ending.RELEASED]
    )
    assert np.median(logs) == pytest.approx(
        np.log(3.0) + 0.8 * np.log(0.9) - 2.6 * 0.05 + 0.2, abs=0.02
    )
    assert logs.std() == pytest.approx(np.hypot(0.15, 0.1), rel=0.06)


def test_slips_are_followed_by_a_bite_that_says_so(plain_world: MakeWorld) -> None:
    world = plain_world(resets_base=50.0, later_bite_load=0.5)
    slipped = [pull for pull in _many(world, PLAN, 22, count=300) if len(pull.bites) > 1]
    assert slipped
    assert {bite.start for pull in slipped for bite in pull.bites[1:]} == {Start.AFTER_SLIP}


def test_buried_rode_is_log_normal_by_mode_and_written_as_the_tape_shows(
    plain_world: MakeWorld,
) -> None:
    world = plain_world(
        upright_base=50.0, buried_base=np.log(0.8), buried_gap=1.2, buried_scatter=0.5
    )
    tape = Tape(visible_m=0.25, limit_m=2.0)
    for base, mean in ((50.0, np.log(0.8)), (-50.0, np.log(0.8) - 1.2)):
        pulls = _many(_changed(world, upright_base=base), PLAN, 17, evidence=Evidence(tape=tape))
        read = [pull.bites[-1].buried for pull in pulls]
        kinds = Counter(one.kind for one in read if one is not None)
        for kind, chance in (
            ("less_than", norm.cdf(np.log(0.25), mean, 0.5)),
            ("at_least", norm.sf(np.log(2.0), mean, 0.5)),
        ):
            assert binomtest(kinds[kind], len(read), float(chance)).pvalue > 1e-4


def test_signs_show_at_the_rate_of_their_mode(plain_world: MakeWorld) -> None:
    world = plain_world(upright_base=50.0, sign_upright_rate=0.8, sign_on_side_rate=0.3)
    for base, rate in ((50.0, 0.8), (-50.0, 0.3)):
        pulls = _many(_changed(world, upright_base=base), PLAN, 18,
                      evidence=Evidence(has_signs=True))  # fmt: skip
        shown = [pull.bites[0].signs["marker under"] for pull in pulls]
        assert binomtest(sum(shown), len(shown), rate).pvalue > 1e-4


def test_a_turned_pull_sets_again_or_never_as_often_as_told(plain_world: MakeWorld) -> None:
    world = plain_world(load_base=5.0, turns_base=0.8)  # all hold, before and after
    pulls = _many(world, PLAN, 19, turn_chance=0.6)
    turned = [pull for pull in pulls if len(pull.bites) > 1]
    assert binomtest(len(turned), len(pulls), 0.6).pvalue > 1e-4
    assert all(pull.bites[1].start is Start.AFTER_TURN for pull in turned)
    gone = sum(pull.ending is Ending.NEVER_SET for pull in turned)
    assert binomtest(gone, len(turned), float(1 - expit(0.8))).pvalue > 1e-4
