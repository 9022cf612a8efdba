"""Whatever the world and the crew, the records are sound."""

import datetime as dt
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from model.base.errors import InputError
from model.base.priors import DEFAULT_PRIORS
from model.records.campaign import UNKNOWN_LADDER, Campaign
from model.records.pull import Ending, Pull, Reading, Start
from model.simulate.campaign import simulate_campaign
from model.simulate.plan import Evidence, Plan, Protocol, Tape
from model.simulate.prior_world import draw_world

CHANCE = st.floats(0.0, 1.0)
EVIDENCE = Evidence(tape=Tape(), has_signs=True)


@st.composite
def protocols(draw: st.DrawFn) -> Protocol:
    """Any crew."""
    return Protocol(
        camera_chance=draw(CHANCE),
        stop_chance=draw(CHANCE),
        void_chance=draw(st.floats(0.0, 0.3)),
        release_stop_chance=draw(CHANCE),
        turn_chance=draw(CHANCE),
        reading=draw(st.sampled_from(Reading)),
        resolution_kn=draw(st.sampled_from([0.01, 0.1, 0.7])),
        evidence=draw(st.sampled_from([Evidence(), EVIDENCE])),
        missing_chance=draw(CHANCE),
    )


def _plans(campaign: Campaign) -> list[Plan]:
    return [
        Plan(outing=outing.name, anchor=anchor.code, seabed=seabed.name, code=f"{a}{s}{level}",
             levels={"leader": level}, time=dt.time(9, 30))
        for outing in campaign.outings
        for a, anchor in enumerate(campaign.anchors)
        for s, seabed in enumerate(campaign.seabeds)
        for level in ("chain only", "wire 2 m")
    ]  # fmt: skip


def _faults(pull: Pull, ladder_kn: tuple[float, ...]) -> list[str]:
    """Everything about a simulated pull that could not have happened."""
    faults = []
    loads = [bite.load_kn for bite in pull.bites if bite.load_kn is not None]
    after_slips = [
        (before.load_kn or 0.0, after.load_kn or 0.0)
        for before, after in pairwise(pull.bites)
        if after.start is Start.AFTER_SLIP
    ]
    slack = max((bite.resolution_kn or 0.0) for bite in pull.bites) / 2 + 1e-9
    if max(loads, default=0.0) > ladder_kn[-1]:
        faults.append("more than the boat can pull")
    if any(after < before - slack for before, after in after_slips):
        faults.append("a later bite let go below the thrust that was on")
    for bite in pull.bites:
        if bite.ending is Ending.HELD and bite.load_kn != ladder_kn[-1]:
            faults.append("held below the top step")
        is_at_top = bite.load_kn == ladder_kn[-1]
        if bite.held_s is not None and not (is_at_top and 15.0 < bite.held_s <= 60.0):
            faults.append("a final hold elsewhere than at the top")
        is_step = bite.reading is Reading.STEP and bite.start is not Start.AFTER_SLIP
        if is_step and bite.load_kn is not None and bite.load_kn not in ladder_kn:
            faults.append("a step that is not on the ladder")
        if (bite.load_kn is None) != (bite.ending in {Ending.NEVER_SET, Ending.VOID}):
            faults.append("a load where none was, or none where one was")
        if bite.mode is not None and bite.has_camera is not True:
            faults.append("seen without a camera")
    if (pull.ending is Ending.STOPPED or pull.is_void) != bool(pull.reason):
        faults.append("a reason where none is due, or none where one is")
    return faults


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 2**32 - 1), protocol=protocols())
def test_any_world_and_crew_make_sound_records(
    small_campaign: Campaign, seed: int, protocol: Protocol
) -> None:
    rng = np.random.default_rng(seed)
    world = draw_world(small_campaign, DEFAULT_PRIORS, rng)
    plans = _plans(small_campaign)
    pulls = simulate_campaign(world, plans, protocol, rng)
    ladder_kn = small_campaign.ladders[0].loads_kn
    assert [fault for pull in pulls for fault in _faults(pull, ladder_kn)] == []
    assert [(p.outing, p.code, p.anchor) for p in pulls] == [
        (p.outing, p.code, p.anchor) for p in plans
    ]
    again = [Pull.model_validate_json(pull.model_dump_json()) for pull in pulls]
    assert tuple(again) == pulls


def test_the_invariants_notice_a_hold_below_the_top(small_campaign: Campaign) -> None:
    rng = np.random.default_rng(3)
    world = draw_world(small_campaign, DEFAULT_PRIORS, rng)
    pulls = simulate_campaign(world, _plans(small_campaign), Protocol(), rng)
    released = next(pull for pull in pulls if pull.ending is Ending.RELEASED)
    broken = released.model_copy(
        update={"bites": (released.bites[0].model_copy(update={"ending": Ending.HELD,
                                                               "load_kn": 1.0}),)}
    )  # fmt: skip
    assert _faults(broken, small_campaign.ladders[0].loads_kn) == ["held below the top step"]


def test_the_same_seed_makes_the_same_pulls(small_campaign: Campaign) -> None:
    world = draw_world(small_campaign, DEFAULT_PRIORS, np.random.default_rng(1))
    plans = _plans(small_campaign)
    first, second, other = (
        simulate_campaign(world, plans, Protocol(), np.random.default_rng(seed))
        for seed in (5, 5, 6)
    )
    assert first == second
    assert first != other


def test_plans_of_one_identity_are_refused(small_campaign: Campaign) -> None:
    world = draw_world(small_campaign, DEFAULT_PRIORS, np.random.default_rng(1))
    plan = _plans(small_campaign)[0]
    with pytest.raises(InputError, match="planned more than once"):
        simulate_campaign(world, [plan, plan], Protocol(), np.random.default_rng(1))


def test_an_unknown_ladder_or_level_is_refused(small_campaign: Campaign) -> None:
    outing = small_campaign.outings[0].model_copy(update={"ladder": UNKNOWN_LADDER})
    campaign = small_campaign.model_copy(update={"outings": (outing,)})
    # A world in which the anchor always sets, so that the ladder is needed.
    rng = np.random.default_rng(1)
    world = draw_world(campaign, DEFAULT_PRIORS, rng)
    plan = Plan(outing=outing.name, anchor="S6", seabed="firm sand", code="1")
    with pytest.raises(InputError, match="no known ladder"):
        simulate_campaign(world, [plan] * 1, Protocol(), np.random.default_rng(2))
    wrong = Plan(outing="day 1", anchor="S6", seabed="firm sand", code="1", levels={"chain": "9"})
    world = draw_world(small_campaign, DEFAULT_PRIORS, rng)
    with pytest.raises(InputError, match="no level chain=9"):
        simulate_campaign(world, [wrong], Protocol(), rng)
