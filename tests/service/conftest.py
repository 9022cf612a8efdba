"""A filled store, and stand-in answers."""

import datetime as dt
import itertools
from collections.abc import Callable
from pathlib import Path

import pytest

from model.questions import ask
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.store.store import Store

START = dt.datetime(2026, 5, 4, 12, 0, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def stand_in_answers(monkeypatch, made_up_answer):
    monkeypatch.setattr(ask, "answer", made_up_answer)


@pytest.fixture
def ticking_clock() -> Callable[[], dt.datetime]:
    minutes = itertools.count()
    return lambda: START + dt.timedelta(minutes=next(minutes))


@pytest.fixture
def store(tmp_path: Path, small_campaign: Campaign, ticking_clock) -> Store:
    return Store.create(tmp_path / "store", small_campaign, clock=ticking_clock)


@pytest.fixture
def filled(store: Store, small_pulls: tuple[Pull, ...]) -> Store:
    """A store with the pulls of the first outing."""
    store.add_pulls([pull for pull in small_pulls if pull.outing == "day 1"], "day-1.csv")
    return store
