"""One anchor on one ground, and its parameters: the likelihood with all but a few things off."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.typing import NDArray
from scipy.optimize import minimize

from model.arrays.campaign_arrays import campaign_arrays
from model.base.names import PARAMETER_DIMS
from model.outcomes.likelihood import log_likelihood
from model.records.campaign import Anchor, Boat, Campaign, Ladder, Outing, Seabed, Step
from model.records.pull import Bite, Ending, Pull, Reading, Start

Array = NDArray[np.float64]
Place = Callable[[Array], Mapping[str, Array]]
"""From vectors ``(draw, k)`` to the parameters that they set, each with a leading ``draw``."""

CERTAIN = 60.0
"""A logit whose chance is 1 in double precision."""
NOTHING = 1e-30
"""Stands for a scatter or share of 0 where its logarithm is taken."""


@dataclass(frozen=True, kw_only=True)
class Bench:
    """One boat, one day, one seabed, one anchor; a ladder, or an old sheet without one."""

    campaign: Campaign

    def pull(self, code: str, *bites: Bite) -> Pull:
        """A pull of the one anchor."""
        return Pull(code=code, outing="day", anchor="S6", seabed="ground", bites=bites, reason="-")

    def arrays(self, bites: Sequence[Bite]) -> xr.Dataset:
        """Arrays of one pull for each bite, in their order."""
        pulls = [self.pull(f"{i:05}", bite) for i, bite in enumerate(bites)]
        return campaign_arrays(self.campaign, pulls)


def _bench(*loads_kn: float, final_hold_s: float = 60.0) -> Bench:
    steps = tuple(Step(load_kn=load_kn, dwell_s=15.0) for load_kn in loads_kn)
    ladders = (Ladder(name="steps", steps=steps, final_hold_s=final_hold_s),) if steps else ()
    return Bench(
        campaign=Campaign(
            name="bench",
            is_invented=True,
            boats=(Boat(name="boat", top_thrust_kn=max(loads_kn, default=1000.0)),),
            ladders=ladders,
            outings=(Outing(name="day", ladder="steps" if steps else "unknown", boat="boat"),),
            seabeds=(Seabed(name="ground"),),
            anchors=(Anchor(code="S6", mass_kg=10.0),),
        )
    )


@pytest.fixture
def make_bench() -> Callable[..., Bench]:
    """Steps of 15 s each; none is an old sheet."""
    return _bench


@pytest.fixture
def make_bite() -> Callable[..., Bite]:
    """A bite that ended so; a later one starts after a slip."""

    def make(ending: str, load_kn: float | None = None, number: int = 1, **more: Any) -> Bite:
        start = Start.FRESH if number == 1 else Start.AFTER_SLIP
        facts = {"number": number, "start": start, "ending": Ending(ending), "load_kn": load_kn}
        return Bite.model_validate({**facts, **more})

    return make


@pytest.fixture
def between(make_bite) -> Callable[[float, float], Bite]:
    """A bite whose capacity lies between two loads; what came after it says nothing."""

    def make(lower_kn: float, upper_kn: float) -> Bite:
        return make_bite(
            "released_then_stopped",
            (lower_kn + upper_kn) / 2,
            reading=Reading.PEAK,
            resolution_kn=upper_kn - lower_kn,
        )

    return make


@pytest.fixture
def held_above(make_bite) -> Callable[[float], Bite]:
    """A bite that held so much, where no ladder says how long that was."""
    return lambda load_kn: make_bite("held", load_kn)


def _plain(arrays: xr.Dataset, **changed: Any) -> dict[str, Array]:
    found = {
        name: np.zeros((1, *(2 if dim == "mode" else arrays.sizes[dim] for dim in dims)))
        for name, dims in PARAMETER_DIMS.items()
    }
    found |= {
        name: np.full_like(found[name], value)
        for name, value in {
            "upright_base": CERTAIN,
            "sets_base": CERTAIN,
            "resets_base": -CERTAIN,
            "not_seen_base": -CERTAIN,
            "seen_upright_rate": 0.95,
            "seen_on_side_rate": 0.95,
            "gauge_scatter": NOTHING,
            "spoilt_share": NOTHING,
        }.items()
    }
    values = {name: np.asarray(value, dtype=float) for name, value in changed.items()}
    return found | {name: np.broadcast_to(v, found[name].shape) for name, v in values.items()}


@pytest.fixture
def plain_parameters() -> Callable[..., dict[str, Array]]:
    """One draw: always sets, upright and sound; no effect, no gauge, no re-set but as told."""
    return _plain


@dataclass(frozen=True, kw_only=True)
class Maximum:
    """Where the log-likelihood is highest, how high, and its standard errors there."""

    at: Array
    log_likelihood: float
    errors: Array


def _maximise(
    arrays: xr.Dataset, plain: Mapping[str, Array], place: Place, start: Sequence[float]
) -> Maximum:
    size, step = len(start), 1e-4

    def totals(vectors: Array) -> Array:
        wide = {n: np.broadcast_to(v, (len(vectors), *v.shape[1:])) for n, v in plain.items()}
        return log_likelihood({**wide, **place(vectors)}, arrays).sum(axis=1)

    def slope(at: Array, width: float = step) -> Array:
        moved = np.concatenate([at + width * np.eye(size), at - width * np.eye(size)])
        high, low = totals(moved).reshape(2, size)
        return (high - low) / (2 * width)

    found = minimize(
        lambda at: -totals(at[None])[0],
        np.array(start, dtype=float),
        jac=lambda at: -slope(at),
        method="BFGS",
        options={"gtol": 1e-6},
    ).x
    curve = np.array([(slope(found + h) - slope(found - h)) / 2e-3 for h in 1e-3 * np.eye(size)])
    errors = np.sqrt(np.diag(np.linalg.inv(-(curve + curve.T) / 2)))
    return Maximum(at=found, log_likelihood=float(totals(found[None])[0]), errors=errors)


@pytest.fixture
def maximise() -> Callable[..., Maximum]:
    """Maximum likelihood of a few parameters, the others kept as they are."""
    return _maximise


@pytest.fixture
def load_and_scatter() -> Place:
    """The mean log load and the log scatter of the upright mode."""
    return lambda v: {"load_base": v[:, 0], "log_scatter": np.stack([v[:, 1], v[:, 1]], axis=1)}
