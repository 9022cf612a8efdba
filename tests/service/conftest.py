"""A filled store, and stand-in answers."""

import datetime as dt
import itertools
from collections.abc import Callable
from pathlib import Path

import pytest

from model.questions import ask
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.service.packages import export_package
from model.store.revisions import Reason
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


@pytest.fixture
def lived(filled, small_campaign, small_pulls):
    """A store with corrections, a pull taken out, a changed campaign and nasty words."""
    why = Reason(who="M", why="=read off the video")
    changed = small_pulls[0].model_copy(update={"anchor": "P9", "notes": "=1+1"})
    filled.correct_pulls([changed], "by hand", why)
    filled.remove_pulls(["day 1/2"], why)
    filled.replace_campaign(small_campaign.model_copy(update={"about": "later"}))
    filled.add_pulls(small_pulls[8:], "day-2.csv")
    return filled


@pytest.fixture
def package(lived, tmp_path):
    export_package(lived, tmp_path / "trials.zip")
    return tmp_path / "trials.zip"


@pytest.fixture
def planned(store, small_pulls, fitter, small_rehearsals) -> Store:
    """A store with all pulls and a made-up fit, for planning with few draws."""
    from model.service import fits

    del small_rehearsals
    fitter.draws = 200
    store.add_pulls(small_pulls, "pulls.csv")
    fits.fit(store, fitter=fitter)
    return store
