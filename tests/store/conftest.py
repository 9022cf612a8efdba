"""A store in a folder of its own, with a clock that ticks a minute at each look."""

import datetime as dt
import itertools
from collections.abc import Callable
from pathlib import Path

import pytest

from model.records.answer import AnswerSummary
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.store.store import Store

START = dt.datetime(2026, 5, 4, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def ticking_clock() -> Callable[[], dt.datetime]:
    minutes = itertools.count()
    return lambda: START + dt.timedelta(minutes=next(minutes))


@pytest.fixture
def store(
    tmp_path: Path, small_campaign: Campaign, ticking_clock: Callable[[], dt.datetime]
) -> Store:
    return Store.create(tmp_path / "store", small_campaign, clock=ticking_clock)


@pytest.fixture
def full_store(store: Store, small_pulls: tuple[Pull, ...]) -> Store:
    store.add_pulls(small_pulls, "pulls.csv")
    return store


@pytest.fixture
def summary() -> AnswerSummary:
    """An answer to store; its figures mean nothing."""
    side = {"count": 4, "held": 1, "void": 0}
    return AnswerSummary.model_validate(
        {
            "question": {
                "name": "leader on S6",
                "a": "anchor=S6, leader=wire 2 m",
                "b": "anchor=S6",
                "seabed": "firm sand",
                "measure": "typical",
                "band": {"kind": "ratio", "lower": 0.87, "upper": 1.15},
            },
            "pulls": {"a": side, "b": side, "shared_outings": 2},
            "p_higher": 0.9,
            "p_above_band": 0.6,
            "p_inside_band": 0.35,
            "p_below_band": 0.05,
            "effect": {
                "kind": "ratio",
                "unit": "×",
                "median": 1.2,
                "interval": {"prob": 0.9, "lower": 0.9, "upper": 1.5},
            },
            "finding": "not settled",
            "sentence": "Not settled.",
            "posterior": {"id": "x", "state": "full", "pulls": 15, "fit_check": "passed"},
        }
    )
