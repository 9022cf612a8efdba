"""A pull and its bites, as they happened on the water."""

import datetime as dt
from enum import StrEnum
from typing import Literal, Self

from pydantic import Field, model_validator

from model.records.base import Record


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
    length_m: float = Field(ge=0, le=1000)
    resolution_m: float | None = Field(default=None, gt=0)


class Bite(Record):
    """One spell between setting and letting go, or the end of the pull.

    Parameters
    ----------
    load_kn : float or None
        Released: the step or peak at which it let go. Held: the top step.
        Stopped: the last step held. None for never set and void.
    resolution_kn : float or None
        Width of a peak reading; its range is load ± half of it.
    last_held_kn : float or None
        Highest step this bite held, where it is not the step below.
    held_s : float or None
        Seconds held at the step named by `load_kn`.
    start_kn : float or None
        Thrust on when this bite began, where the crew eased first.
    has_camera : bool or None
        Whether a camera was used; None where the log does not say.
    """

    number: int = Field(ge=1, le=50)
    start: Start = Start.FRESH
    ending: Ending
    reading: Reading = Reading.STEP
    load_kn: float | None = Field(default=None, gt=0, le=1000)
    resolution_kn: float | None = Field(default=None, gt=0)
    last_held_kn: float | None = Field(default=None, ge=0, le=1000)
    held_s: float | None = Field(default=None, ge=0, le=864_000)
    start_kn: float | None = Field(default=None, ge=0, le=1000)
    mode: ModeSeen | None = None
    has_camera: bool | None = None
    buried: BuriedRode | None = None
    signs: dict[str, bool] = Field(default_factory=dict)


class Pull(Record):
    """One deployment of one anchor, loaded under the protocol until it ended.

    Its identity is (outing, code). Bites are in order, the first one fresh,
    each later one after a release; never set and void stand alone.
    """

    code: str = Field(min_length=1, max_length=120)
    outing: str
    anchor: str
    seabed: str
    site: str | None = None
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
        if [bite.number for bite in self.bites] != list(range(1, len(self.bites) + 1)):
            raise ValueError("bites must be numbered 1, 2, 3 … in order")
        if self.bites[0].start is not Start.FRESH:
            raise ValueError("the first bite of a pull must be fresh")
        for before, after in zip(self.bites, self.bites[1:], strict=False):
            if after.start is Start.FRESH:
                raise ValueError(f"bite {after.number} must say what it started after")
            if after.start is Start.AFTER_SLIP and before.ending is not Ending.RELEASED:
                raise ValueError(f"bite {after.number} is a re-set without a release before it")
        alone = {Ending.NEVER_SET}
        if len(self.bites) > 1 and any(bite.ending in alone for bite in self.bites):
            raise ValueError("a pull that never set has one row and no load")
        return self

    @property
    def ending(self) -> Ending:
        """How the pull ended: the ending of its last bite."""
        return self.bites[-1].ending

    @property
    def is_void(self) -> bool:
        """Whether the pull is kept and counted but not used."""
        return any(bite.ending is Ending.VOID for bite in self.bites)

    @property
    def has_set(self) -> bool:
        """Whether the anchor bit at all."""
        return self.ending is not Ending.NEVER_SET
