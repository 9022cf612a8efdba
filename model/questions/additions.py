"""Whether a store's facts are those of a fit and more, or some of those were changed."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from model.arrays.campaign_arrays import Facts, campaign_facts, coordinates
from model.base.names import BITE, NO_SIGN, PULL
from model.records.campaign import Campaign
from model.records.pull import Pull


@dataclass(frozen=True, kw_only=True)
class Additions:
    """What came after a fit, where nothing that it rests on has changed.

    Parameters
    ----------
    campaign : Campaign
        As it is now: it names what the fit's does, and perhaps more.
    pulls : tuple of Pull
        Used ones that the fit does not know, in the order in which they were stored.
    """

    campaign: Campaign
    pulls: tuple[Pull, ...]

    @property
    def has_more(self) -> bool:
        """Whether there is a pull to weigh."""
        return bool(self.pulls)


def additions(
    campaign_then: Campaign,
    pulls_then: Sequence[Pull],
    campaign_now: Campaign,
    pulls_now: Sequence[Pull],
) -> Additions | None:
    """What was added since; None where a fact of the fit was corrected, taken out or renamed.

    Void pulls count as nothing, and so does what no fit uses: notes, videos, questions.
    """
    then = {pull.id: pull for pull in pulls_then if not pull.is_void}
    now = {pull.id: pull for pull in pulls_now if not pull.is_void}
    if not then.keys() <= now.keys():
        return None
    found = Additions(
        campaign=campaign_now, pulls=tuple(pull for name, pull in now.items() if name not in then)
    )
    kept = [now[name] for name in then]
    if campaign_then == campaign_now and kept == list(then.values()):
        return found
    before = campaign_facts(campaign_then, list(then.values()))
    return found if _holds(campaign_facts(campaign_now, kept), before) else None


def names_more(campaign: Campaign, than: Campaign) -> bool:
    """Whether a campaign has names with effects of their own that another has not."""
    return coordinates(campaign) != coordinates(than)


def _holds(now: Facts, then: Facts) -> bool:
    """Whether the same pulls say the same under two campaigns, by name and not by place."""
    named = {dim: names for dim, names in then.coords.items() if dim != PULL}
    if any(not set(names) <= set(now.coords[dim]) for dim, names in named.items()):
        return False
    if now.usual_scope != then.usual_scope or now.coords[PULL] != then.coords[PULL]:
        return False
    return all(
        _is_same(name, variable, now.variables[name], now, then)
        for name, variable in then.variables.items()
    )


def _is_same(
    name: str, before: tuple[Any, ...], after: tuple[Any, ...], now: Facts, then: Facts
) -> bool:
    dims = (before[0],) if isinstance(before[0], str) else before[0]
    old, new = np.asarray(before[1]), np.asarray(after[1])
    for axis, dim in enumerate(dims):
        if dim in {PULL, BITE}:
            continue
        place = [now.coords[dim].index(label) for label in then.coords[dim]]
        more = np.delete(new, place, axis=axis)
        if len(dims) > 1 and (more != (NO_SIGN if name == "signs" else 0)).any():
            return False  # a pull of the fit has a level, or a sign, that it had not
        new = np.take(new, place, axis=axis)
    if name.endswith("_index") and name != "pull_index":
        old, new = _labels(name, old, then), _labels(name, new, now)
    if old.shape != new.shape:
        return False
    is_number = old.dtype.kind == "f"  # a repeatability that is not known is no number
    return bool(np.array_equal(old, new, equal_nan=is_number))


def _labels(name: str, index: NDArray[Any], facts: Facts) -> NDArray[Any]:
    """Names in the place of positions; -1 stands for none."""
    dim = "anchor" if name == "modified_from_index" else name.removesuffix("_index")
    names = [*facts.coords[dim], ""]
    return np.array([names[place] for place in index])
