"""A campaign: boats, ladders, outings, bottoms, anchors, treatments, questions."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from itertools import pairwise
from typing import Annotated, Final, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from model.base.constants import DEFAULT_SCOPE, LEAST
from model.base.names import UNNAMED
from model.base.units import LENGTH_UNITS, LOAD_UNITS
from model.records.base import Name, Record
from model.records.columns import PLAIN, Columns
from model.records.pull import LEAST_RESOLUTION_KN
from model.records.question import Question, SetUp
from model.records.treatment import (
    Interaction,
    KeyName,
    Treatment,
    interaction_faults,
    level_names,
    levels_on,
)

SeabedClass = Literal["mud", "sand", "gravel", "stiff clay", "other"]
UNKNOWN_LADDER: Final = "unknown"
ANY_ANCHOR: Final = "any anchor"
"""Words for a question in general, so that no anchor may be called so."""
MOST_THRUST_SHARE: Final = 1.5
"""A ladder's top, or a peak, above this share of the boat's top thrust is a slip of the pen."""
MOST_DWELL_S: Final = 3600.0
"""Longest dwell, s: whoever stays longer on a step has left the ladder."""
MOST_HOLD_S: Final = 86_400.0
"""Longest final hold, s: a day."""


def _check_ladder(name: str) -> str:
    if name == UNKNOWN_LADDER:
        raise ValueError(f"a ladder must not be called {name!r}: it stands for an old sheet's")
    return name


def _check_outing(name: str) -> str:
    # A pull's identity is outing/code: day/1 with pull 2 would be day with pull 1/2.
    if "/" in name:
        raise ValueError("the name of an outing must not hold '/': it parts outing and pull")
    return name


def _check_place(name: str) -> str:
    if name.casefold() == UNNAMED:
        raise ValueError(f"must not be called {name!r}: it stands for what has no name")
    return name


def _check_code(code: str) -> str:
    if code.casefold() == ANY_ANCHOR:
        raise ValueError(f"an anchor must not be called {code!r}: questions in general say that")
    return code


def _check_load_unit(unit: str) -> str:
    if unit not in LOAD_UNITS:
        raise ValueError(f"unknown load unit {unit!r}; use one of {', '.join(LOAD_UNITS)}")
    return unit


def _check_length_unit(unit: str) -> str:
    if unit not in LENGTH_UNITS:
        raise ValueError(f"unknown length unit {unit!r}; use one of {', '.join(LENGTH_UNITS)}")
    return unit


OutingName = Annotated[Name, AfterValidator(_check_outing)]
PlaceName = Annotated[Name, AfterValidator(_check_place)]
AnchorCode = Annotated[Name, AfterValidator(_check_code)]
LadderName = Annotated[Name, AfterValidator(_check_ladder)]
LoadUnit = Annotated[str, AfterValidator(_check_load_unit)]
LengthUnit = Annotated[str, AfterValidator(_check_length_unit)]


class Boat(Record):
    """A boat that pulls.

    Parameters
    ----------
    top_thrust_kn : float
        The most it can pull, kN.
    bow_height_m : float
        Height of the bow roller above the water, m.
    calibration_error : float
        Relative standard error shared by all its loads (log scale), 0 to 0.5.
    """

    name: Name
    top_thrust_kn: float = Field(gt=0, le=1000)
    bow_height_m: float = Field(default=0.0, ge=0, le=20)
    calibration_error: float = Field(default=0.05, ge=0, le=0.5)


class Gauge(Record):
    """What reads the load; `repeatability` is the log-scale scatter of one reading."""

    name: PlaceName
    repeatability: float | None = Field(default=None, gt=0, le=0.5)
    resolution_kn: float | None = Field(default=None, ge=LEAST_RESOLUTION_KN)


class Step(Record):
    """One step of a ladder: a thrust held for one dwell."""

    load_kn: float = Field(ge=LEAST, le=1000)
    label: str | None = None
    dwell_s: float = Field(ge=LEAST, le=MOST_DWELL_S)


class Ladder(Record):
    """Increasing steps of thrust, and how long the top one is held."""

    name: LadderName
    steps: tuple[Step, ...] = Field(min_length=1)
    final_hold_s: float = Field(gt=0, le=MOST_HOLD_S)

    @model_validator(mode="after")
    def _check(self) -> Self:
        loads = [step.load_kn for step in self.steps]
        if any(after <= before for before, after in pairwise(loads)):
            raise ValueError("the steps' loads must increase from each to the next")
        if self.final_hold_s < self.steps[-1].dwell_s:
            raise ValueError("the final hold must last at least one dwell of the top step")
        labels = [step.label for step in self.steps if step.label is not None]
        if len(set(labels)) < len(labels):
            raise ValueError("two steps carry the same label")
        return self

    @property
    def loads_kn(self) -> tuple[float, ...]:
        """Loads of the steps, increasing, kN."""
        return tuple(step.load_kn for step in self.steps)

    @property
    def top_kn(self) -> float:
        """Load of the top step, kN."""
        return self.steps[-1].load_kn


class Outing(Record):
    """A day (or half day) on the water; its ladder is a name or ``unknown``."""

    name: OutingName
    date: dt.date | None = None
    ladder: Name
    boat: Name
    gauge: Name | None = None
    site: Name | None = None


class Seabed(Record):
    """A kind of bottom; its class chooses the prior of the mass exponent."""

    name: Name
    seabed_class: SeabedClass = "other"


class Site(Record):
    """A place within the campaign, optionally on one seabed only."""

    name: PlaceName
    seabed: Name | None = None


class Anchor(Record):
    """One specimen; a bent or modified one is a new code linked to the old."""

    code: AnchorCode
    kind: str = ""
    mass_kg: float = Field(ge=LEAST, le=1000)
    since: dt.date | None = None
    modified_from: Name | None = None


class Sign(Record):
    """A yes/no observation and the setting mode that a *yes* points to."""

    name: KeyName
    points_to: Literal["upright", "on_side"]


class Minutes(Record):
    """What things take: one pull, a change of rig, a move to another bottom."""

    pull: float = Field(default=15.0, gt=0, le=1e5)
    rig_change: float = Field(default=10.0, ge=0, le=1e5)
    move: float = Field(default=20.0, ge=0, le=1e5)


class Campaign(Record):
    """Everything that pulls refer to; names are unique within their kind."""

    name: Name
    is_invented: bool = False
    about: str = ""
    load_unit: LoadUnit = "kn"
    length_unit: LengthUnit = "m"
    usual_scope: float = Field(default=DEFAULT_SCOPE, ge=1, le=100)
    let_go_m: float | None = Field(default=None, gt=0)
    boats: tuple[Boat, ...] = Field(min_length=1)
    gauges: tuple[Gauge, ...] = ()
    ladders: tuple[Ladder, ...] = ()
    outings: tuple[Outing, ...] = Field(min_length=1)
    seabeds: tuple[Seabed, ...] = Field(min_length=1)
    sites: tuple[Site, ...] = ()
    anchors: tuple[Anchor, ...] = Field(min_length=1)
    treatments: tuple[Treatment, ...] = ()
    interactions: tuple[Interaction, ...] = ()
    signs: tuple[Sign, ...] = ()
    columns: Columns = PLAIN
    minutes: Minutes = Minutes()
    main_question: str | None = None
    questions: tuple[Question, ...] = ()

    @model_validator(mode="after")
    def _check(self) -> Self:
        problems = [*self._repeated_names(), *self._unknown_names(), *self._unknown_in_questions()]
        problems += self._circles()
        problems += interaction_faults(self.treatments, self.interactions)
        # What follows looks names up, so that it needs them to be known.
        problems = problems or self._ladders_too_high()
        if problems:
            raise ValueError("; ".join(problems))
        return self

    def _repeated_names(self) -> list[str]:
        kinds: dict[str, list[str]] = {
            "boat": [boat.name for boat in self.boats],
            "gauge": [gauge.name for gauge in self.gauges],
            "ladder": [ladder.name for ladder in self.ladders],
            "outing": [outing.name for outing in self.outings],
            "seabed": [seabed.name for seabed in self.seabeds],
            "site": [site.name for site in self.sites],
            "anchor": [anchor.code for anchor in self.anchors],
            "treatment": [treatment.name for treatment in self.treatments],
            "sign": [sign.name for sign in self.signs],
            "question": [question.name for question in self.questions],
        }
        return [
            f"{kind} {name!r} is listed {count} times"
            for kind, names in kinds.items()
            for name, count in Counter(names).items()
            if count > 1
        ]

    def _unknown_names(self) -> list[str]:
        ladders = {ladder.name for ladder in self.ladders} | {UNKNOWN_LADDER}
        gauges = {gauge.name for gauge in self.gauges} | {None}
        sites = {site.name for site in self.sites} | {None}
        boats = {boat.name for boat in self.boats}
        anchors = {anchor.code for anchor in self.anchors} | {None}
        seabeds = {seabed.name for seabed in self.seabeds} | {None}
        found: list[str] = []
        for outing in self.outings:
            for kind, name, known in (
                ("ladder", outing.ladder, ladders),
                ("boat", outing.boat, boats),
                ("gauge", outing.gauge, gauges),
                ("site", outing.site, sites),
            ):
                if name not in known:
                    found.append(f"outing {outing.name!r} names an unknown {kind} {name!r}")
        found += [
            f"anchor {anchor.code!r} is modified from an unknown anchor {anchor.modified_from!r}"
            for anchor in self.anchors
            if anchor.modified_from not in anchors
        ]
        found += [
            f"site {site.name!r} names an unknown seabed {site.seabed!r}"
            for site in self.sites
            if site.seabed not in seabeds
        ]
        return found

    def older_specimens(self, code: str) -> tuple[str, ...]:
        """Anchors that one was made from, the nearest first."""
        before = {anchor.code: anchor.modified_from for anchor in self.anchors}
        found: tuple[str, ...] = ()
        name = before.get(code)
        while name is not None:
            found, name = (*found, name), before.get(name)
        return found

    def _circles(self) -> list[str]:
        """Anchors that were modified from themselves, by however many steps."""
        before = {anchor.code: anchor.modified_from for anchor in self.anchors}
        found = []
        for code, source in before.items():
            earlier, name = [code], source
            while name is not None and name not in earlier:
                earlier, name = [*earlier, name], before.get(name)
            if name == code:
                by = "" if len(earlier) == 1 else f" by way of {', '.join(earlier[1:])}"
                found.append(f"anchor {code!r} is modified from itself{by}")
        return found

    def _ladders_too_high(self) -> list[str]:
        used = {(outing.ladder, outing.boat): outing.name for outing in reversed(self.outings)}
        found = []
        for (_, boat), outing in used.items():
            ladder, top_kn = self.ladder_of(outing), self.boat(boat).top_thrust_kn
            if ladder is not None and ladder.top_kn > MOST_THRUST_SHARE * top_kn:
                found.append(
                    f"outing {outing!r} has a ladder up to {ladder.top_kn:g} kN on a boat "
                    f"of {top_kn:g} kN"
                )
        return found

    def _unknown_in_questions(self) -> list[str]:
        anchors = {anchor.code for anchor in self.anchors} | {None}
        seabeds = {seabed.name for seabed in self.seabeds}
        levels = {treatment.name: treatment.levels for treatment in self.treatments}
        names = {question.name for question in self.questions} | {None}
        found = [] if self.main_question in names else [f"no question {self.main_question!r}"]
        for question in self.questions:
            of = f"question {question.name!r} names an unknown"
            found += [f"{of} seabed {name!r}" for name in question.seabeds if name not in seabeds]
            for setup in (question.a, question.b):
                if setup.anchor not in anchors:
                    found.append(f"{of} anchor {setup.anchor!r}")
                for treatment, level in setup.levels.items():
                    if level not in levels.get(treatment, ()):
                        found.append(f"{of} level {treatment}={level}")
            if self.filled(question.a) == self.filled(question.b):
                found.append(f"question {question.name!r} compares a set-up with itself")
        return found

    @property
    def treatment_level_names(self) -> tuple[str, ...]:
        """Coordinate of the dim ``treatment_level``: changed levels, then interactions."""
        return level_names(self.treatments, self.interactions)

    @property
    def interaction_names(self) -> tuple[str, ...]:
        """The interactions among :attr:`treatment_level_names`, where they stand last."""
        single = sum(len(treatment.changed_levels) for treatment in self.treatments)
        return self.treatment_level_names[single:]

    def levels_on(self, levels: Mapping[str, str]) -> frozenset[str]:
        """Coordinates of ``treatment_level`` that are on under these levels."""
        return levels_on(self.interactions, levels)

    def filled(self, setup: SetUp) -> SetUp:
        """The same set-up with every treatment and the scope named."""
        baselines = {treatment.name: treatment.baseline for treatment in self.treatments}
        return SetUp(
            anchor=setup.anchor,
            levels=baselines | setup.levels,
            scope=self.usual_scope if setup.scope is None else setup.scope,
        )

    def outing(self, name: str) -> Outing:
        """The outing of that name (it must exist)."""
        return next(outing for outing in self.outings if outing.name == name)

    def boat(self, name: str) -> Boat:
        """The boat of that name (it must exist)."""
        return next(boat for boat in self.boats if boat.name == name)

    def ladder_of(self, outing: str) -> Ladder | None:
        """Ladder of an outing; None where it is unknown (old sheets)."""
        name = self.outing(outing).ladder
        return next((ladder for ladder in self.ladders if ladder.name == name), None)
