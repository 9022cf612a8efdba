"""Draws of a fit for a campaign that has come to name more: another day, site, anchor, level.

What the fit knows stays as it is. Of what it does not know, each draw gets a
deviation from its own hierarchy: its scales where there are any, else the
prior. That is exact: before its first pull nothing else is known of a new name.
"""

from collections.abc import Mapping
from typing import Any, Final
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from model.arrays.campaign_arrays import campaign_arrays, coordinates
from model.base.names import ANCHOR, PARAMETER_DIMS
from model.base.priors import Priors
from model.outcomes.kinship import BY_ANCHOR
from model.outcomes.prior_arrays import named_priors
from model.outcomes.shape import Shape
from model.outcomes.variates import FROM_SCALE, RATES
from model.posterior.posterior import Posterior
from model.questions.effect import parameters_of
from model.records.campaign import Campaign

Array = NDArray[np.float64]
Drawn = dict[str, Array]

SEED: Final = 20_261_126
"""Of what is drawn for new names. Fixed, and apart for each name: a further pull of the same new
day moves an answer by what it says, not by other luck."""


def extended_draws(posterior: Posterior, campaign: Campaign) -> Drawn:
    """Draws of every parameter for a campaign that holds all the names of the fit's, and more.

    Parameters
    ----------
    campaign : Campaign
        What the fit's campaign names means the same in it.

    Returns
    -------
    dict of str to array
        ``(draw, *dims)`` for each of :data:`model.base.names.PARAMETER_DIMS`, in the order of
        the campaign's own lists.
    """
    known = {name: drawn for name, drawn in parameters_of(posterior).items()
             if name in PARAMETER_DIMS}  # fmt: skip
    before, after = coordinates(posterior.campaign), coordinates(campaign)
    if before == after:
        return known
    place = {
        dim: np.array([names.index(name) for name in before[dim]], dtype=np.int64)
        for dim, names in after.items()
    }
    priors = Priors.of(posterior.provenance.priors)
    news = _News(campaign, known, priors)
    return {
        name: _extended(name, known[name], place, after, news)
        if any(before[dim] != after[dim] for dim in dims if dim in after)
        else known[name]
        for name, dims in PARAMETER_DIMS.items()
    }


class _News:
    """Deviations of new names, given each draw's scales.

    Parameters
    ----------
    known : dict of str to array
        Draws of the fit; the scales are read from them.
    """

    def __init__(self, campaign: Campaign, known: Mapping[str, Array], priors: Priors) -> None:
        self._campaign, self._known = campaign, known
        self._correlation = priors.kin_correlation
        self._n_draw = len(known["load_base"])
        shape = Shape.of(campaign)
        self._priors = named_priors(campaign_arrays(campaign, ()), priors, shape)

    def to_normal(self, name: str, values: Array) -> Array:
        """Values on the scale on which they are normal, a gap as its deviation from the centre."""
        if name == "mode_gap":
            deviation: Array = np.log(values) - self._known["mode_gap_centre"][:, None]
            return deviation
        return np.log(values) if name == "gauge_scatter" else values

    def from_normal(self, name: str, values: Array) -> Array:
        """The way back of :meth:`to_normal`."""
        if name == "mode_gap":
            gap: Array = np.exp(self._known["mode_gap_centre"][:, None] + values)
            return gap
        return np.exp(values) if name == "gauge_scatter" else values

    def fill(self, name: str, values: Array, is_new: NDArray[np.bool_], names: list[list[str]]
             ) -> None:  # fmt: skip
        """Draw what is new among values ``(draw, *dims)``, in place, on their normal scale."""
        if name in BY_ANCHOR:
            self._fill_by_anchor(name, values, is_new, names)
            return
        for index in np.argwhere(is_new):
            place = tuple(index)
            called = [among[at] for among, at in zip(names, index, strict=True)]
            values[(slice(None), *place)] = self._one(name, place, called)

    def _one(self, name: str, place: tuple[int, ...], called: list[str]) -> Array:
        rng = _generator(name, called)
        if name in RATES:
            a, b = (part[place] for part in self._priors[name])
            return rng.beta(a, b, self._n_draw)
        standard = rng.standard_normal(self._n_draw)
        if name in FROM_SCALE:
            return self._known[f"{name}_scale"] * standard
        mean, sd = (part[place] for part in self._priors[name])
        return np.asarray(mean + sd * standard)

    def _fill_by_anchor(
        self, name: str, values: Array, is_new: NDArray[np.bool_], names: list[list[str]]
    ) -> None:
        """The same where specimens may be kin: a share of the older one's, and news of its own."""
        axis = PARAMETER_DIMS[name].index(ANCHOR)
        by_anchor, new = np.moveaxis(values, axis + 1, -1), np.moveaxis(is_new, axis, -1)
        codes = names[axis]
        others = names[:axis] + names[axis + 1 :]
        older = {anchor.code: anchor.modified_from for anchor in self._campaign.anchors}
        # The one it was made from first: a new one may be made from another new one.
        for code in sorted(codes, key=lambda one: len(self._campaign.older_specimens(one))):
            at, source = codes.index(code), older[code]
            own = 1.0 if source is None else np.sqrt(1 - self._correlation**2)
            for index in np.argwhere(new[..., at]):
                place = tuple(index)
                called = [among[i] for among, i in zip(others, index, strict=True)]
                drawn = own * self._one(name, (), [*called, code])
                if source is not None:
                    drawn = drawn + (
                        self._correlation * by_anchor[(slice(None), *place, codes.index(source))]
                    )
                by_anchor[(slice(None), *place, at)] = drawn


def _generator(name: str, called: list[str]) -> np.random.Generator:
    return np.random.default_rng([SEED, crc32("\n".join([name, *called]).encode())])


def _extended(
    name: str,
    known: Array,
    place: Mapping[str, NDArray[np.int64]],
    after: Mapping[str, list[str]],
    news: _News,
) -> Array:
    dims = PARAMETER_DIMS[name]
    sizes = tuple(len(after[dim]) for dim in dims)
    there = np.ix_(*(place[dim] for dim in dims))
    in_each_draw: tuple[Any, ...] = (slice(None), *there)
    is_new = np.ones(sizes, dtype=bool)
    is_new[there] = False
    values = np.empty((len(known), *sizes))
    values[in_each_draw] = news.to_normal(name, known)
    news.fill(name, values, is_new, [after[dim] for dim in dims])
    found = news.from_normal(name, values)
    found[in_each_draw] = known  # as it was, to the last digit
    return found
