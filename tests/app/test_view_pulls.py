"""The Pulls page: table, corrections looked at before they are stored, uploads, histories."""

import dataclasses
import json

import pytest
import streamlit as st

from app.parts import changing, pull_table
from app.parts.uploading import MOST_FAULTS
from model.base.errors import StoreError
from model.ingest.log_writer import log_text
from model.records.pull import Ending
from model.records.treatment import Treatment
from model.service import corrections
from model.store.revisions import Reason
from model.store.store import Store

PHONE_TABLE_PX = 326
"""Width of the table on a screen of 390 pixels, as measured there."""
CELL_PX, PIXELS_A_CHARACTER = 16, 6.6
"""What a cell of words took there."""


def said(at):
    kinds = ("title", "markdown", "caption", "info", "error", "warning", "success")
    joined = "\n".join(element.value for kind in kinds for element in at.get(kind))
    return joined.replace("\\", "").replace("\u2060", "").replace("\u00a0", " ")


@pytest.fixture
def store(tmp_path, small_campaign, small_pulls, made_up_data, monkeypatch) -> Store:
    """A real store behind the page: what is changed here must be stored."""
    from app import data

    made = Store.create(tmp_path / "store", small_campaign)
    made.add_pulls(small_pulls, "pulls.csv")
    monkeypatch.setattr(data, "_store", lambda: made)
    monkeypatch.setattr(data, "pulls", made.pulls)
    monkeypatch.setattr(data, "removed", made.removed_pulls)
    monkeypatch.setattr(corrections, "login_name", lambda: "mate")
    return made


def below(at, key):
    """The caption that stands behind a button, where there is one."""
    shown = list(at.main)
    place = next(place for place, one in enumerate(shown) if getattr(one, "key", None) == key)
    behind = shown[place + 1 : place + 2]
    return "".join(one.value for one in behind if one.type == "caption")


def chosen(page, *names):
    at = page("pulls")
    return at.multiselect(key="chosen").set_value(list(names)).run()


def test_every_pull_is_in_the_table(page, store):
    at = page("pulls")
    assert not at.exception
    assert list(at.dataframe[0].value["pull"])[::15] == ["day 2/8", "day 1/1"]
    assert "16 pulls of 16." in said(at)
    at.selectbox(key="Anchor").select("P9").run()
    assert set(at.dataframe[0].value["anchor"]) == {"P9"}


def test_what_a_phone_shows_first(page, store, small_pulls):
    """The pull, however long its name, and beside it whole how it went."""
    long = small_pulls[0].model_copy(update={"code": "the second one after lunch, by the pier"})
    store.add_pulls([long], "made up")
    table = page("pulls").dataframe[0]
    assert list(table.value)[:2] == ["pull", "how it went"]
    widths = json.loads(table.proto.columns)
    went = CELL_PX + PIXELS_A_CHARACTER * len("let go at 1240 lbf, on its side")
    assert widths["pull"]["width"] + went <= PHONE_TABLE_PX


def test_a_pull_in_words(small_pulls, small_campaign):
    table = pull_table.pull_table(small_pulls, small_campaign)
    course = dict(zip(table["pull"], table["how it went"], strict=True))
    plain = {name: words.replace("\u00a0", " ") for name, words in course.items()}
    assert plain["day 1/1"] == "let go at 2.6 kN, on its side"
    assert plain["day 1/6"] == "never set"
    assert (
        plain["day 2/1"] == "let go at 2 kN, on its side; then held to the end at 4.6 kN, upright"
    )
    assert dict(zip(table["pull"], table["changed"], strict=True))["day 1/2"] == "wire 2 m"
    assert dict(zip(table["pull"], table["notes"], strict=True))["day 1/8"] == "fouled on old line"


def test_words_that_a_spreadsheet_would_run_are_guarded(small_pulls, small_campaign):
    nasty = small_pulls[0].model_copy(update={"notes": "=1+1"})
    assert pull_table.pull_table([nasty], small_campaign)["notes"][0] == "'=1+1"


def test_a_correction_is_looked_at_and_stored_only_with_a_reason(page, store):
    at = chosen(page, "day 1/1", "day 1/3")
    at.selectbox(key="column 0").select("anchor").run()
    at.text_input(key="value 0").input("P9").run()
    assert "day 1/1: anchor: S6 → P9" in said(at)
    assert at.button(key="store correction").disabled
    assert "Why is missing" in below(at, "store correction")
    assert {pull.anchor for pull in store.pulls()[:3]} == {"S6"}
    at.text_input(key="correct why").input("read off the video").run()
    assert "Why is missing" not in below(at, "store correction")
    at.button(key="store correction").click().run()
    assert "Corrected: 2 pulls." in said(at)
    assert [pull.anchor for pull in store.pulls()[:3]] == ["P9", "S6", "P9"]
    newest = store.revisions("day 1/3")[-1]
    assert (newest.who, newest.why) == ("mate", "read off the video")


def test_what_another_one_corrected_meanwhile_is_not_undone(page, store):
    at = chosen(page, "day 1/1")
    at.selectbox(key="column 0").select("anchor").run()
    at.text_input(key="value 0").input("P9").run()
    at.text_input(key="correct why").input("read off the video").run()
    wet = store.pulls()[0].model_copy(update={"notes": "wet"})
    store.correct_pulls([wet], "by hand", Reason(who="M", why="from the log book"))
    at.button(key="store correction").click().run()
    assert "while you looked, pull day 1/1 was changed by M" in said(at)
    assert store.pulls()[0] == wet
    at.run()  # as the head of the page does, at the news of that change
    assert "while you looked, pull day 1/1 was changed by M" in said(at)
    at.button(key="store correction").click().run()  # now it was seen
    assert "Corrected: 1 pull." in said(at)
    assert (store.pulls()[0].anchor, store.pulls()[0].notes) == ("P9", "wet")


def test_cells_that_make_sense_only_together(page, store):
    """A released pull that in truth never set has no load and no mode either."""
    at = chosen(page, "day 1/1")
    for line, heading in enumerate(("ending", "load_kn", "mode")):
        at.selectbox(key=f"column {line}").select(heading).run()
        text = "never set" if heading == "ending" else ""
        at.text_input(key=f"value {line}").input(text).run()
    assert not at.error
    at.text_input(key="correct why").input("read off the video").run()
    at.button(key="store correction").click().run()
    assert store.pulls()[0].ending is Ending.NEVER_SET


def test_a_column_that_became_a_treatment_can_still_be_corrected(page, store, small_campaign):
    painted = store.pulls()[0].model_copy(update={"code": "78", "extras": {"paint": "red"}})
    store.add_pulls([painted], "painted.csv")
    paint = Treatment(name="paint", baseline="none", levels=("none", "red"))
    grown = small_campaign.model_copy(update={"treatments": (*small_campaign.treatments, paint)})
    store.replace_campaign(grown)
    at = chosen(page, "day 1/78")
    at.selectbox(key="column 0").select("notes").run()
    at.text_input(key="value 0").input("wet").run()
    at.text_input(key="correct why").input("read off the video").run()
    at.button(key="store correction").click().run()
    newest = store.revisions("day 1/78")[-1].pull
    assert (newest.notes, newest.extras) == ("wet", {"paint": "red"})


def test_a_faulty_value_is_said_and_nothing_else_breaks(page, store):
    at = chosen(page, "day 1/1")
    at.selectbox(key="column 0").select("anchor").run()
    at.text_input(key="value 0").input("<b>Q1</b>").run()
    assert not at.exception
    assert "Failed:" in at.error[0].value
    assert "<b>" not in at.error[0].value
    assert "anchor: no anchor" in said(at)
    assert "line 2" not in said(at)
    assert "New pulls" in said(at)


def path_to(block, label):
    """Where an expander stands in the page: the browser shuts one that stands elsewhere."""
    for place, child in block.children.items():
        if child.type == "expander" and child.label == label:
            return [place]
        if getattr(child, "children", None) and (below := path_to(child, label)):
            return [place, *below]
    return []


def test_what_is_folded_stays_where_it_is(page, store, made_up_data, monkeypatch):
    """Whatever comes and goes above it: what was done, chosen pulls, a fit that failed."""
    from app import data

    at = page("pulls")
    before = path_to(at.main, "Add one")
    assert before
    at.multiselect(key="chosen").set_value(["day 1/1"]).run()
    take_out = path_to(at.main, "Take out")
    assert path_to(at.main, "Add one") == before
    at.multiselect(key="chosen").set_value(["day 1/1", "day 1/2"]).run()
    at.selectbox(key="column 0").select("notes").run()
    at.text_input(key="value 0").input("wet").run()
    assert path_to(at.main, "Take out") == take_out
    at.text_input(key="correct why").input("from the log book").run()
    at.button(key="store correction").click().run()
    assert at.success
    assert path_to(at.main, "Add one") == before
    failed = dataclasses.replace(made_up_data.overview(), failed_reasons=("it stopped",))
    monkeypatch.setattr(data, "overview", lambda: failed)
    assert "it stopped" in said(at.run())
    assert path_to(at.main, "Add one") == before


def test_without_a_standing_place_it_would_move(page, store, monkeypatch):
    def say_at_once():
        if (done := st.session_state.pop(changing.SAID, None)) is not None:
            st.success(done)

    monkeypatch.setattr(changing, "say_once", say_at_once)
    at = chosen(page, "day 1/1")
    before = path_to(at.main, "Add one")
    at.text_input(key="take out why").input("fouled").run()
    at.button(key="take out").click().run()
    assert at.success
    assert path_to(at.main, "Add one") != before


def test_every_is_a_choice_that_cannot_be_emptied(page, store):
    """The browser offers to clear what is None, and clearing would change nothing."""
    assert {page("pulls").selectbox(key=key).value for key in ("Outing", "Anchor")} == {""}


def test_a_refusal_is_of_what_was_chosen(page, store, monkeypatch):
    """Both stand until the next press, and no longer than what they are about is chosen."""
    from app import data

    def refused(*_):
        raise StoreError("the disk is full", hint="Make room.")

    monkeypatch.setattr(data, "remove", refused)
    monkeypatch.setattr(data, "put_back", refused)
    store.remove_pulls(["day 2/2", "day 2/3"], Reason(who="M", why="from the log book"))
    at = chosen(page, "day 1/1")
    for key in ("take out", "put back day 2/2"):
        at.text_input(key=f"{key} why").input("wrong anchor on the line").run()
        at.button(key=key).click().run()
        at.run()
        assert [one.value.count("the disk is full") for one in at.error] == [1]
        if key == "take out":
            at.multiselect(key="chosen").set_value(["day 1/2"]).run()
        else:
            at.selectbox(key="taken out").select("day 2/3").run()
        assert not at.error
    at.multiselect(key="chosen").set_value(["day 1/1"]).run()
    assert not at.error


def test_a_history_and_taking_out_and_putting_back(page, store):
    at = chosen(page, "day 1/1")
    assert "stored from pulls.csv" in said(at)
    at.text_input(key="take out why").input("wrong anchor on the line").run()
    at.button(key="take out").click().run()
    assert "Taken out: 1 pull." in said(at)
    assert len(store.pulls()) == 15
    at = page("pulls")
    assert "taken out: wrong anchor on the line" in said(at)
    [why] = [
        one
        for one in at.text_input
        if str(one.key).startswith("put back") and str(one.key).endswith("why")
    ]
    why.input("it was right").run()
    [button] = [one for one in at.button if one.label == "Put it back"]
    button.click().run()
    assert "Put back: day 1/1." in said(at)
    assert len(store.pulls()) == 16


def test_an_upload_is_looked_at_and_stored(page, store, small_campaign, small_pulls):
    more = small_pulls[0].model_copy(update={"code": "77"})
    changed = small_pulls[1].model_copy(update={"notes": "wet"})
    at = page("pulls")
    text = log_text((more, changed, *small_pulls[2:]), small_campaign)
    at.file_uploader[0].upload("pulls.csv", text.encode(), "text/csv").run()
    assert (
        "1 pull would be added, 1 would be corrected, 14 known already. Nothing is stored yet."
        in said(at)
    )
    assert "day 1/2: notes: nothing → wet" in said(at)
    assert at.button(key="store log").label == "Store 1 new pull and correct 1 pull"
    assert at.button(key="store log").disabled
    at.text_input(key="upload why").input("notes from the log book").run()
    at.button(key="store log").click().run()
    assert not at.exception
    assert len(store.pulls()) == 17
    assert store.revisions("day 1/2")[-1].why == "notes from the log book"


def test_faults_of_an_upload_stand_row_by_row(page, store):
    at = page("pulls")
    at.file_uploader[0].upload(
        "bad.csv", b"pull,outing,anchor,seabed,ending,load_kn\n1,day 1,Q1,firm sand,held,9\n"
    ).run()
    assert "2 faults" in said(at)
    assert "Nothing of this file was stored." in said(at)
    assert "- line 2, anchor: no anchor 'Q1'. Known: S6, P9" in said(at)
    assert "- line 2, load_kn: " in said(at)
    assert len(at.dataframe) == 1  # that of the pulls


def test_of_more_faults_than_are_told_a_table_has_all(page, store):
    head = "pull,outing,anchor,seabed,ending,load_kn\n"
    rows = [f"{number},day 1,Q1,firm sand,released,2.6" for number in range(100, 125)]
    at = page("pulls")
    at.file_uploader[0].upload("bad.csv", "\n".join([head.strip(), *rows]).encode()).run()
    assert said(at).count("no anchor 'Q1'") == MOST_FAULTS
    assert "- and 5 more faults; the table has all" in said(at)
    faults = at.dataframe[-1].value
    assert list(faults["line"]) == list(range(2, 27))
    assert "Q1" in faults["found"][0]


def test_an_upload_with_nothing_new_offers_nothing(page, store, small_campaign, small_pulls):
    at = page("pulls")
    at.file_uploader[0].upload("pulls.csv", log_text(small_pulls, small_campaign).encode()).run()
    assert "pulls.csv: all 16 pulls are known already." in said(at)
    assert "Nothing is stored yet" not in said(at)
    assert "store log" not in {button.key for button in at.button}


def test_before_the_first_pull(page, made_up_data):
    made_up_data.all_pulls = ()
    at = page("pulls")
    assert "No pulls yet" in said(at)
    assert not at.exception


def test_a_store_that_cannot_be_read(page, made_up_data):
    made_up_data.failure = StoreError("the file is damaged", hint="Put back a safe copy.")
    at = page("pulls")
    assert "the file is damaged" in said(at)


def test_what_cannot_be_read_of_one_pull_leaves_the_rest(page, store, monkeypatch):
    from app import data

    def broken(name):
        raise StoreError("a stored pull cannot be read", hint="Use a safe copy.")

    monkeypatch.setattr(data, "history", broken)
    at = chosen(page, "day 1/1")
    assert "a stored pull cannot be read" in said(at)
    assert at.selectbox(key="column 0").options


def test_a_users_words_are_no_markup(store, small_pulls, require_no_markup, page):
    nasty = small_pulls[0].model_copy(update={"notes": "<b>:red[x] ![p](q) a -> b"})
    store.add_pulls([nasty], "<b>.csv", reason=Reason(who=":red[M]", why="![p](x) -> <b>"))
    at = chosen(page, "day 1/1")
    require_no_markup([element.value for element in at.markdown])
