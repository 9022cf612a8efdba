"""A question: set-up A against set-up B by one measure, with its band."""

from enum import StrEnum
from typing import Literal, Self

from pydantic import Field, model_validator

from model.records.base import Name, Record


class Measure(StrEnum):
    """What is compared; each is computed for fresh ground on an average day."""

    TYPICAL = "typical"
    BEST = "best"
    CAPPED = "capped"
    NINE_IN_TEN = "nine_in_ten"
    HOLD = "hold"
    UPRIGHT = "upright"
    SETS = "sets"
    RESETS = "resets"
    TURNS = "turns"
    BURIED = "buried"
    NEXT = "next"

    @property
    def is_chance(self) -> bool:
        """Whether it is a chance (compared by difference) and no load or length (by ratio)."""
        return self in {
            Measure.HOLD,
            Measure.UPRIGHT,
            Measure.SETS,
            Measure.RESETS,
            Measure.TURNS,
        }

    @property
    def is_load(self) -> bool:
        """Whether it is a load; buried rode is a length, compared by ratio as loads are."""
        return not self.is_chance and self is not Measure.BURIED


class Band(Record):
    """Region of practical equivalence: effects inside make no practical difference.

    Parameters
    ----------
    kind : {"ratio", "difference"}
        Scale of the two ends.
    lower, upper : float
        Ends of the band; a ratio band holds 1, a difference band 0.
    """

    kind: Literal["ratio", "difference"]
    lower: float
    upper: float

    @model_validator(mode="after")
    def _check(self) -> Self:
        null = 1.0 if self.kind == "ratio" else 0.0
        if not self.lower < null < self.upper:
            raise ValueError(f"a {self.kind} band must hold {null:g} between its ends")
        if self.kind == "ratio" and self.lower <= 0:
            raise ValueError("a ratio band must lie above 0")
        if self.kind == "difference" and not -1 < self.lower < self.upper < 1:
            raise ValueError(
                "a difference band must lie between -1 and 1: five points are written 0.05"
            )
        return self


DEFAULT_RATIO_BAND = Band(kind="ratio", lower=1 / 1.15, upper=1.15)
DEFAULT_DIFFERENCE_BAND = Band(kind="difference", lower=-0.10, upper=0.10)


class SetUp(Record):
    """An anchor with its rig; what is not named is the baseline or the usual.

    Parameters
    ----------
    anchor : str or None
        Code of an anchor; None means *in general*, over anchors.
    levels : dict of str to str
        Treatment to level; a treatment left out is at its baseline.
    scope : float or None
        Rode length over depth plus bow height; None is the campaign's usual.
    """

    anchor: str | None = None
    levels: dict[str, str] = Field(default_factory=dict)
    scope: float | None = Field(default=None, ge=1, le=100)

    def describe(self) -> str:
        """The set-up in one line, as ``anchor=S6, leader=wire 2 m, scope=5``."""
        parts = [] if self.anchor is None else [f"anchor={self.anchor}"]
        parts += [f"{treatment}={level}" for treatment, level in self.levels.items()]
        parts += [] if self.scope is None else [f"scope={self.scope:g}"]
        return ", ".join(parts) or "every anchor at baseline"


class Question(Record):
    """A comparison that can be answered again as pulls arrive.

    Parameters
    ----------
    seabeds : tuple of str
        Seabeds it is about, equally weighted; empty means all of the campaign's.
    over : {"campaign", "next"}
        For a question without an anchor: the average over this campaign's
        anchors, or the next anchor like these (never called settled).
    hold_kn : float or None
        Load for the measure ``hold``, kN.
    """

    name: Name
    a: SetUp
    b: SetUp
    seabeds: tuple[str, ...] = ()
    measure: Measure = Measure.TYPICAL
    hold_kn: float | None = Field(default=None, gt=0)
    over: Literal["campaign", "next"] = "campaign"
    band: Band = DEFAULT_RATIO_BAND

    @model_validator(mode="before")
    @classmethod
    def _default_band(cls, data: object) -> object:
        if isinstance(data, dict) and data.get("band") is None:
            measure = Measure(data.get("measure", Measure.TYPICAL))
            band = DEFAULT_DIFFERENCE_BAND if measure.is_chance else DEFAULT_RATIO_BAND
            return {**data, "band": band}
        return data

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.measure is Measure.HOLD) != (self.hold_kn is not None):
            raise ValueError("the measure hold needs a load, and only it takes one")
        if self.measure.is_chance != (self.band.kind == "difference"):
            raise ValueError(f"the measure {self.measure} takes the other kind of band")
        if (self.a.anchor is None) != (self.b.anchor is None):
            raise ValueError("name an anchor on both sides or on neither")
        if self.a == self.b:
            raise ValueError("both sides are the same set-up")
        if len(set(self.seabeds)) < len(self.seabeds):
            raise ValueError("a seabed is named twice")
        if self.over == "next" and self.a.anchor is not None:
            raise ValueError("a question about the next anchor names no anchor")
        return self
