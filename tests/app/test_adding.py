"""One pull typed in: what is kept, what is emptied, and what is refused in the form's words."""

import pytest

from app import data
from app.parts import adding
from app.parts.adding import CLEARED
from model.base.errors import StoreError
from model.ingest import log_rows
from model.records.pull import Ending, ModeSeen
from model.service.corrections import add_row
from model.store.revisions import Reason
from model.store.store import Store


def said(at):
    kinds = ("markdown", "caption", "error", "success")
    joined = "\n".join(element.value for kind in kinds for element in at.get(kind))
    return joined.replace("\\", "").replace("\u2060", "").replace("\u00a0", " ")


@pytest.fixture
def campaign(small_campaign):
    return small_campaign


@pytest.fixture
def store(tmp_path, campaign, small_pulls, made_up_data, monkeypatch) -> Store:
    """A real store behind the page: what is typed must be stored, or must not."""
    made_up_data.campaign = campaign
    made = Store.create(tmp_path / "store", campaign)
    made.add_pulls(small_pulls, "pulls.csv")
    monkeypatch.setattr(data, "_store", lambda: made)
    monkeypatch.setattr(data, "pulls", made.pulls)
    monkeypatch.setattr(data, "removed", made.removed_pulls)
    return made


def typed(at, **fields):
    """Fill the form, as ``pull="77", step=2.6``, and press its button."""
    for field, value in fields.items():
        key = f"add {field}"
        if field in {"pull", "peak", "scope", "reason", "notes"}:
            at.text_input(key=key).input(value)
        else:
            at.selectbox(key=key).select(value)
    [form] = [button for button in at.button if button.label == "Store this pull"]
    return form.click().run()


def values(at):
    shown = {one.key: one.value for one in (*at.text_input, *at.selectbox)}
    return {field: shown[f"add {field}"] for field in CLEARED}


def test_a_pull_is_stored_and_the_next_begins_empty(page, store):
    at = typed(
        page("pulls"),
        anchor="P9", pull="77", ending="released", step=2.6, mode="upright", scope="6",
        reason="tide", notes="soft patch",
    )  # fmt: skip
    assert "Stored: day 2/77." in said(at)
    added = store.pulls()[-1]
    assert (added.code, added.bites[0].load_kn, added.notes) == ("77", 2.6, "soft patch")
    assert added.bites[0].mode is ModeSeen.UPRIGHT
    assert values(at) == CLEARED
    assert (at.selectbox(key="add anchor").value, at.text_input(key="add scope").value) == (
        "P9",
        "6",
    )


def test_the_next_number_alone_stores_nothing_of_the_last_pull(page, store):
    at = typed(page("pulls"), pull="77", ending="released", step=2.6)
    typed(at, pull="78")
    assert "How it ended: " in said(at)
    assert [pull.code for pull in store.pulls()].count("78") == 0


def test_without_the_emptying_it_would(page, store, monkeypatch):
    monkeypatch.setattr(adding, "CLEARED", {})
    at = typed(page("pulls"), pull="77", ending="released", step=2.6)
    typed(at, pull="78")
    assert [pull.code for pull in store.pulls()].count("78") == 1


def test_the_enter_key_stores_nothing(page, store):
    [form] = page("pulls").get("form")
    assert not form.proto.form.enter_to_submit


def test_a_step_and_a_peak_are_too_much(page, store):
    at = typed(page("pulls"), pull="77", ending="released", step=2.6, peak="3.1")
    assert "a step and a peak: give one" in said(at)
    assert len(store.pulls()) == 16
    assert values(at)["peak"] == "3.1"  # to be put right


@pytest.mark.parametrize(("peak", "load_kn"), [("3.1", 3.1), ("3,1", 3.1), (",9", 0.9)])
def test_a_peak_with_a_point_or_a_comma(peak, load_kn, page, store):
    at = typed(page("pulls"), pull="77", ending="released", peak=peak, scope="5,5")
    assert "Stored: day 2/77." in said(at)
    added = store.pulls()[-1]
    assert added.bites[0].load_kn == pytest.approx(load_kn)
    assert added.scope == 5.5


@pytest.mark.parametrize("peak", ["1,240", "1,240.5", "1,2,3"])
def test_what_may_be_thousands_is_not_guessed(peak, page, store):
    at = typed(page("pulls"), pull="77", ending="released", peak=peak)
    assert f"Or a peak, kN: '{peak}'" in said(at)
    assert "decimal_comma" not in said(at)
    assert len(store.pulls()) == 16


def test_faults_speak_of_the_forms_fields(page, store):
    at = typed(page("pulls"), scope="many", ending="stopped")
    assert "2 faults:" in said(at)
    for label in ("Pull (its number)", "Scope"):
        assert f"{label}: " in said(at)
    assert "Nothing was stored." in said(at)
    for word in ("line 2", "by hand", "this file", "import it", "--revise"):
        assert word not in said(at)


def test_a_load_that_lacks_is_asked_for_by_its_field(page, store):
    at = typed(page("pulls"), pull="77", ending="released")
    assert "Failed: Step: released, and no load." in said(at).replace("*", "")
    at = typed(at, ending="stopped", step=2.6)
    assert "Reason (stopped, void): stopped without a reason." in said(at)
    at = typed(at, ending="released", step=None, peak="much")
    assert "Or a peak, kN: 'much' is not a number. Write digits only, as 3.9" in said(at)


def test_a_known_number_says_what_to_do(page, store):
    """What it says to a device is tested with devices."""
    at = typed(page("pulls"), outing="day 1", pull="1", ending="never set")
    assert "pull day 1/1 is there already, with other content" in said(at)
    assert "Give this one another number, or correct that one on Pulls." in said(at)


def test_a_number_that_was_taken_out_says_where_it_is(page, store):
    store.remove_pulls(["day 1/1"], Reason(who="M", why="from the log book"))
    at = typed(page("pulls"), outing="day 1", pull="1", ending="never set")
    assert "pull day 1/1 was taken out before" in said(at)
    assert "or put it back under Taken out" in said(at)


def test_a_refusal_outlives_what_others_store(page, store, small_pulls):
    """The page is drawn anew by its head when somebody stores something."""
    at = typed(page("pulls"), pull="77", ending="released", peak="much")
    store.add_pulls([small_pulls[0].model_copy(update={"code": "99"})], "from the deck")
    at.run().run()
    assert "'much' is not a number" in said(at)
    typed(at, peak="3.1")
    assert "Stored: day 2/77." in said(at)
    assert not at.error


def test_it_is_gone_with_what_it_was_about(page, store):
    at = typed(page("pulls"), pull="77", ending="released", peak="much")
    at.switch_page("views/questions.py").run()
    at.switch_page("views/pulls.py").run()
    assert not at.error


def test_without_being_kept_it_would_be_gone_at_once(page, store, monkeypatch):
    at = typed(page("pulls"), pull="77", ending="released", peak="much")
    assert at.error
    monkeypatch.setattr("app.parts.refusals._key", lambda place: f"{place} {id(object())}")
    assert not at.run().error


def test_a_store_that_refuses_is_said(page, store, monkeypatch):
    def full(row):
        raise StoreError("the disk is full", hint="Make room.")

    monkeypatch.setattr(data, "add_row", full)
    at = typed(page("pulls"), pull="77", ending="never set").run()
    assert "the disk is full" in said(at)
    assert "Make room." in said(at)


def test_treatments_are_written_as_fields_are(page, store, campaign):
    labels = [box.label for box in page("pulls").selectbox]
    for treatment in campaign.treatments:
        assert treatment.name[0].upper() + treatment.name[1:] in labels


def test_every_field_has_a_name_that_a_log_knows(store, campaign):
    """Else a fault would name a heading that stands nowhere on the form."""
    [row] = log_rows.rows_of(store.pulls()[:1], campaign)
    assert set(adding.LABELS) <= {*row, log_rows.STEP}


def test_in_pounds_too(store, campaign):
    pounds = campaign.model_copy(update={"load_unit": "lbf"})
    store.replace_campaign(pounds)
    empty = dict.fromkeys((*adding.LABELS, "load_lbf"), "")
    cells = empty | {"outing": "day 2", "anchor": "S6", "seabed": "firm sand", "pull": "77"}
    row = adding._row(cells | {"ending": "released", "load_lbf": "700"}, pounds)
    name = add_row(store, row)
    assert name == "day 2/77"
    assert store.pulls()[-1].bites[0].ending is Ending.RELEASED
    assert store.pulls()[-1].bites[0].load_kn == pytest.approx(3.114, abs=0.001)


def test_sent_twice_it_is_stored_once_and_nobody_is_told_to_give_it_another_number(page, store):
    """A second tap, or a page drawn anew before it could say that the pull is stored."""
    fields = {"anchor": "P9", "pull": "77", "ending": "released", "step": 2.6}
    typed(page("pulls"), **fields)
    at = typed(page("pulls"), **fields)
    assert "Stored already, word for word: day 2/77" in said(at)
    assert "another number" not in said(at)
    assert values(at) == CLEARED
    assert [pull.code for pull in store.pulls()].count("77") == 1


def test_another_pull_under_the_same_number_is_refused(page, store):
    typed(page("pulls"), anchor="P9", pull="77", ending="released", step=2.6)
    at = typed(page("pulls"), anchor="P9", pull="77", ending="released", step=3.2)
    assert "with other content" in said(at)
    assert "Give this one another number" in said(at)
