"""Every single number among the parameters: its true value, and its draws."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from model.base.names import DRAW, PARAMETER_DIMS
from model.posterior.posterior import Posterior
from model.simulate.world import World

Array = NDArray[np.float64]


def parameter_labels(names: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """What every single number is called, as ``anchor_load[K1]``, in the order of all.

    Parameters
    ----------
    names : mapping of str to sequence of str
        Coordinates of each dim of a truth; see :func:`model.simulate.world.dim_names`.
    """
    return tuple(
        _label(name, labels)
        for name, dims in PARAMETER_DIMS.items()
        for labels in product(*(names[dim] for dim in dims))
    )


def _label(name: str, labels: Sequence[str]) -> str:
    return f"{name}[{', '.join(labels)}]" if labels else name


def parameter_draws(
    world: World, posterior: Posterior
) -> Iterator[tuple[str, float, Array | None]]:
    """Label, truth and draws ``(draw,)`` of every single number, in the order of the labels.

    No draws where it is fixed, since the campaign has nothing to tell it from, or has no draws.
    """
    for name, dims in PARAMETER_DIMS.items():
        truth = np.asarray(world.values[name])
        found = posterior.draws.get(name)
        drawn = None if found is None else found.transpose(DRAW, *dims)
        known = [] if drawn is None else [[str(c) for c in drawn[d].to_numpy()] for d in dims]
        for labels in product(*(world.names[dim] for dim in dims)):
            place = tuple(
                world.names[dim].index(one) for dim, one in zip(dims, labels, strict=True)
            )
            own = None if drawn is None else _own(drawn.to_numpy(), known, labels)
            yield _label(name, labels), float(truth[place]), own


def _own(drawn: Array, known: Sequence[Sequence[str]], labels: Sequence[str]) -> Array | None:
    if any(label not in names for label, names in zip(labels, known, strict=True)):
        return None
    there = tuple(names.index(label) for label, names in zip(labels, known, strict=True))
    own: Array = np.moveaxis(drawn, 0, -1)[there]
    return own if np.ptp(own) > 0 else None
