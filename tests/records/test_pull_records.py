"""Pulls that cannot have happened are refused; those that can are taken."""

import pytest
from pydantic import ValidationError

from model.records.pull import Bite, BuriedRode, Ending, Pull, Reading, Start

HELD = Bite(number=1, ending=Ending.HELD, load_kn=6.2, held_s=60)
VOID = Bite(number=1, ending=Ending.VOID)
RELEASED = Bite(number=1, ending=Ending.RELEASED, load_kn=2.6)
TAKEN_OFF = Bite(number=1, ending=Ending.RELEASED_THEN_STOPPED, load_kn=2.6)


def reset(load_kn: float = 3.2, number: int = 2, **more) -> Bite:
    values = {"start": Start.AFTER_SLIP, "ending": Ending.RELEASED, "load_kn": load_kn} | more
    return Bite(number=number, **values)


def pull(*bites: Bite, **more) -> Pull:
    values = {"code": "1", "outing": "day 1", "anchor": "S6", "seabed": "firm sand"} | more
    return Pull(bites=bites, **values)


IMPOSSIBLE_BITES = {
    "never set with a load": ({"ending": "never_set", "load_kn": 1.0}, "no load"),
    "never set, yet held": ({"ending": "never_set", "held_s": 5.0}, "held nothing"),
    "never set after a step": ({"ending": "never_set", "last_held_kn": 0.5}, "held nothing"),
    "released at no load": ({"ending": "released"}, "released needs a load"),
    "held at no load": ({"ending": "held", "held_s": 60}, "held needs a load"),
    "held above where it let go": (
        {"ending": "released", "load_kn": 2.6, "last_held_kn": 2.6},
        "below the load",
    ),
    "a step with a resolution": (
        {"ending": "released", "load_kn": 2.6, "resolution_kn": 0.1},
        "only a peak",
    ),
    "a peak reaching below 0": (
        {"ending": "released", "reading": "peak", "load_kn": 1.0, "resolution_kn": 2.0},
        "wider than the reading",
    ),
    "a peak read finer than any cell": (
        {"ending": "released", "reading": "peak", "load_kn": 1.0, "resolution_kn": 1e-5},
        "0.0001",
    ),
    "a fresh bite under thrust": (
        {"ending": "released", "load_kn": 2.6, "start_kn": 1.0},
        "starts from no thrust",
    ),
    "a load that is no number": ({"ending": "released", "load_kn": float("nan")}, "finite"),
    "a load of nothing": ({"ending": "released", "load_kn": 0.0}, "greater than 0"),
    "a load beyond any boat": ({"ending": "released", "load_kn": 1001.0}, "less than or equal"),
    "an unknown field": ({"ending": "released", "load_kn": 1.0, "load": 1.0}, "not permitted"),
}


@pytest.mark.parametrize("name", IMPOSSIBLE_BITES)
def test_impossible_bite(name: str) -> None:
    values, words = IMPOSSIBLE_BITES[name]
    with pytest.raises(ValidationError, match=words):
        Bite.model_validate({"number": 1, **values})


IMPOSSIBLE_PULLS = {
    "numbers with a gap": ((RELEASED, reset(number=3)), {}, "numbered 1, 2, 3"),
    "a first bite after a slip": ((reset(number=1),), {}, "must be fresh"),
    "a later bite that is fresh": (
        (RELEASED, Bite(number=2, ending=Ending.RELEASED, load_kn=3.2)),
        {},
        "must say what it started after",
    ),
    "a re-set of what held": ((HELD, reset()), {}, "without a release"),
    "a re-set after the thrust was off": ((TAKEN_OFF, reset()), {}, "without a release"),
    "a re-set of what never set": (
        (Bite(number=1, ending=Ending.NEVER_SET), reset()),
        {},
        "never set has one row",
    ),
    "a bite after a void one": (
        (VOID, reset()),
        {"reason": "fouled"},
        "what is void ends the pull",
    ),
    "a re-set below its start": ((RELEASED, reset(1.5)), {}, "below the thrust"),
    "a re-set below what was eased to": (
        (RELEASED, reset(1.0, start_kn=1.5)),
        {},
        "below the thrust",
    ),
    "a bite after a turn below its start": (
        (RELEASED, reset(2.0, start=Start.AFTER_TURN, start_kn=5.4)),
        {},
        "below the thrust",
    ),
    "a re-set that held less than its start": (
        (RELEASED, reset(3.9, last_held_kn=1.5)),
        {},
        "held less than the thrust",
    ),
    "a void pull without a reason": ((VOID,), {}, "must say why"),
    "a stopped pull without a reason": (
        (Bite(number=1, ending=Ending.STOPPED, load_kn=2.6),),
        {"reason": "  "},
        "must say why",
    ),
    "a code with outer spaces": ((RELEASED,), {"code": " 1"}, "pattern"),
    "a code of several lines": ((RELEASED,), {"code": "1\n2"}, "pattern"),
    "a scope below 1": ((RELEASED,), {"scope": 0.9}, "greater than or equal to 1"),
    "no bites": ((), {}, "at least 1 item"),
}


@pytest.mark.parametrize("name", IMPOSSIBLE_PULLS)
def test_impossible_pull(name: str) -> None:
    bites, more, words = IMPOSSIBLE_PULLS[name]
    with pytest.raises(ValidationError, match=words):
        pull(*bites, **more)


POSSIBLE = {
    "a slip": (RELEASED, reset()),
    "an eased re-set below the slip": (RELEASED, reset(1.5, start_kn=1.0)),
    "a turn after a full hold": (HELD, reset(1.0, start=Start.AFTER_TURN)),
    "a turn under a thrust that it stood": (
        RELEASED,
        reset(3.9, start=Start.AFTER_TURN, start_kn=3.2, last_held_kn=3.2),
    ),
    "a slip at the top, then within the final hold": (
        Bite(number=1, ending=Ending.RELEASED, load_kn=6.2),
        reset(6.2, held_s=20),
    ),
    "void at the second bite": (RELEASED, reset(None, ending=Ending.VOID)),
    "stopped before any step": (Bite(number=1, ending=Ending.STOPPED),),
}


@pytest.mark.parametrize("name", POSSIBLE)
def test_possible_pull(name: str) -> None:
    made = pull(*POSSIBLE[name], notes="a ferry came through")
    assert made.bites == POSSIBLE[name]
    assert Pull.model_validate_json(made.model_dump_json()) == made


def test_thrust_each_bite_starts_under() -> None:
    """model.md §1: after a release the thrust is still on, unless eased; for a turn it is off."""
    made = pull(
        RELEASED,
        reset(3.2),
        reset(2.0, number=3, start_kn=1.0),
        reset(1.5, number=4, start=Start.AFTER_TURN),
        reset(2.0, number=5, start=Start.AFTER_TURN, start_kn=0.5),
    )
    assert made.start_thrusts_kn == (0.0, 2.6, 1.0, 0.0, 0.5)


def test_upper_end_of_a_peak_is_half_its_resolution_up() -> None:
    peak = Bite(
        number=1, ending=Ending.RELEASED, reading=Reading.PEAK, load_kn=2.6, resolution_kn=0.2
    )
    assert peak.upper_kn == pytest.approx(2.7)
    assert RELEASED.upper_kn == 2.6


def test_void_anywhere_spoils_the_pull() -> None:
    void = pull(RELEASED, reset(None, ending=Ending.VOID), reason="fouled")
    assert void.is_void
    assert not pull(RELEASED).is_void


def test_set_or_not() -> None:
    assert not pull(Bite(number=1, ending=Ending.NEVER_SET)).has_set
    assert pull(RELEASED).has_set


@pytest.mark.parametrize(
    "values",
    [
        {"kind": "reading", "length_m": 0.0},
        {"kind": "at_least", "length_m": 0.9, "resolution_m": 0.1},
        {"kind": "guess", "length_m": 0.9},
    ],
)
def test_impossible_burial(values: dict) -> None:
    with pytest.raises(ValidationError):
        BuriedRode.model_validate(values)


def test_records_are_frozen() -> None:
    with pytest.raises(ValidationError, match="frozen"):
        RELEASED.load_kn = 9.9


def test_a_pull_that_held_before_a_turn_has_held():
    gone = Bite(number=2, start=Start.AFTER_TURN, ending=Ending.NEVER_SET)
    assert pull(HELD, gone).has_held
    assert pull(HELD, gone).has_set
    assert not pull(RELEASED).has_held
