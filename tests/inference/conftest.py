"""Small campaigns of one shape, and one sampler that compiles once for all of them."""

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any

import pytest

from model.inference.sampler import Sampler
from model.inference.settings import DEFAULT_SETTINGS
from model.posterior.posterior import Posterior
from model.records.campaign import (
    Anchor,
    Boat,
    Campaign,
    Gauge,
    Ladder,
    Outing,
    Seabed,
    Step,
)
from model.records.pull import Bite, Ending, ModeSeen, Pull, Start
from model.records.treatment import Treatment

LADDER_KN = (0.5, 1.0, 1.5, 2.0, 2.6, 3.2, 3.9, 4.6)
UP, SIDE = ModeSeen.UPRIGHT, ModeSeen.ON_SIDE
WIRE = {"leader": "wire 2 m"}


@pytest.fixture(scope="session")
def tried_campaign() -> Campaign:
    """Two anchors, one seabed, two days, one treatment; invented."""
    steps = tuple(Step(load_kn=load, dwell_s=15.0) for load in LADDER_KN)
    return Campaign(
        name="Tried worlds",
        is_invented=True,
        boats=(Boat(name="workboat", top_thrust_kn=4.6, bow_height_m=1.0),),
        gauges=(Gauge(name="cell", repeatability=0.02),),
        ladders=(Ladder(name="steps", steps=steps, final_hold_s=60.0),),
        outings=tuple(
            Outing(name=name, date=dt.date(2026, 4, day), ladder="steps", boat="workboat",
                   gauge="cell")
            for name, day in (("day 1", 11), ("day 2", 18))
        ),
        seabeds=(Seabed(name="firm sand", seabed_class="sand"),),
        anchors=(
            Anchor(code="S6", kind="scoop with roll bar", mass_kg=6.0),
            Anchor(code="P9", kind="hinged plough", mass_kg=9.0),
        ),
        treatments=(
            Treatment(name="leader", baseline="chain only", levels=("chain only", "wire 2 m")),
        ),
    )  # fmt: skip


def released(load_kn: float, mode: ModeSeen | None = None) -> Bite:
    return Bite(number=1, ending=Ending.RELEASED, load_kn=load_kn, mode=mode)


def held(mode: ModeSeen | None = None) -> Bite:
    return Bite(number=1, ending=Ending.HELD, load_kn=4.6, held_s=60.0, mode=mode)


def slipped_then_held(load_kn: float) -> tuple[Bite, Bite]:
    """Let go on its side, dug in again by itself, and held the boat's most upright."""
    again = held(UP).model_copy(update={"number": 2, "start": Start.AFTER_SLIP})
    return released(load_kn, SIDE), again


Shots = Sequence[Bite | tuple[Bite, ...]]


def pulls_of(anchor: str, shots: Shots, levels: dict[str, str] | None = None) -> list[Pull]:
    """One pull for each, on both days in turn."""
    name = "wire" if levels else "plain"
    return [
        Pull(
            code=f"{anchor} {name} {i}",
            outing=f"day {1 + i % 2}",
            anchor=anchor,
            seabed="firm sand",
            levels=levels or {},
            bites=shot if isinstance(shot, tuple) else (shot,),
        )
        for i, shot in enumerate(shots)
    ]


PLOUGH = (released(2.6, SIDE), released(3.2, UP), released(3.2, UP), released(2.0, SIDE),
          released(3.9, UP), released(2.6, UP))  # fmt: skip


@pytest.fixture(scope="session")
def sampler() -> Sampler:
    return Sampler()


@pytest.fixture(scope="session")
def worlds() -> dict[str, list[Pull]]:
    """Pulls of odd campaigns, by name."""
    never = Bite(number=1, ending=Ending.NEVER_SET)
    strong = [held(UP), released(4.6, UP), held(UP), released(3.9, UP), held(UP), released(4.6, UP)]
    # The crew eases at once where an anchor lets go and is not meant to slip on.
    late = [
        released(load, UP).model_copy(update={"ending": Ending.RELEASED_THEN_STOPPED})
        for load in (3.2, 3.9, 3.2, 3.9, 3.2, 3.9, 3.2, 3.2, 3.9, 3.2)
    ]
    early = [slipped_then_held(load) for load in (1.0, 1.5, 1.0, 1.5, 1.0, 1.5, 1.5, 1.0, 1.5, 1.0)]
    loads = (1.5, 3.9, 2.0, 4.6, 1.5, 3.9)
    plough = pulls_of("P9", PLOUGH)
    return {
        "always holds": pulls_of("S6", [held(UP)] * 6) + plough,
        "always on its side": pulls_of(
            "S6", [released(load, SIDE) for load in (2.0, 2.6, 2.0, 1.5, 2.0, 2.6)]
        ) + plough,
        "strong": pulls_of("S6", strong) + plough,
        "strong, once never set": pulls_of("S6", [*strong, never]) + plough,
        "no mode seen": pulls_of("S6", [released(load) for load in loads])
        + pulls_of("P9", [held() if load > 4 else released(load) for load in loads]),
        "held against held": pulls_of("S6", [held(UP)] * 6)
        + pulls_of("S6", [held(UP)] * 6, WIRE) + plough,
        "nothing but held": pulls_of("S6", [held(UP)] * 6) + pulls_of("S6", [held(UP)] * 6, WIRE),
        "one pull": pulls_of("S6", [released(2.6, UP)]),
        "slips early, ends high": pulls_of("S6", late) + pulls_of("S6", early, WIRE),
    }  # fmt: skip


Tried = Callable[[str], tuple[Posterior, list[Pull]]]


@pytest.fixture(scope="session")
def tried(sampler: Sampler, worlds: dict[str, list[Pull]], tried_campaign: Campaign) -> Tried:
    """Fit a world the first time that a test asks for it, as a user would."""
    fitted: dict[str, Any] = {}

    def of(name: str) -> tuple[Posterior, list[Pull]]:
        if name not in fitted:
            fitted[name] = sampler.fit(tried_campaign, worlds[name], settings=DEFAULT_SETTINGS)
        return fitted[name], worlds[name]

    return of
