from pathlib import Path

import pytest

from model.base.errors import InputError, NoStore
from model.service import stores
from model.service.imports import standing_of
from model.store.store import Store


@pytest.fixture(autouse=True)
def data_folder(tmp_path, monkeypatch):
    folder = tmp_path / "user" / "stores"
    monkeypatch.setattr(stores, "data_folder", lambda: folder)
    return folder


@pytest.mark.parametrize("name", ["demo", "hollow-sound_2", "2026", "A" * 64])
def test_a_name_is_a_folder_in_the_data_directory(name, data_folder):
    assert stores.folder_of(name) == data_folder / name


@pytest.mark.parametrize(
    "name", ["con", "COM1", "a b", "a.b", "-x", "A" * 65, "naïve", "a:b", "x\n", "$HOME", "*"]
)
def test_a_name_that_cannot_be_a_folder_everywhere(name):
    with pytest.raises(InputError, match="is no name for a store"):
        stores.folder_of(name)


def test_the_home_of_nobody():
    with pytest.raises(InputError, match="home folder that is not known"):
        stores.folder_of("~nobody-of-that-name/trials")


@pytest.mark.parametrize("name", ["", " "])
def test_an_empty_name(name):
    with pytest.raises(InputError, match="empty"):
        stores.folder_of(name)


def test_a_path_is_taken_as_it_is(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert stores.folder_of("./trials") == tmp_path / "trials"
    assert stores.folder_of("sub/trials") == tmp_path / "sub" / "trials"
    assert stores.folder_of(str(tmp_path / "x")) == tmp_path / "x"
    assert stores.folder_of("~/trials") == Path.home() / "trials"


def test_a_url_of_sqlite_is_a_folder_or_its_database(tmp_path):
    assert stores.folder_of(f"sqlite:///{tmp_path}/x") == tmp_path / "x"
    assert stores.folder_of(f"sqlite:///{tmp_path}/x/kedgewise.sqlite") == tmp_path / "x"


def test_another_database_is_not_there_yet():
    with pytest.raises(InputError, match="'postgresql' databases are not there yet"):
        stores.folder_of("postgresql://someone@localhost/trials")


def test_what_names_a_store(data_folder, small_campaign):
    environment = {stores.STORE_VARIABLE: "from-environment"}
    assert stores.resolve("named", environment=environment) == data_folder / "named"
    assert stores.resolve(None, environment=environment) == data_folder / "from-environment"
    with pytest.raises(InputError, match="there is no store yet"):
        stores.resolve(None, environment={})

    Store.create(data_folder / "one", small_campaign)
    assert stores.resolve(None, environment={}) == data_folder / "one"
    assert stores.resolve(None, environment={stores.STORE_VARIABLE: ""}) == data_folder / "one"

    Store.create(data_folder / "two", small_campaign)
    with pytest.raises(InputError, match="several stores: one, two"):
        stores.resolve(None, environment={})


def test_known_stores_and_a_damaged_one(data_folder, small_campaign, small_pulls):
    assert stores.known() == ()
    Store.create(data_folder / "good", small_campaign).add_pulls(small_pulls, "pulls.csv")
    (data_folder / "bad").mkdir()
    (data_folder / "bad" / "kedgewise.sqlite").write_text("no database " * 200)
    (data_folder / "empty").mkdir()

    bad, good = stores.known()
    assert (good.name, good.campaign, good.pulls, good.trouble) == (
        "good",
        "Small trials",
        16,
        None,
    )
    assert "damaged" in (bad.trouble or "")
    assert "safe copy" in bad.hint
    assert str(good).startswith("good: Small trials, 15 pulls and 1 void, not fitted, ")
    assert str(bad).startswith("bad: ")


def test_open_store_says_what_is_missing(data_folder):
    for use in (stores.open_store, lambda name: stores.describe(stores.resolve(name))):
        with pytest.raises(NoStore, match="there is no store in"):
            use("absent")
    assert not data_folder.exists()


def test_a_folder_here_that_is_called_like_a_name(
    data_folder, small_campaign, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "d1").mkdir()
    with pytest.raises(NoStore) as caught:
        stores.open_store("d1")
    assert "./d1" not in caught.value.hint  # it holds none
    Store.create(tmp_path / "d1", small_campaign)
    with pytest.raises(NoStore) as caught:
        stores.open_store("d1")
    assert caught.value.hint.startswith("Did you mean --store ./d1? Make one with")
    with pytest.raises(NoStore) as caught:
        stores.open_store("./sub/d1")
    assert "Did you mean" not in caught.value.hint


def test_the_state_of_a_store(store, small_pulls):
    store.add_pulls(small_pulls, "pulls.csv")
    state = stores.state_of(store)
    assert (state.pulls, state.used_pulls, state.void_pulls) == (16, 15, 1)
    assert (state.pulls_behind_answers, state.failed_reasons) == (0, ())


def test_what_a_next_command_must_say_to_mean_the_store(data_folder, small_campaign, tmp_path):
    def option(store, folder, **environment):
        return stores.store_option(store, folder, environment=environment)

    one, elsewhere = data_folder / "one", tmp_path / "my trials"
    Store.create(one, small_campaign)
    assert option(None, one) == ""  # the only one
    assert option("one", one) == " --store one"  # said before, said again
    assert option("./my trials", elsewhere) == ' --store "./my trials"'
    assert option(None, elsewhere) == f' --store "{elsewhere}"'
    assert option(None, elsewhere, KEDGEWISE_STORE=str(elsewhere)) == ""

    Store.create(data_folder / "two", small_campaign)
    assert option(None, one) == " --store one"


def test_pulls_are_counted_in_one_way():
    assert stores.counted_pulls(21, 1) == "21 pulls and 1 void"
    assert stores.counted_pulls(1, 0) == "1 pull"


def test_what_was_fitted_is_compared_with_what_is_stored(filled, made_up_posterior, small_campaign):
    assert not stores.state_of(filled).has_changed  # nothing was fitted
    filled.save_posterior(made_up_posterior(small_campaign, filled.pulls()))
    assert not stores.state_of(filled).has_changed
    about = small_campaign.model_copy(update={"about": "Other words, which no fit uses."})
    filled.replace_campaign(about)
    assert not stores.state_of(filled).has_changed
    filled.replace_campaign(small_campaign.model_copy(update={"usual_scope": 9.0}))
    assert stores.state_of(filled).has_changed
    assert "has changed since" in standing_of(stores.state_of(filled))
