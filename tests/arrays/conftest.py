"""A ladder and bites on it, each ending in its own way."""

from collections.abc import Callable

import pytest

from model.records.campaign import Ladder, Step
from model.records.pull import Bite, Ending, Start


@pytest.fixture
def make_ladder() -> Callable[..., Ladder]:
    """Steps of 15 s each, the top one held for 60 s unless said otherwise."""

    def make(*loads_kn: float, final_hold_s: float = 60.0) -> Ladder:
        steps = tuple(Step(load_kn=load_kn, dwell_s=15.0) for load_kn in loads_kn)
        return Ladder(name="steps", steps=steps, final_hold_s=final_hold_s)

    return make


@pytest.fixture
def ladder(make_ladder) -> Ladder:
    """Five uneven steps."""
    return make_ladder(0.5, 1.0, 2.0, 3.0, 4.5)


@pytest.fixture
def make_bite() -> Callable[..., Bite]:
    """A bite that ended so; a later one starts after a slip."""

    def make(ending: str, load_kn: float | None = None, number: int = 1, **more: object) -> Bite:
        start = Start.FRESH if number == 1 else Start.AFTER_SLIP
        facts = {"number": number, "start": start, "ending": Ending(ending), "load_kn": load_kn}
        return Bite.model_validate({**facts, **more})

    return make
