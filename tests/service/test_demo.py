import shutil
from pathlib import Path

import pytest

from model.base.errors import InputError
from model.ingest.log_writer import write_log
from model.records.answer import Finding
from model.service import demo as demo_module
from model.service import stores
from model.service.demo import demo, demo_data
from model.store.database import DATABASE_NAME
from model.store.store import Store

SMALL = Path(__file__).parent / "data" / "small.toml"


@pytest.fixture
def data(tmp_path, small_campaign, small_pulls):
    """A demo of two outings."""
    folder = tmp_path / "data"
    folder.mkdir()
    shutil.copy(SMALL, folder / demo_module.CAMPAIGN_FILE)
    write_log(small_pulls, small_campaign, folder / demo_module.LOG_FILE)
    return folder


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(stores, "data_folder", lambda: tmp_path / "user")
    monkeypatch.delenv(stores.STORE_VARIABLE, raising=False)


def test_the_demo_looks_twice_and_answers(data, fitter, tmp_path):
    made = demo(data=data, fitter=fitter)

    assert made.folder == tmp_path / "user" / "demo"
    assert fitter.calls == [8, 16]
    assert [len(one.history) for one in made.answers] == [2, 2, 2, 2]
    assert made.answers[0].outcome.finding is Finding.HIGHER


def test_one_look_settles_nothing(data, fitter):
    made = demo(data=data, fitter=fitter, looks=1)
    assert fitter.calls == [16]
    assert made.answers[0].outcome.finding is Finding.NOT_SETTLED


def test_the_demo_again_fits_nothing_anew(data, fitter):
    demo(data=data, fitter=fitter)
    made = demo(data=data, fitter=fitter)
    assert (fitter.calls, made.fitted.state) == ([8, 16], "unchanged")
    assert [len(one.history) for one in made.answers] == [2, 2, 2, 2]


def test_a_demo_killed_between_its_looks_goes_on(data, fitter):
    fitter.error = KeyboardInterrupt()
    with pytest.raises(KeyboardInterrupt):
        demo(data=data, fitter=fitter)
    fitter.error = None
    made = demo(data=data, fitter=fitter)
    assert fitter.calls == [8, 8, 16]
    assert [len(one.history) for one in made.answers] == [2, 2, 2, 2]


def test_where_store_or_the_environment_point(data, fitter, tmp_path, monkeypatch):
    assert demo(data=data, fitter=fitter, store=str(tmp_path / "x")).folder == tmp_path / "x"
    monkeypatch.setenv(stores.STORE_VARIABLE, str(tmp_path / "y"))
    assert demo(data=data, fitter=fitter).folder == tmp_path / "y"


def test_a_store_whose_making_was_interrupted_is_made(data, fitter, tmp_path):
    (tmp_path / "x").mkdir()
    (tmp_path / "x" / DATABASE_NAME).touch()
    assert demo(data=data, fitter=fitter, store=str(tmp_path / "x")).answers


def test_a_store_of_another_campaign_is_not_touched(data, fitter, tmp_path, small_campaign):
    other = small_campaign.model_copy(update={"name": "My own"})
    store = Store.create(tmp_path / "mine", other)
    with pytest.raises(InputError, match="another campaign, 'My own'"):
        demo(data=data, fitter=fitter, store=str(tmp_path / "mine"))
    assert (store.campaign(), store.pulls()) == (other, ())


def test_a_demo_that_was_changed_is_not_put_back(data, fitter, tmp_path, small_campaign):
    demo(data=data, fitter=fitter, store=str(tmp_path / "x"))
    opened = Store.open(tmp_path / "x")
    changed = opened.campaign().model_copy(update={"about": "with a question of my own"})
    opened.replace_campaign(changed)
    with pytest.raises(InputError, match="holds a changed demo"):
        demo(data=data, fitter=fitter, store=str(tmp_path / "x"))
    assert opened.campaign() == changed


def test_progress_goes_over_all_looks(data, fitter):
    told = []
    demo(data=data, fitter=fitter, progress=lambda share, text: told.append((share, text)))
    assert told == [(0.25, "look 1 of 2: half way"), (0.75, "look 2 of 2: half way")]


def test_the_demos_data_are_in_the_clone(monkeypatch):
    assert (demo_data() / demo_module.CAMPAIGN_FILE).is_file()
    monkeypatch.setattr(demo_module.model, "__file__", "/nowhere/model/__init__.py")
    with pytest.raises(InputError, match="the demo's data are not in"):
        demo_data()
