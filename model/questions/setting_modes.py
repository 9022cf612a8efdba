"""How set-ups set: how often at all, how often upright, how often again after letting go."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrays.campaign_arrays import level_vector, log_mass_ratios
from model.outcomes.prediction import Prediction, SetUpRow, predict, sigmoid
from model.posterior.posterior import Posterior
from model.questions.answer import Estimate
from model.questions.effect import UNITS, estimate, parameters_of
from model.questions.passed import require_passed
from model.questions.readings import newest_readings
from model.questions.whole_pulls import WholePulls, whole_pulls
from model.records.campaign import Campaign
from model.records.pull import ModeSeen, Pull
from model.records.question import SetUp

Array = NDArray[np.float64]

SEED: Final = 20_261_125
"""The next anchor is drawn along with every prediction, though none of these is about it."""


@dataclass(frozen=True, kw_only=True)
class Place:
    """A set-up on one seabed, every level named; at the campaign's usual scope.

    Which mode an anchor sets in does not depend on the scope in this model, so
    pulls of any scope are pulls of it.
    """

    anchor: str
    seabed: str
    levels: dict[str, str]

    @classmethod
    def of(cls, campaign: Campaign, pull: Pull) -> "Place":
        """Where and with what a pull was made."""
        levels = campaign.filled(SetUp(levels=pull.levels)).levels
        return cls(anchor=pull.anchor, seabed=pull.seabed, levels=levels)


@dataclass(frozen=True, kw_only=True)
class SeenCounts:
    """Used pulls by how their first bite was seen to set; they sum to `count`."""

    upright: int = 0
    on_side: int = 0
    not_seen: int = 0
    never_set: int = 0

    @property
    def count(self) -> int:
        """How many used pulls there are."""
        return self.upright + self.on_side + self.not_seen + self.never_set

    @property
    def only_mode(self) -> ModeSeen | None:
        """The one mode that was ever seen; None where both or neither were.

        Not proof that it never varies: the chance of the other mode stays as
        wide as its interval says.
        """
        if (self.upright > 0) == (self.on_side > 0):
            return None
        return ModeSeen.UPRIGHT if self.upright else ModeSeen.ON_SIDE


@dataclass(frozen=True, kw_only=True)
class SetUpModes:
    """How one set-up sets, on fresh ground and an average day.

    Parameters
    ----------
    p_sets, p_upright, p_resets : Estimate
        Chances: to set at all; once set, that the first bite is upright; to
        dig in again after letting go.
    load_upright, load_on_side : Estimate
        Typical load of each mode, kN. The one of a mode that was never seen
        rests on other set-ups.
    whole : WholePulls or None
        How its next pull would go; None where the campaign knows no ladder.
    is_predicted : bool
        Never pulled: known from other set-ups alone.
    """

    place: Place
    scope: float
    pulls: SeenCounts
    p_sets: Estimate
    p_upright: Estimate
    p_resets: Estimate
    load_upright: Estimate
    load_on_side: Estimate
    whole: WholePulls | None

    @property
    def is_predicted(self) -> bool:
        """Whether no used pull of it stands behind the figures."""
        return self.pulls.count == 0


def set_up_modes(
    posterior: Posterior, pulls: Sequence[Pull], asked: Sequence[Place] = ()
) -> tuple[SetUpModes, ...]:
    """How every set-up sets that was pulled, and those asked for beside them.

    Parameters
    ----------
    posterior : Posterior
    pulls : sequence of Pull
        Those the posterior rests on; void ones are left out.
    asked : sequence of Place
        Set-ups to tell as well, also ones never pulled; their anchors, seabeds
        and levels must be in the posterior's campaign.

    Returns
    -------
    tuple of SetUpModes
        By anchor, seabed and levels in the campaign's order, each set-up once.

    Raises
    ------
    FitFailed
        If the draws failed their fit check.
    """
    require_passed(posterior)
    campaign = posterior.campaign
    used = [(Place.of(campaign, pull), pull) for pull in pulls if not pull.is_void]
    places = _in_order(campaign, [*(place for place, _ in used), *asked])
    if not places:
        return ()
    rows = [_row(campaign, place) for place in places]
    rng = np.random.default_rng(SEED)
    parameters = parameters_of(posterior)
    found = predict(parameters, rows, log_mass_ratios(campaign), rng)
    readings = newest_readings(campaign, parameters)
    whole = whole_pulls(found, readings, parameters["hold_exponent"], rng)
    return tuple(
        _set_up(campaign, place, [pull for of, pull in used if of == place], found, whole, index)
        for index, place in enumerate(places)
    )


def untried(campaign: Campaign, pulls: Sequence[Pull]) -> tuple[Place, ...]:
    """Set-ups never pulled that lie near those that were.

    On every anchor and seabed those that differ from the baseline by one level at
    most. Levels of two treatments together only where one of the two was pulled:
    there are many, and from what neither was pulled with little can be foretold.
    """
    pulled = [Place.of(campaign, pull) for pull in pulls if not pull.is_void]
    tried = {
        (place.anchor, place.seabed, change) for place in pulled for change in place.levels.items()
    }
    baseline, pairs = campaign.filled(SetUp()).levels, _pairs(campaign)
    found = []
    for anchor, seabed in product(campaign.anchors, campaign.seabeds):
        where = (anchor.code, seabed.name)
        near = [pair for pair in pairs if any((*where, one) in tried for one in pair.items())]
        found += [
            Place(anchor=anchor.code, seabed=seabed.name, levels=baseline | changes)
            for changes in ({}, *_single_changes(campaign), *near)
        ]
    return tuple(place for place in found if place not in pulled)


def _single_changes(campaign: Campaign) -> list[dict[str, str]]:
    return [
        {treatment.name: level}
        for treatment in campaign.treatments
        for level in treatment.changed_levels
    ]


def _pairs(campaign: Campaign) -> list[dict[str, str]]:
    """Every two changed levels of different treatments."""
    return [
        one | other
        for one, other in combinations(_single_changes(campaign), 2)
        if one.keys() != other.keys()
    ]


def _in_order(campaign: Campaign, places: Sequence[Place]) -> list[Place]:
    anchors = [anchor.code for anchor in campaign.anchors]
    seabeds = [seabed.name for seabed in campaign.seabeds]
    each: list[Place] = []
    for place in places:
        if place not in each:
            each.append(place)
    return sorted(
        each,
        key=lambda place: (
            anchors.index(place.anchor),
            seabeds.index(place.seabed),
            [
                treatment.levels.index(place.levels[treatment.name])
                if place.levels[treatment.name] != treatment.baseline
                else -1  # the baseline first, wherever the campaign lists it
                for treatment in campaign.treatments
            ],
        ),
    )


def _row(campaign: Campaign, place: Place) -> SetUpRow:
    return SetUpRow(
        anchor_index=[anchor.code for anchor in campaign.anchors].index(place.anchor),
        seabed_index=[seabed.name for seabed in campaign.seabeds].index(place.seabed),
        level=tuple(level_vector(campaign, place.levels)),
        inverse_scope_shift=0.0,
    )


def _set_up(
    campaign: Campaign,
    place: Place,
    pulls: Sequence[Pull],
    found: Prediction,
    whole: Sequence[WholePulls | None],
    index: int,
) -> SetUpModes:
    def chance(values: Array) -> Estimate:
        return estimate(values[:, index], UNITS["chance"])

    def load(log_load: Array) -> Estimate:
        return estimate(np.exp(log_load[:, index]), UNITS["load"])

    return SetUpModes(
        place=place,
        scope=campaign.usual_scope,
        pulls=_counts(pulls),
        p_sets=chance(found.p_sets),
        p_upright=chance(sigmoid(found.logit_upright)),
        p_resets=chance(found.p_resets),
        load_upright=load(found.log_upright),
        load_on_side=load(found.log_on_side),
        whole=whole[index],
    )


def _counts(pulls: Sequence[Pull]) -> SeenCounts:
    first = [pull.bites[0].mode for pull in pulls if pull.has_set]
    return SeenCounts(
        upright=first.count(ModeSeen.UPRIGHT),
        on_side=first.count(ModeSeen.ON_SIDE),
        not_seen=first.count(None),
        never_set=len(pulls) - len(first),
    )
