from pathlib import Path

import pytest

from model.base.errors import FaultyFile, InputError
from model.service import stores
from model.service.campaigns import differences, make, slug
from model.service.imports import import_log, standing_of
from model.service.stores import state_of
from model.store.database import DATABASE_NAME, Database
from model.store.store import Store

SMALL = Path(__file__).parent / "data" / "small.toml"


@pytest.fixture
def campaign_file(tmp_path):
    path = tmp_path / "campaign.toml"
    path.write_text(SMALL.read_text("utf-8"), "utf-8")
    return path


def _edit(path, old, new):
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


def test_a_campaign_file_makes_a_store(campaign_file, tmp_path, small_campaign):
    made = make(campaign_file, store=str(tmp_path / "store"))

    assert made.is_new
    assert made.folder == tmp_path / "store"
    assert Store.open(made.folder).campaign() == small_campaign


def test_without_a_name_the_store_gets_the_campaigns(campaign_file, tmp_path, monkeypatch):
    monkeypatch.setattr(stores, "data_folder", lambda: tmp_path / "user")
    assert make(campaign_file).folder == tmp_path / "user" / "small-trials"


def test_a_second_campaign_whose_name_comes_to_the_same_store(campaign_file, tmp_path, monkeypatch):
    monkeypatch.setattr(stores, "data_folder", lambda: tmp_path / "user")
    first = make(campaign_file)
    _edit(campaign_file, '"Small trials"', '"Small: trials!"')
    with pytest.raises(InputError, match="holds another campaign, 'Small trials'") as caught:
        make(campaign_file)
    assert "--store small-trials" in caught.value.hint
    assert Store.open(first.folder).campaign().name == "Small trials"
    # Named by hand it is the same campaign under a new name.
    renamed = make(campaign_file, store=str(first.folder))
    assert renamed.folder == first.folder
    assert Store.open(first.folder).campaign().name == "Small: trials!"


@pytest.mark.parametrize(
    ("name", "expected"),
    [("Hollow Sound trials", "hollow-sound-trials"), ("  Ä1! ", "1"), ("…", "campaign")],
)
def test_slug(name, expected):
    assert slug(name) == expected


def test_the_changed_file_shows_what_differs_and_is_taken_over(
    campaign_file, tmp_path, small_pulls
):
    store = str(tmp_path / "store")
    Store.open(make(campaign_file, store=store).folder).add_pulls(small_pulls, "pulls.csv")
    assert make(campaign_file, store=store).changes == ()

    _edit(campaign_file, "mass_kg = 9", "mass_kg = 9.2")
    _edit(campaign_file, '"8 mm", "6 mm"', '"8 mm", "6 mm", "10 mm"')
    _edit(campaign_file, "usual_scope = 5", "usual_scope = 6")
    with campaign_file.open("a", encoding="utf-8") as file:
        file.write('[[anchors]]\ncode = "C7"\nmass_kg = 7.5\n')
    made = make(campaign_file, store=store)

    assert not made.is_new
    assert [str(change) for change in made.changes] == [
        "anchor C7 added",
        "anchor P9: mass_kg 9.0 → 9.2",
        "treatment chain: levels ['8 mm', '6 mm'] → ['8 mm', '6 mm', '10 mm']",
        "usual_scope: 5.0 → 6.0",
    ]
    assert [one.code for one in Store.open(made.folder).campaign().anchors] == ["S6", "P9", "C7"]


def test_removing_what_pulls_refer_to_is_refused(campaign_file, tmp_path, small_pulls):
    store = str(tmp_path / "store")
    opened = Store.open(make(campaign_file, store=store).folder)
    opened.add_pulls(small_pulls, "pulls.csv")
    _edit(campaign_file, '"wire 2 m"]', '"wire 3 m"]')
    _edit(campaign_file, "leader=wire 2 m", "leader=wire 3 m")

    with pytest.raises(InputError, match=r"level leader=wire 2 m .* is used by stored pulls"):
        make(campaign_file, store=store)
    assert opened.campaign().treatments[0].levels == ("chain only", "wire 2 m")


@pytest.mark.parametrize("content", [b"", None])
def test_a_store_whose_making_was_interrupted_is_made(content, campaign_file, tmp_path):
    folder = tmp_path / "store"
    folder.mkdir()
    if content is None:
        Database(folder / DATABASE_NAME).is_empty()  # opened once, and left without tables
    else:
        (folder / DATABASE_NAME).write_bytes(content)
    assert make(campaign_file, store=str(folder)).is_new
    assert not make(campaign_file, store=str(folder)).is_new


def test_a_faulty_file_makes_no_store(campaign_file, tmp_path):
    _edit(campaign_file, 'class = "mud"', 'class = "porridge"')
    with pytest.raises(FaultyFile):
        make(campaign_file, store=str(tmp_path / "store"))
    assert not (tmp_path / "store").exists()


def test_a_removed_question_is_said(small_campaign):
    fewer = small_campaign.model_copy(update={"questions": small_campaign.questions[1:]})
    assert [str(one) for one in differences(small_campaign, fewer)] == [
        "question leader on S6 removed"
    ]


def test_a_log_is_imported_whole_or_not_at_all(store, small_campaign, small_pulls, tmp_path):
    from model.ingest.log_writer import write_log

    log = tmp_path / "pulls.csv"
    write_log(small_pulls, small_campaign, log)
    first = import_log(store, log)
    again = import_log(store, log)
    assert (first.source, first.added, first.skipped) == ("pulls.csv", 16, 0)
    assert (again.added, again.skipped) == (0, 16)
    assert standing_of(state_of(store)) == (
        "The store holds 15 pulls and 1 void; nothing was fitted yet: run `kedgewise fit`."
    )

    changed = small_pulls[0].model_copy(update={"anchor": "P9"})
    new = small_pulls[1].model_copy(update={"code": "77"})
    write_log((changed, new), small_campaign, log)
    with pytest.raises(FaultyFile, match="anchor: S6 → P9"):
        import_log(store, log)
    assert len(store.pulls()) == 16


def test_a_changed_row_is_told_in_the_files_own_unit_and_line(store, tmp_path):
    log = tmp_path / "pulls.csv"
    rows = "\n1,day 1,S6,firm sand,never set,,\n2,day 1,S6,firm sand,released,{load},{buried}\n"
    header = "pull,outing,anchor,seabed,ending,load_lbf,buried_ft"
    log.write_text(header + rows.format(load="584.5", buried="2"), "utf-8")
    assert import_log(store, log).added == 2

    log.write_text(header + rows.format(load="719.4", buried="3"), "utf-8")
    with pytest.raises(FaultyFile) as caught:
        import_log(store, log)
    assert str(caught.value.faults[0]) == (
        "pulls.csv, line 3, pull day 1/2: stored with other content: "
        "bite 1 load: 584.503 lbf → 719.389 lbf; bite 1 buried length: 2 ft → 3 ft. "
        "The stored pull stands"
    )
