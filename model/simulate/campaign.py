"""All pulls of a campaign, in the order of their plans."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from model.base.errors import InputError
from model.records.pull import Pull
from model.simulate.plan import Plan, Protocol
from model.simulate.pull import LivedPull, live_pull
from model.simulate.world import World


def simulate_campaign(
    world: World, plans: Sequence[Plan], protocol: Protocol, rng: np.random.Generator
) -> tuple[Pull, ...]:
    """Make every planned pull, as the crew would write them; see :func:`live_campaign`."""
    return tuple(lived.pull for lived in live_campaign(world, plans, protocol, rng))


def live_campaign(
    world: World, plans: Sequence[Plan], protocol: Protocol, rng: np.random.Generator
) -> tuple[LivedPull, ...]:
    """Make every planned pull.

    Parameters
    ----------
    world : World
        The truth that all pulls share, day effects included.
    plans : sequence of Plan
        In the order of the day; (outing, code) must be unique.

    Returns
    -------
    tuple of LivedPull
        One for each plan, with the true modes of its bites.

    Raises
    ------
    InputError
        If two plans have the same identity.
    """
    counts = Counter((plan.outing, plan.code) for plan in plans)
    twice = [identity for identity, count in counts.items() if count > 1]
    if twice:
        raise InputError(f"planned more than once: {twice}", hint="Give each pull its own code.")
    return tuple(live_pull(world, plan, rng, protocol=protocol) for plan in plans)
