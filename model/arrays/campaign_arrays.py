"""One labelled dataset of a campaign and its pulls.

Dims ``pull`` (void pulls left out) and ``bite`` (every bite, and after a
release with no re-set the next bite that was *not* seen, marked so).
"""

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from math import log
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from model.arrays.ranges import capacity_range, next_bite_range
from model.base.constants import REFERENCE_MASS_KG
from model.base.names import (
    ANCHOR,
    BITE,
    GAUGE,
    NO_SIGN,
    NOT_SEEN,
    NOTHING_SEEN,
    PULL,
    SEABED,
    SEEN_ON_SIDE,
    SEEN_UPRIGHT,
    SIGN,
    TREATMENT_LEVEL,
    UNNAMED,
)
from model.records.campaign import Campaign
from model.records.pull import Bite, Ending, ModeSeen, Pull, Start

if TYPE_CHECKING:
    import xarray as xr  # takes seconds to import: only who wants the dataset waits for it

UNSAID_RESOLUTION: Final = 0.1
"""Width of a reading of buried rode whose resolution nobody wrote, as a share of it."""


def used_pulls(pulls: Sequence[Pull]) -> tuple[Pull, ...]:
    """Pulls that a fit uses, in order of their identity."""
    return tuple(sorted((pull for pull in pulls if not pull.is_void), key=lambda pull: pull.id))


def site_names(campaign: Campaign) -> tuple[str, ...]:
    """Coordinate of the dim ``site``; pulls without a site share the unnamed one."""
    return (*(site.name for site in campaign.sites), UNNAMED)


def gauge_names(campaign: Campaign) -> tuple[str, ...]:
    """Coordinate of the dim ``gauge``."""
    return (*(gauge.name for gauge in campaign.gauges), UNNAMED)


def coordinates(campaign: Campaign) -> dict[str, list[str]]:
    """Coordinates of every parameter dim that the campaign names."""
    return {
        "anchor": [anchor.code for anchor in campaign.anchors],
        "seabed": [seabed.name for seabed in campaign.seabeds],
        "site": list(site_names(campaign)),
        "outing": [outing.name for outing in campaign.outings],
        "boat": [boat.name for boat in campaign.boats],
        "gauge": list(gauge_names(campaign)),
        "treatment_level": list(campaign.treatment_level_names),
        "sign": [sign.name for sign in campaign.signs],
    }


def log_mass_ratios(campaign: Campaign) -> NDArray[np.float64]:
    """``(anchor,)`` log of each anchor's mass over the reference mass."""
    return np.array([log(anchor.mass_kg / REFERENCE_MASS_KG) for anchor in campaign.anchors])


def _modified_from(campaign: Campaign) -> NDArray[np.int64]:
    """``(anchor,)`` position of the specimen that each was made from; -1 for none."""
    codes = [anchor.code for anchor in campaign.anchors]
    sources = [anchor.modified_from for anchor in campaign.anchors]
    return np.array([-1 if source is None else codes.index(source) for source in sources])


def level_vector(campaign: Campaign, levels: dict[str, str]) -> list[float]:
    """1 for each changed level and interaction that is on, in the order of ``treatment_level``."""
    on = campaign.levels_on(levels)
    return [float(name in on) for name in campaign.treatment_level_names]


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What a fit uses of a campaign and its pulls, before it is a labelled dataset.

    Parameters
    ----------
    variables : dict
        Name to ``(dims, values)`` or ``(dims, values, attributes)``.
    coords : dict
        Dim to the names along it.
    usual_scope : float
        Rode length over depth and bow height, from which scopes are counted.
    """

    variables: dict[str, tuple[Any, ...]]
    coords: dict[str, list[str]]
    usual_scope: float


def campaign_facts(campaign: Campaign, pulls: Sequence[Pull]) -> Facts:
    """Plain arrays of a campaign and the pulls that a fit uses; see :func:`campaign_arrays`."""
    used = used_pulls(pulls)
    rows = [row for index, pull in enumerate(used) for row in _bite_rows(campaign, index, pull)]
    return Facts(
        variables={
            **_pull_variables(campaign, used),
            **_bite_variables(rows),
            "signs": ((BITE, SIGN), _signs(campaign, used)),
            **_fixed(campaign),
        },
        coords={**coordinates(campaign), PULL: [pull.id for pull in used]},
        usual_scope=campaign.usual_scope,
    )


def campaign_arrays(campaign: Campaign, pulls: Sequence[Pull]) -> "xr.Dataset":
    """Labelled arrays of a campaign and the pulls that a fit uses.

    Parameters
    ----------
    campaign : Campaign
        Names every anchor, outing and level the pulls refer to.
    pulls : sequence of Pull
        In any order; void ones are left out.

    Returns
    -------
    xarray.Dataset
        Index vectors and covariates by ``pull``, ranges and evidence by
        ``bite``, masses by ``anchor`` (kg), loads in kN.
    """
    import xarray as xr

    facts = campaign_facts(campaign, pulls)
    return xr.Dataset(facts.variables, facts.coords, {"usual_scope": facts.usual_scope})


def _pull_variables(campaign: Campaign, pulls: Sequence[Pull]) -> dict[str, tuple[Any, ...]]:
    coords = coordinates(campaign)
    index_of = {dim: {name: i for i, name in enumerate(names)} for dim, names in coords.items()}
    outings = {outing.name: outing for outing in campaign.outings}
    named = {
        "anchor": [pull.anchor for pull in pulls],
        "seabed": [pull.seabed for pull in pulls],
        "site": [pull.site or outings[pull.outing].site or UNNAMED for pull in pulls],
        "outing": [pull.outing for pull in pulls],
        "boat": [outings[pull.outing].boat for pull in pulls],
        "gauge": [outings[pull.outing].gauge or UNNAMED for pull in pulls],
    }
    levels = [level_vector(campaign, pull.levels) for pull in pulls]
    shift = [1 / (pull.scope or campaign.usual_scope) - 1 / campaign.usual_scope for pull in pulls]
    return {
        **{
            f"{dim}_index": (PULL, np.array([index_of[dim][n] for n in names], dtype=np.int64))
            for dim, names in named.items()
        },
        "level": (
            (PULL, TREATMENT_LEVEL),
            np.array(levels, dtype=float).reshape(len(pulls), len(coords["treatment_level"])),
        ),
        "inverse_scope_shift": (PULL, np.array(shift, dtype=float)),
        "has_set": (PULL, np.array([float(pull.has_set) for pull in pulls])),
    }


BiteRow = dict[str, float]
NOTHING_BURIED: Final = {"buried_lower_m": 0.0, "buried_upper_m": np.inf}
"""Says nothing of the buried rode: any length is in it."""


def bites_that_count(pull: Pull) -> tuple[Bite | None, ...]:
    """The bites of a pull, and None for the next one where it was looked for and not seen.

    After a release an anchor that does not dig in again drags; after a turn
    one that does not set again is written down as never set.
    """
    if not pull.has_set:
        return ()
    seen = tuple(bite for bite in pull.bites if bite.ending is not Ending.NEVER_SET)
    has_gone = pull.ending in {Ending.RELEASED, Ending.NEVER_SET}
    return (*seen, None) if has_gone else seen


def _bite_rows(campaign: Campaign, pull_index: int, pull: Pull) -> Iterator[BiteRow]:
    ladder = campaign.ladder_of(pull.outing)
    top_kn = campaign.boat(campaign.outing(pull.outing).boat).top_thrust_kn
    for bite, start_kn in zip(bites_that_count(pull), _starts_kn(pull), strict=False):
        if bite is None:
            yield _unseen_row(pull_index, pull, start_kn)
            continue
        yield {
            "pull_index": pull_index,
            **asdict(capacity_range(bite, ladder, start_kn, top_kn)),
            "seen": _seen(bite),
            **buried_range(bite),
            "is_later": bite.number > 1,
            "is_reset": bite.start is not Start.FRESH,
            "is_turn": bite.start is Start.AFTER_TURN,
            "is_unseen": False,
        }


def _starts_kn(pull: Pull) -> tuple[float, ...]:
    """Thrust that is on when each bite begins, and after a release for the next one, kN."""
    return (*pull.start_thrusts_kn, pull.bites[-1].load_kn or 0.0)


def _unseen_row(pull_index: int, pull: Pull, start_kn: float) -> BiteRow:
    """The next bite, which did not come: it would have had to stand the thrust that was on."""
    return {
        "pull_index": pull_index,
        **asdict(next_bite_range(start_kn)),
        "seen": NOTHING_SEEN,
        **NOTHING_BURIED,
        "is_later": True,
        "is_reset": True,
        "is_turn": pull.ending is Ending.NEVER_SET,
        "is_unseen": True,
    }


def buried_range(bite: Bite) -> BiteRow:
    """Ends of the range of buried rode, m: ``buried_lower_m``, ``buried_upper_m``."""
    if bite.buried is None:
        return NOTHING_BURIED
    length_m = bite.buried.length_m
    if bite.buried.kind == "at_least":
        return {"buried_lower_m": length_m, "buried_upper_m": np.inf}
    if bite.buried.kind == "less_than":
        return {"buried_lower_m": 0.0, "buried_upper_m": length_m}
    half_m = (bite.buried.resolution_m or UNSAID_RESOLUTION * length_m) / 2
    return {"buried_lower_m": max(length_m - half_m, 0.0), "buried_upper_m": length_m + half_m}


def _signs(campaign: Campaign, pulls: Sequence[Pull]) -> NDArray[np.int64]:
    """1 yes, 0 no, ``NO_SIGN`` where it was not written down, ``(bite, sign)``."""
    bites = [bite for pull in pulls for bite in bites_that_count(pull)]
    found = [
        [NO_SIGN if bite is None else int(bite.signs.get(sign.name, NO_SIGN)) for bite in bites]
        for sign in campaign.signs
    ]
    return np.array(found, dtype=np.int64).reshape(len(campaign.signs), len(bites)).T


def _seen(bite: Bite) -> int:
    if bite.mode is ModeSeen.UPRIGHT:
        return SEEN_UPRIGHT
    if bite.mode is ModeSeen.ON_SIDE:
        return SEEN_ON_SIDE
    return NOT_SEEN if bite.has_camera else NOTHING_SEEN


_BITE_DTYPES: Final[dict[str, type]] = {
    "pull_index": np.int64,
    "lower_kn": np.float64,
    "upper_kn": np.float64,
    "lower_log_hold": np.float64,
    "upper_log_hold": np.float64,
    "spoilt_share": np.float64,
    "seen": np.int64,
    "buried_lower_m": np.float64,
    "buried_upper_m": np.float64,
    "is_later": np.float64,
    "is_reset": np.float64,
    "is_turn": np.float64,
    "is_unseen": np.float64,
}


def _bite_variables(rows: Sequence[BiteRow]) -> dict[str, tuple[Any, ...]]:
    units = {name: {"units": name.split("_")[-1].replace("kn", "kN")}
             for name in ("lower_kn", "upper_kn", "buried_lower_m", "buried_upper_m")}  # fmt: skip
    return {
        name: (BITE, np.array([row[name] for row in rows], dtype=dtype), units.get(name, {}))
        for name, dtype in _BITE_DTYPES.items()
    }


def _fixed(campaign: Campaign) -> dict[str, tuple[Any, ...]]:
    repeatability = {gauge.name: gauge.repeatability for gauge in campaign.gauges}
    return {
        "log_mass_ratio": (ANCHOR, log_mass_ratios(campaign)),
        "modified_from_index": (ANCHOR, _modified_from(campaign)),
        "seabed_class": (SEABED, [seabed.seabed_class for seabed in campaign.seabeds]),
        "sign_points_upright": (
            SIGN,
            np.array([sign.points_to == "upright" for sign in campaign.signs], dtype=np.int64),
        ),
        "calibration_error": ("boat", [boat.calibration_error for boat in campaign.boats]),
        "repeatability": (
            GAUGE,
            [repeatability.get(name) or np.nan for name in gauge_names(campaign)],
        ),
    }
