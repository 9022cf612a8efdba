"""A pull and its bites, as they happened on the water."""

import datetime as dt
from enum import StrEnum
from itertools import pairwise
from typing import Final, Literal, Self

from pydantic import Field, model_validator

from model.records.base import Name, Record

MOST_BITES: Final = 50
"""Most bites of one pull."""
LEAST_RESOLUTION_KN: Final = 1e-4
"""Finest width of a peak, kN: the chance of so narrow a range is next to lost in rounding."""


class Ending(StrEnum):
    """How a bite (and with its last bite the pull) ended."""

    NEVER_SET = "never_set"
    RELEASED = "released"
    RELEASED_THEN_STOPPED = "released_then_stopped"  # the crew took the thrust off at the release
    HELD = "held"
    STOPPED = "stopped"
    VOID = "void"

    @property
    def is_release(self) -> bool:
        """Whether the anchor let go."""
        return self in {Ending.RELEASED, Ending.RELEASED_THEN_STOPPED}


class Reading(StrEnum):
    """Whether a load is a step of the ladder or a peak read from a load cell."""

    STEP = "step"
    PEAK = "peak"


class Start(StrEnum):
    """How a bite began."""

    FRESH = "fresh"
    AFTER_SLIP = "after_slip"
    AFTER_TURN = "after_turn"


class ModeSeen(StrEnum):
    """The setting mode as the camera or an eye saw it."""

    UPRIGHT = "upright"
    ON_SIDE = "on_side"


class BuriedRode(Record):
    """Rode that went under: a reading, at least so much, or less than so much."""

    kind: Literal["reading", "at_least", "less_than"]
    length_m: float = Field(gt=0, le=1000)  # none seen is "less than" the least one can see
    resolution_m: float | None = Field(default=None, gt=0)

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.kind != "reading" and self.resolution_m is not None:
            raise ValueError("only a reading of buried rode has a resolution")
        return self


class Bite(Record):
    """One spell between setting and letting go, or the end of the pull.

    Parameters
    ----------
    load_kn : float or None
        Released: the step or peak at which it let go. Held: the top step.
        Stopped: the last step held, None if it held none. Void: as noted,
        never used. None for never set.
    resolution_kn : float or None
        Width of a peak reading; its range is load ± half of it.
    last_held_kn : float or None
        Highest step this bite held, where it is not the step below.
    held_s : float or None
        Seconds held at the step named by `load_kn`.
    start_kn : float or None
        Thrust on when this bite began, where the crew eased first; see
        :attr:`Pull.start_thrusts_kn`.
    has_camera : bool or None
        Whether a camera was used; None where the log does not say.
    """

    number: int = Field(ge=1, le=MOST_BITES)
    start: Start = Start.FRESH
    ending: Ending
    reading: Reading = Reading.STEP
    load_kn: float | None = Field(default=None, gt=0, le=1000)
    resolution_kn: float | None = Field(default=None, ge=LEAST_RESOLUTION_KN)
    last_held_kn: float | None = Field(default=None, ge=0, le=1000)
    held_s: float | None = Field(default=None, ge=0, le=864_000)
    start_kn: float | None = Field(default=None, ge=0, le=1000)
    mode: ModeSeen | None = None
    has_camera: bool | None = None
    buried: BuriedRode | None = None
    signs: dict[str, bool] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _check(self) -> Self:
        problem = _bite_problem(self)
        if problem:
            raise ValueError(problem)
        return self

    @property
    def upper_kn(self) -> float | None:
        """Load below or at which a released bite let go, kN: a peak's upper end."""
        if self.load_kn is None or self.reading is Reading.STEP:
            return self.load_kn
        return self.load_kn + (self.resolution_kn or 0.0) / 2


def _bite_problem(bite: Bite) -> str:
    """What cannot be in a single bite; empty if nothing is wrong."""
    load_kn, held_kn, ending = bite.load_kn, bite.last_held_kn, bite.ending
    said = (load_kn, held_kn, bite.held_s)
    is_wide = load_kn is not None and (bite.resolution_kn or 0.0) >= 2 * load_kn
    is_above = load_kn is not None and held_kn is not None and held_kn >= load_kn
    has_no_load = load_kn is None and (ending.is_release or ending is Ending.HELD)
    cases = (
        (
            ending is Ending.NEVER_SET and any(value is not None for value in said),
            "a pull that never set has no load and held nothing",
        ),
        (has_no_load, f"a bite that {ending.value.replace('_', ' ')} needs a load"),
        (
            ending.is_release and is_above,
            "the last step held must be below the load at which it let go",
        ),
        (
            bite.resolution_kn is not None and bite.reading is Reading.STEP,
            "only a peak has a resolution: a step is what it is",
        ),
        (is_wide, "the resolution is wider than the reading: the range would reach below 0"),
        (bite.start is Start.FRESH and bool(bite.start_kn), "a fresh bite starts from no thrust"),
    )
    return next((problem for is_so, problem in cases if is_so), "")


class Pull(Record):
    """One deployment of one anchor, loaded under the protocol until it ended.

    Its identity is (outing, code). Bites are in order, the first one fresh,
    each later one after a release or a turn; never set stands alone, void
    comes last. What stopped or spoilt a pull is in `reason` or `notes`.
    """

    code: Name
    outing: Name
    anchor: Name
    seabed: Name
    site: Name | None = None
    levels: dict[str, str] = Field(default_factory=dict)
    scope: float | None = Field(default=None, ge=1, le=100)
    date: dt.date | None = None
    time: dt.time | None = None
    bites: tuple[Bite, ...] = Field(min_length=1)
    reason: str = ""
    soak_min: float | None = Field(default=None, ge=0)
    wind: str = ""
    current: str = ""
    sea: str = ""
    video: str = ""
    photo: str = ""
    notes: str = ""
    extras: dict[str, str] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _check(self) -> Self:
        problem = _order_problem(self.bites) or _reason_problem(self)
        if problem:
            raise ValueError(problem)
        return self

    @property
    def id(self) -> str:
        """Identity within the campaign: ``outing/code``."""
        return f"{self.outing}/{self.code}"

    @property
    def start_thrusts_kn(self) -> tuple[float, ...]:
        """Thrust that was on when each bite began, kN.

        A fresh bite starts from none. After a slip the thrust is still on:
        the load at which the bite before let go, or what the crew eased to.
        For a turn the thrust comes off, unless the log says otherwise.
        """
        thrusts = [0.0]
        thrusts += [start_thrust_kn(before, after) for before, after in pairwise(self.bites)]
        return tuple(thrusts)

    @property
    def ending(self) -> Ending:
        """How the pull ended: the ending of its last bite."""
        return self.bites[-1].ending

    @property
    def is_void(self) -> bool:
        """Whether the pull is kept and counted but not used."""
        return any(bite.ending is Ending.VOID for bite in self.bites)

    @property
    def has_held(self) -> bool:
        """Whether it held to the end, whatever came of a turn after that."""
        return any(bite.ending is Ending.HELD for bite in self.bites)

    @property
    def has_set(self) -> bool:
        """Whether the anchor bit at all."""
        return self.bites[0].ending is not Ending.NEVER_SET


def _order_problem(bites: tuple[Bite, ...]) -> str:
    """What cannot be in a row of bites; empty if nothing is wrong."""
    if [bite.number for bite in bites] != list(range(1, len(bites) + 1)):
        return "bites must be numbered 1, 2, 3 … in order"
    if bites[0].start is not Start.FRESH:
        return "the first bite of a pull must be fresh"
    if len(bites) > 1 and any(
        bite.ending is Ending.NEVER_SET and bite.start is not Start.AFTER_TURN for bite in bites
    ):
        return "a pull that never set has one row and no load"
    return next((problem for pair in pairwise(bites) if (problem := _pair_problem(*pair))), "")


def start_thrust_kn(before: Bite, after: Bite) -> float:
    """Thrust that was on when a later bite began, kN; see :attr:`Pull.start_thrusts_kn`."""
    kept_kn = before.load_kn if after.start is Start.AFTER_SLIP else None
    return after.start_kn if after.start_kn is not None else kept_kn or 0.0


def _pair_problem(before: Bite, after: Bite) -> str:
    is_reset = after.start is Start.AFTER_SLIP
    start_kn = start_thrust_kn(before, after)
    upper_kn = after.upper_kn if after.ending.is_release else None
    held_kn = after.last_held_kn
    cases = (
        (before.ending is Ending.VOID, "comes after a void one: what is void ends the pull"),
        (before.ending is Ending.NEVER_SET, "comes after one that never set again"),
        (after.start is Start.FRESH, "must say what it started after"),
        (
            is_reset and before.ending is not Ending.RELEASED,
            "is a re-set without a release before it",
        ),
        (
            upper_kn is not None and upper_kn < start_kn,
            "let go below the thrust it started under",
        ),
        (
            held_kn is not None and held_kn < start_kn,
            "held less than the thrust it started under",
        ),
    )
    return next((f"bite {after.number} {problem}" for is_so, problem in cases if is_so), "")


def _reason_problem(pull: Pull) -> str:
    needs = {Ending.STOPPED, Ending.VOID}
    if any(bite.ending in needs for bite in pull.bites) and not (pull.reason or pull.notes).strip():
        return "a stopped or void pull must say why"
    return ""
