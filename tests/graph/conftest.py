"""A campaign with every kind of pull, and points at which the two likelihoods are compared."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.typing import NDArray
from scipy.special import logit

from model.arrays.campaign_arrays import campaign_arrays
from model.base.priors import DEFAULT_PRIORS
from model.graph.data import DataArrays, density_data
from model.graph.density import LIKELIHOOD_DATA
from model.graph.kernel_campaign import log_likelihood_with_gradient
from model.ingest.campaign_file import read_campaign
from model.ingest.log_file import read_log
from model.outcomes.design import positions
from model.outcomes.shape import Shape
from model.outcomes.terms import quadrature
from model.outcomes.variates import (
    SCALES,
    name_parameters,
    on_predictor_scale,
    scale_positions,
)
from model.records.campaign import Boat, Campaign, Gauge, Ladder, Outing, Step
from model.records.pull import Bite, Pull

Array = NDArray[np.float64]
DATA = Path(__file__).parents[2] / "data" / "hollow_sound"


@dataclass(frozen=True, kw_only=True)
class Case:
    """A campaign and its pulls, as arrays and as the density's data."""

    campaign: Campaign
    pulls: tuple[Pull, ...]
    arrays: xr.Dataset
    shape: Shape
    data: DataArrays

    def evaluate(self, vector: Array) -> tuple[float, Array]:
        """The kernel's log-likelihood and gradient."""
        inputs = (self.data[name] for name in LIKELIHOOD_DATA)
        value, gradient = log_likelihood_with_gradient(vector, *inputs, *quadrature())
        return float(value), gradient


@dataclass(frozen=True, kw_only=True)
class Point:
    """One point: what is sampled, what it stands for, and the named parameters (one draw)."""

    position: Array
    standard: Array
    scales: Array
    rates: Array
    log_map: float
    vector: Array
    parameters: dict[str, Array]


def _case(campaign: Campaign, pulls: tuple[Pull, ...]) -> Case:
    arrays, shape = campaign_arrays(campaign, pulls), Shape.of(campaign)
    data = density_data(arrays, DEFAULT_PRIORS, shape)
    return Case(campaign=campaign, pulls=pulls, arrays=arrays, shape=shape, data=data)


@pytest.fixture(scope="session")
def make_case() -> Callable[[Campaign, tuple[Pull, ...]], Case]:
    """Arrays and data of any campaign."""
    return _case


def _bite(number: int, ending: str, load_kn: float | None, **more: Any) -> Bite:
    start = "fresh" if number == 1 else "after_slip"
    return Bite.model_validate(
        {"number": number, "start": start, "ending": ending, "load_kn": load_kn} | more
    )


HAND_MADE: dict[str, tuple[Bite, ...]] = {
    # What the demo's log holds none of, or few of.
    "final hold": (_bite(1, "released", 6.2, held_s=41.0),),
    "held again": (_bite(1, "released", 3.2, mode="on_side"), _bite(2, "held", 6.2, held_s=60.0)),
    "short hold": (_bite(1, "held", 6.2, held_s=10.0),),
    "several steps": (_bite(1, "released", 3.2, last_held_kn=1.0, has_camera=True),),
    "none held": (_bite(1, "stopped", None),),
    "stopped": (_bite(1, "stopped", 2.6, mode="upright"),),
    "crew let off": (_bite(1, "released_then_stopped", 2.0, has_camera=True),),
    "eased": (_bite(1, "released", 3.9), _bite(2, "released", 2.0, start_kn=1.2)),
    "turned": (_bite(1, "stopped", 2.0), _bite(2, "released", 3.2, start="after_turn")),
    "turned and gone": (
        _bite(1, "held", 6.2),
        _bite(2, "never_set", None, start="after_turn"),
    ),
    "turned under thrust": (
        _bite(1, "held", 6.2),
        _bite(2, "stopped", 3.2, start="after_turn", start_kn=2.0),
    ),
    "all that can be seen": (
        _bite(
            1,
            "released",
            2.6,
            mode="upright",
            signs={"marker under": True},
            buried={"kind": "reading", "length_m": 1.1, "resolution_m": 0.1},
        ),
        _bite(
            2,
            "released",
            3.2,
            mode="on_side",
            signs={"shank in sight": False},
            buried={"kind": "less_than", "length_m": 0.2},
        ),
        _bite(
            3,
            "held",
            6.2,
            signs={"marker under": False, "shank in sight": True},
            buried={"kind": "at_least", "length_m": 3.0},
        ),
    ),
    "peaks": (
        _bite(1, "released", 2.31, reading="peak", resolution_kn=0.05),
        _bite(2, "released", 2.9, reading="peak", resolution_kn=0.05),
        _bite(3, "held", 6.2),
    ),
}
OLD_SHEET: dict[str, tuple[Bite, ...]] = {
    "value": (_bite(1, "released", 2.2, reading="peak", resolution_kn=0.4),),
    "held long ago": (_bite(1, "held", 3.0, held_s=600.0),),
    "never": (_bite(1, "never_set", None),),
}
LAUNCH: dict[str, tuple[Bite, ...]] = {
    # By another boat with a ladder, a bias and a gauge of its own.
    "let go": (_bite(1, "released", 1.7, mode="upright"),),
    "slipped": (_bite(1, "released", 0.7), _bite(2, "released", 2.4)),
    "to the end": (_bite(1, "held", 2.9, held_s=40.0, mode="upright"),),
}


def _with_launch(demo: Campaign) -> Campaign:
    """The demo with an old sheet without a ladder, and a launch with one of its own."""
    steps = tuple(Step(load_kn=load_kn, dwell_s=20.0) for load_kn in (0.7, 1.2, 1.7, 2.4, 2.9))
    return demo.model_copy(
        update={
            "boats": (
                *demo.boats, Boat(name="launch", top_thrust_kn=2.9, calibration_error=0.08)
            ),
            "gauges": (*demo.gauges, Gauge(name="spring", repeatability=0.06)),
            "ladders": (*demo.ladders, Ladder(name="launch", steps=steps, final_hold_s=40.0)),
            "outings": (
                *demo.outings,
                Outing(name="old sheet", ladder="unknown", boat=demo.boats[0].name),
                Outing(name="launch day", ladder="launch", boat="launch", gauge="spring"),
            ),
        }
    )  # fmt: skip


@pytest.fixture(scope="session")
def hollow_sound() -> Case:
    """The demo's log, hand-made pulls of every other kind, an old sheet, and a second boat."""
    demo = read_campaign(DATA / "campaign.toml")
    campaign = _with_launch(demo)
    pulls = read_log(DATA / "pulls.csv", demo).pulls
    levels = {"leader": "wire 2 m", "chain": "6 mm", "tip ballast": "0.4 kg"}
    added = [
        Pull(code=code, outing=outing, anchor=anchor, seabed="soft mud", levels=levels,
             scope=scope, bites=bites, reason="-")
        for outing, kind, anchor, scope in (
            ("day 3", HAND_MADE, "W8", 3.0),
            ("old sheet", OLD_SHEET, "P9", None),
            ("launch day", LAUNCH, "W8", 5.0),
        )
        for code, bites in kind.items()
    ]  # fmt: skip
    return _case(campaign, (*pulls, *added))


def factor_at(case: Case, scales: Array) -> Array:
    """Upper factor of the whitening of all variates that pulls tell of, by LAPACK."""
    told, start = case.data["told"], case.data["block_start"]
    of_each = np.append(scales * case.data["scale_sd"], 1.0)[scale_positions(case.shape)][told]
    information = np.zeros((told.size, told.size))
    for a, b in pairwise(start):
        information[a:b, a:b] = case.data["information"][a:b, : b - a]
    whole = np.eye(told.size) + information * np.outer(of_each, of_each)
    return np.linalg.cholesky(whole).T


def _kin(case: Case) -> Array:
    kin = case.data["kin"]
    return kin if kin.size else np.eye(case.data["prior_mean"].size)


def _point(
    case: Case, seed: int, width: float = 1.0, log_load: float = 0.0, scales: Array | None = None
) -> Point:
    """A draw from the priors, `width` times as wide as they are, all loads moved by so much."""
    rng = np.random.default_rng(seed)
    standard = width * rng.standard_normal(case.data["prior_mean"].size)
    drawn = width * rng.standard_normal(len(SCALES))
    scales = drawn if scales is None else scales
    rates = rng.beta(case.data["rate_a"], case.data["rate_b"])
    signed = scales * case.data["scale_sd"]
    of_each = np.append(signed, 1.0)[scale_positions(case.shape)]
    values = case.data["prior_mean"] + case.data["prior_sd"] * of_each * (_kin(case) @ standard)
    values[int(positions(case.shape)["load_base"])] += log_load
    on_scale = on_predictor_scale(values, case.shape)
    factor, whitened = factor_at(case, scales), standard.copy()
    whitened[case.data["told"]] = factor @ standard[case.data["told"]]
    return Point(
        position=np.concatenate([whitened, scales, logit(rates)]),
        standard=standard,
        scales=scales,
        rates=rates,
        log_map=-float(np.log(np.diag(factor)).sum()),
        vector=np.concatenate([on_scale, np.abs(signed), rates]),
        parameters=name_parameters(on_scale[None], np.abs(signed)[None], rates[None], case.shape),
    )


@pytest.fixture(scope="session")
def point_at() -> Callable[..., Point]:
    """Random points around the priors' middle, by seed."""
    return _point


@pytest.fixture(scope="session")
def factor_of() -> Callable[[Case, Array], Array]:
    """The whitening's factor of a case at given scales, by LAPACK."""
    return factor_at
