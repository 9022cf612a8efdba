"""The demo's pulls and twelve more, with truths that the demo's pulls leave possible.

Simulation-based calibration around a posterior (Säilynoja et al. 2025): a truth is one
draw of the fit of the demo's pulls, the twelve more are pulled at that truth, and the fit
of all pulls together is judged. Where the data that matter are, and not all over the priors.
"""

import datetime as dt
from functools import cache
from itertools import product
from typing import Final

import numpy as np

from model.base.errors import FitFailed
from model.base.names import PARAMETER_DIMS
from model.calibration.engine import fit_or_why_not
from model.calibration.scenario import Scenario
from model.calibration.simulated import demo_campaign
from model.posterior.posterior import Posterior
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.simulate.campaign import simulate_campaign
from model.simulate.hollow_sound import BASELINE_RIG, PROTOCOL, SEED, simulate_hollow_sound
from model.simulate.plan import Plan
from model.simulate.world import World, dim_names

DAYS: Final = ("day 7", "day 8")
FIRST_DATE: Final = dt.date(2026, 6, 13)
SEABED: Final = "firm sand"
ARMS: Final[tuple[tuple[str, dict[str, str]], ...]] = (
    ("S6", {}),
    ("S6", {"leader": "wire 2 m"}),
    ("S6", {"tip ballast": "0.4 kg"}),
    ("P9", {}),
    ("F5", {}),
    ("C7", {"chain": "6 mm"}),
)
"""Of either day."""


def extended_campaign() -> Campaign:
    """The demo's campaign with two more days, each like one of its own."""
    demo = demo_campaign()
    more = tuple(
        outing.model_copy(update={"name": day, "date": FIRST_DATE + dt.timedelta(days=place)})
        for place, (day, outing) in enumerate(zip(DAYS, demo.outings, strict=False))
    )
    return demo.model_copy(update={"outings": (*demo.outings, *more)})


def demo_pulls() -> tuple[Pull, ...]:
    """The published demo's pulls."""
    return simulate_hollow_sound(demo_campaign())


@cache
def demo_fit() -> Posterior:
    """The fit of the demo's pulls, once a process; it knows the two days that are to come.

    With every retry, whatever fits the campaigns: truths must be draws of the right posterior.
    """
    from model.calibration import fitting  # brings the sampler

    engine = fitting.fitting_engine()
    posterior, refusal = fit_or_why_not(engine, extended_campaign(), demo_pulls(), SEED)
    if posterior is None or refusal:
        raise FitFailed(f"no truths: the demo's own fit was refused ({refusal})")
    return posterior


def again_world(scenario: Scenario) -> World:
    """One draw of the demo's fit as a truth."""
    posterior = demo_fit()
    rng = np.random.default_rng([scenario.seed, 0])
    return world_of_draw(posterior, int(rng.integers(posterior.draws.sizes["draw"])))


def world_of_draw(posterior: Posterior, number: int) -> World:
    """A draw as a truth of its campaign."""
    campaign = posterior.campaign
    names, values = dim_names(campaign), {}
    for name, dims in PARAMETER_DIMS.items():
        drawn = posterior.draws[name].isel(draw=number).transpose(*dims)
        known = [[str(one) for one in drawn[dim].to_numpy()] for dim in dims]
        value = np.zeros(tuple(len(names[dim]) for dim in dims))
        for place in product(*(range(len(names[dim])) for dim in dims)):
            labels = [names[dim][index] for dim, index in zip(dims, place, strict=True)]
            there = tuple(k.index(one) for k, one in zip(known, labels, strict=True))
            value[place] = drawn.to_numpy()[there]
        values[name] = value
    return World(campaign=campaign, values=values)


def again_pulls(scenario: Scenario, world: World) -> tuple[Pull, ...]:
    """The demo's pulls and the twelve more; the same ones for the same truth."""
    rng = np.random.default_rng([scenario.seed, 1])
    return (*demo_pulls(), *simulate_campaign(world, again_plans(), PROTOCOL, rng))


def again_plans() -> tuple[Plan, ...]:
    """The twelve more pulls."""
    return tuple(
        Plan(
            outing=day,
            anchor=anchor,
            seabed=SEABED,
            code=str(number),
            levels={**BASELINE_RIG, **changed},
        )
        for day in DAYS
        for number, (anchor, changed) in enumerate(ARMS, start=1)
    )
