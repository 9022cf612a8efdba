"""What is about to be pulled, and how the crew goes about it."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from model.base.errors import InputError
from model.records.campaign import Campaign, Ladder
from model.records.pull import Reading

NOTHING: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True, kw_only=True)
class Plan:
    """One pull before it is made.

    Parameters
    ----------
    site : str or None
        None takes the outing's site; without either no site effect applies.
    levels : mapping of str to str
        Treatment to level; a treatment left out is at its baseline.
    scope : float or None
        None is the campaign's usual scope.
    void_reason : str
        If given, something that has nothing to do with the anchor spoils the pull: it is void.
    through_day : float
        When in its day: -0.5 for the first pull, 0.5 for the last. Only a drift asks.
    """

    outing: str
    anchor: str
    seabed: str
    code: str
    site: str | None = None
    levels: Mapping[str, str] = NOTHING
    scope: float | None = None
    time: dt.time | None = None
    void_reason: str = ""
    through_day: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Tape:
    """How buried rode is measured, m.

    Parameters
    ----------
    visible_m : float
        Below it none is seen: written ``<visible_m``.
    limit_m : float
        From it on the mark is out of sight: written ``>limit_m``.
    resolution_m : float
        Readings are rounded to it.
    """

    visible_m: float = 0.2
    limit_m: float = 3.0
    resolution_m: float = 0.1


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What a campaign writes down besides loads: buried rode, and its signs; nothing by default."""

    tape: Tape | None = None
    has_signs: bool = False


@dataclass(frozen=True, kw_only=True)
class Protocol:
    """How the crew pulls and what it writes down; every chance is from 0 to 1.

    Parameters
    ----------
    camera_chance : float
        Per pull: a camera is used, for all its bites.
    stop_chance : float
        Per pull: the crew means to stop after one step chosen uniformly
        beforehand (and does, if the anchor still stands then).
    void_chance : float
        Per pull: it turns out void.
    release_stop_chance : float
        Per release: the crew takes the thrust off, so that no re-set is tried.
    turn_chance : float
        Per pull that held to the end: the thrust comes off, and the boat pulls from another side.
    reading : Reading
        ``peak``: a release is written as the seen capacity, rounded to
        `resolution_kn` and never above its step; the thrust then on is the
        written load. In the final hold the peak is the top step itself, so
        that such a release is written as a step with its seconds.
    evidence : Evidence
        What else is written down: buried rode and signs.
    missing_chance : float
        Per cell that may be empty (camera with mode, buried, each sign): it
        is, whatever happened.
    """

    camera_chance: float = 1.0
    stop_chance: float = 0.0
    stop_reasons: tuple[str, ...] = ("ferry wash", "rain squall", "end of the day")
    void_chance: float = 0.0
    void_reasons: tuple[str, ...] = ("fouled on an old rope", "shackle bent", "wrong leader on")
    release_stop_chance: float = 0.0
    turn_chance: float = 0.0
    reading: Reading = Reading.STEP
    resolution_kn: float = 0.05
    evidence: Evidence = field(default_factory=Evidence)
    missing_chance: float = 0.0


def site_of(campaign: Campaign, plan: Plan) -> str | None:
    """The plan's site, else its outing's, else None."""
    return plan.site if plan.site is not None else campaign.outing(plan.outing).site


def scope_of(campaign: Campaign, plan: Plan) -> float:
    """The plan's scope, else the campaign's usual one."""
    return campaign.usual_scope if plan.scope is None else plan.scope


def ladder_kept(campaign: Campaign, plan: Plan) -> Ladder:
    """The ladder of the plan's outing.

    Raises
    ------
    InputError
        If the outing's ladder is unknown: there is nothing to climb.
    """
    ladder = campaign.ladder_of(plan.outing)
    if ladder is None:
        raise InputError(
            f"outing {plan.outing!r} has no known ladder", hint="Name a ladder of the campaign."
        )
    return ladder
