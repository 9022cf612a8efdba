import pytest

from model.base.errors import FaultyFile, InputError
from model.records.campaign import Anchor, Ladder, Step
from model.records.pull import Bite, Ending, ModeSeen, Start
from model.records.treatment import Treatment
from model.store import kept_facts
from model.store.store import Store


def test_facts_come_back_as_they_went_in(store, small_campaign, small_pulls):
    added = store.add_pulls(small_pulls, "pulls.csv")

    again = Store.open(store.folder)
    assert (added.added, added.skipped) == (16, 0)
    assert again.pulls() == small_pulls
    assert again.campaign() == small_campaign


def test_the_same_log_again_is_skipped_and_counted(full_store, small_pulls):
    again = full_store.add_pulls(small_pulls, "pulls.csv")

    assert (again.added, again.skipped) == (0, 16)
    assert full_store.pulls() == small_pulls


def test_a_changed_pull_is_listed_old_to_new_and_nothing_is_stored(store, small_pulls):
    store.add_pulls(small_pulls[:3], "pulls.csv")
    changed = small_pulls[0].model_copy(update={"anchor": "P9", "notes": "wet"})

    with pytest.raises(FaultyFile) as caught:
        store.add_pulls((changed, *small_pulls[1:]), "pulls.csv")

    assert "anchor: S6 → P9" in str(caught.value)
    assert "notes: nothing → wet" in str(caught.value)
    assert len(caught.value.faults) == 1
    assert store.pulls() == small_pulls[:3]


def test_control_characters_of_a_note_are_shown_and_not_done(store, small_pulls):
    store.add_pulls(small_pulls, "pulls.csv")
    nasty = small_pulls[0].model_copy(update={"notes": "\x1b[2Jwet"})
    with pytest.raises(FaultyFile) as caught:
        store.add_pulls((nasty,), "pulls.csv")
    assert "notes: nothing → \\x1b[2Jwet" in str(caught.value)


def test_a_pull_that_grew_a_bite_counts_as_changed(store, small_pulls):
    store.add_pulls(small_pulls, "pulls.csv")
    held = Bite(number=2, start=Start.AFTER_SLIP, ending=Ending.HELD, load_kn=4.6, held_s=60.0)
    grown = small_pulls[0].model_copy(update={"bites": (*small_pulls[0].bites, held)})

    with pytest.raises(FaultyFile, match="bite 2 ending: nothing → held"):
        store.add_pulls((grown,), "pulls.csv")


def test_a_mode_seen_later_is_named_by_its_bite(store, small_pulls):
    store.add_pulls(small_pulls, "pulls.csv")
    bite = small_pulls[0].bites[0].model_copy(update={"mode": ModeSeen.UPRIGHT})

    with pytest.raises(FaultyFile, match="bite 1 mode: on_side → upright"):
        store.add_pulls((small_pulls[0].model_copy(update={"bites": (bite,)}),), "pulls.csv")


def test_one_identity_twice_in_one_file_is_a_fault(store, small_pulls):
    with pytest.raises(FaultyFile, match="day 1/1 stands here 2 times"):
        store.add_pulls((small_pulls[0], *small_pulls), "pulls.csv")
    assert store.pulls() == ()


def test_unknown_names_are_refused(store, small_pulls):
    strange = small_pulls[0].model_copy(
        update={"code": "99", "anchor": "Q1", "levels": {"leader": "rope 5 m"}}
    )
    with pytest.raises(InputError, match=r"anchor 'Q1' \(in 1 pulls\), level leader=rope 5 m"):
        store.add_pulls((*small_pulls, strange), "pulls.csv")
    assert store.pulls() == ()


def test_without_the_check_of_names_the_strange_pull_would_get_in(store, small_pulls, monkeypatch):
    monkeypatch.setattr(kept_facts, "require_known", lambda *_: None)
    store.add_pulls((small_pulls[0].model_copy(update={"anchor": "Q1"}),), "pulls.csv")
    assert store.pulls()[0].anchor == "Q1"


def test_a_failure_in_the_middle_of_a_log_stores_nothing_of_it(store, small_pulls, monkeypatch):
    rows = iter(range(5))
    make = kept_facts.pull_row

    def fail_late(*pull, **more):
        if next(rows) == 4:
            raise RuntimeError("cut off")
        return make(*pull, **more)

    monkeypatch.setattr(kept_facts, "pull_row", fail_late)
    with pytest.raises(RuntimeError, match="cut off"):
        store.add_pulls(small_pulls, "pulls.csv")
    assert store.pulls() == ()


def test_a_campaign_can_grow(full_store, small_campaign):
    grown = small_campaign.model_copy(
        update={"anchors": (*small_campaign.anchors, Anchor(code="C7", mass_kg=7.5))}
    )
    full_store.replace_campaign(grown)
    assert full_store.campaign() == grown


def _refused(store, campaign, words):
    before = store.campaign()
    with pytest.raises(InputError, match=words):
        store.replace_campaign(campaign)
    assert store.campaign() == before


def test_what_pulls_refer_to_cannot_be_removed(full_store, small_campaign):
    fewer = small_campaign.model_copy(update={"anchors": small_campaign.anchors[:1]})
    _refused(full_store, fewer, r"anchor 'P9' \(in 5 pulls\) is used by stored pulls")


def test_a_baseline_cannot_change_under_stored_pulls(full_store, small_campaign):
    turned = Treatment(name="leader", baseline="wire 2 m", levels=("chain only", "wire 2 m"))
    changed = small_campaign.model_copy(
        update={"treatments": (turned, *small_campaign.treatments[1:])}
    )
    _refused(full_store, changed, "the baseline of leader was 'chain only'")


def test_a_step_that_pulls_used_cannot_go(full_store, small_campaign):
    steps = tuple(Step(load_kn=load, dwell_s=15.0) for load in (0.5, 1.0, 1.5, 2.0, 3.2, 3.9, 4.6))
    ladder = Ladder(name="steps", steps=steps, final_hold_s=60.0)
    _refused(full_store, small_campaign.model_copy(update={"ladders": (ladder,)}), r"step 2\.6 kN")


def test_a_ladder_that_pulls_used_cannot_become_unknown(full_store, small_campaign):
    outings = tuple(
        outing.model_copy(update={"ladder": "unknown"}) for outing in small_campaign.outings
    )
    changed = small_campaign.model_copy(update={"outings": outings})
    _refused(full_store, changed, r"step 2\.6 kN of the ladder 'steps'")


def test_another_campaign_is_refused(full_store, small_campaign):
    other = small_campaign.model_copy(update={"name": "Other trials"})
    _refused(full_store, other, "it is another campaign, 'Other trials'")


def test_the_usual_scope_cannot_change_under_pulls_that_name_none(
    store, small_campaign, small_pulls
):
    changed = small_campaign.model_copy(update={"usual_scope": 7.0})
    store.add_pulls(small_pulls[:2], "pulls.csv")
    store.replace_campaign(changed)  # both name their own
    store.replace_campaign(small_campaign)
    store.add_pulls((small_pulls[2].model_copy(update={"scope": None}),), "pulls.csv")
    _refused(store, changed, "the usual scope was 5 when 1 pulls without a scope were stored")


def test_a_ladder_cannot_grow_above_what_pulls_held_to_the_end(full_store, small_campaign):
    steps = (*small_campaign.ladders[0].steps, Step(load_kn=5.2, dwell_s=15.0))
    ladder = Ladder(name="steps", steps=steps, final_hold_s=60.0)
    changed = small_campaign.model_copy(update={"ladders": (ladder,)})
    _refused(full_store, changed, r"step 4\.6 kN of the ladder 'steps' \(day 1\) was the top")


def test_without_pulls_anything_may_change(store, small_campaign):
    fewer = small_campaign.model_copy(
        update={"anchors": small_campaign.anchors[:1], "questions": (), "main_question": None}
    )
    store.replace_campaign(fewer)
    assert store.campaign() == fewer


def test_earlier_campaigns_and_answers_are_kept(full_store, small_campaign):
    import sqlite3

    full_store.replace_campaign(small_campaign.model_copy(update={"about": "again"}))
    with sqlite3.connect(full_store.folder / "kedgewise.sqlite") as connection:
        rows = connection.execute("SELECT count(*) FROM campaign").fetchone()
    connection.close()
    assert rows == (2,)
