"""Corrections, pulls taken out and put back: nothing that was stored is lost."""

import pytest

from model.base.errors import FaultyFile, InputError, StoreError
from model.records.treatment import Treatment
from model.store import revisions
from model.store.revisions import Reason
from model.store.store import Store

LATE = Reason(who="M", why="read off the video")


def heavier(pull, anchor="P9"):
    return pull.model_copy(update={"anchor": anchor})


def test_an_import_with_a_reason_corrects_what_changed(full_store, small_pulls):
    changed = heavier(small_pulls[0])
    added = full_store.add_pulls((changed, *small_pulls[1:]), "again.csv", reason=LATE)
    assert (added.added, added.skipped) == (0, 15)
    [revised] = added.revised
    assert (revised.name, revised.changes) == ("day 1/1", ("anchor: S6 → P9",))
    assert full_store.pulls() == (changed, *small_pulls[1:])  # in its old place


def test_every_version_stays_with_who_when_and_why(full_store, small_pulls):
    full_store.add_pulls([heavier(small_pulls[0])], "again.csv", reason=LATE)
    first, second = Store.open(full_store.folder).revisions("day 1/1")
    assert (first.number, first.pull, first.source) == (1, small_pulls[0], "pulls.csv")
    assert (second.number, second.pull.anchor, second.source) == (2, "P9", "again.csv")
    assert (second.who, second.why) == ("M", "read off the video")
    assert first.stored_at < second.stored_at


@pytest.mark.parametrize("why", ["", "  "])
def test_a_correction_without_a_reason_is_none(why):
    with pytest.raises(InputError, match="must say why"):
        Reason(who="M", why=why)


def test_new_pulls_of_a_correcting_file_are_new_and_need_no_reason(store, small_pulls):
    store.add_pulls(small_pulls[:8], "one.csv")
    added = store.add_pulls((heavier(small_pulls[0]), *small_pulls[1:]), "two.csv", reason=LATE)
    assert (added.added, added.skipped, len(added.revised)) == (8, 7, 1)
    assert [one.why for one in store.revisions("day 2/1")] == [""]


def test_one_faulty_pull_and_no_correction_is_stored(full_store, small_pulls):
    wrong = heavier(small_pulls[1], "Q1")
    with pytest.raises(InputError, match="'Q1'"):
        full_store.add_pulls([heavier(small_pulls[0]), wrong], "again.csv", reason=LATE)
    with pytest.raises(InputError, match="'Q1'"):
        full_store.correct_pulls([heavier(small_pulls[0]), wrong], "by hand", LATE)
    assert full_store.pulls() == small_pulls


def test_a_correction_of_many_is_one_step(full_store, small_pulls):
    own = [pull for pull in small_pulls if pull.anchor == "S6"]
    done = full_store.correct_pulls([heavier(pull) for pull in own], "by hand", LATE)
    assert len(done.revised) == len(own)
    assert {pull.anchor for pull in full_store.pulls()} == {"P9"}


def test_what_is_not_there_cannot_be_corrected(full_store, small_pulls):
    with pytest.raises(InputError, match="no pull day 1/99"):
        full_store.correct_pulls([small_pulls[0].model_copy(update={"code": "99"})], "x", LATE)


def test_a_pull_taken_out_counts_no_more_and_stays_in_its_history(full_store, small_pulls):
    full_store.remove_pulls(["day 1/1", "day 1/2"], LATE)
    assert full_store.pulls() == small_pulls[2:]
    assert [one.pull for one in full_store.removed_pulls()] == list(small_pulls[:2])
    before, taken = full_store.revisions("day 1/1")
    assert (before.is_removed, taken.is_removed) == (False, True)
    assert (taken.number, taken.who, taken.why) == (2, "M", "read off the video")


def test_it_can_be_put_back(full_store, small_pulls):
    full_store.remove_pulls(["day 1/1"], LATE)
    full_store.put_back_pulls(["day 1/1"], Reason(who="M", why="it was sound"))
    assert full_store.pulls() == small_pulls
    assert [one.is_removed for one in full_store.revisions("day 1/1")] == [False, True, False]
    with pytest.raises(InputError, match="no pull day 1/1 was taken out"):
        full_store.put_back_pulls(["day 1/1"], LATE)


@pytest.mark.parametrize("names", [["day 1/1", "day 9/1"], ["day 1/2", "day 1/2"]])
def test_of_many_to_take_out_all_or_none(names, full_store, small_pulls):
    full_store.remove_pulls(["day 1/2"], LATE)
    with pytest.raises(InputError, match="holds no pull"):
        full_store.remove_pulls(names, LATE)
    assert len(full_store.pulls()) == 15


def test_the_growing_log_does_not_bring_back_what_was_taken_out(full_store, small_pulls):
    full_store.remove_pulls(["day 1/1"], LATE)
    again = full_store.add_pulls(small_pulls, "pulls.csv")
    assert (again.added, again.skipped, again.removed) == (0, 16, 1)
    assert full_store.pulls() == small_pulls[1:]


def test_other_content_for_it_is_refused_or_with_a_reason_puts_it_back(full_store, small_pulls):
    full_store.remove_pulls(["day 1/1"], LATE)
    with pytest.raises(FaultyFile, match="taken out before, and it had other content: anchor"):
        full_store.add_pulls([heavier(small_pulls[0])], "again.csv")
    done = full_store.add_pulls([heavier(small_pulls[0])], "again.csv", reason=LATE)
    assert done.revised[0].changes == ("put back", "anchor: S6 → P9")
    assert full_store.pulls()[0].anchor == "P9"


def test_what_stood_behind_a_posterior_can_be_seen_again(
    full_store, small_pulls, small_campaign, made_up_posterior
):
    facts = full_store.facts()
    renamed = small_campaign.model_copy(update={"questions": small_campaign.questions[:1]})
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=50, identity="first")
    full_store.remove_pulls(["day 2/8"], LATE)  # while it is being fitted
    full_store.save_posterior(posterior, mark=facts.mark)
    full_store.add_pulls([heavier(small_pulls[0])], "again.csv", reason=LATE)
    full_store.replace_campaign(renamed)
    behind = full_store.facts_behind("first")
    assert behind.pulls == small_pulls
    assert behind.campaign == small_campaign
    assert full_store.facts().campaign == renamed
    assert full_store.facts().pulls == (heavier(small_pulls[0]), *small_pulls[1:-1])


def test_what_was_taken_out_keeps_its_meaning(full_store, small_campaign):
    """Else it could be put back under another baseline, and mean another pull."""
    full_store.remove_pulls([pull.id for pull in full_store.pulls()], LATE)
    turned = Treatment(name="leader", baseline="wire 2 m", levels=("chain only", "wire 2 m"))
    changed = small_campaign.model_copy(
        update={"treatments": (turned, *small_campaign.treatments[1:])}
    )
    with pytest.raises(InputError, match="the baseline of leader was 'chain only'"):
        full_store.replace_campaign(changed)


def test_what_was_first_stored_since(full_store, small_pulls, small_campaign, made_up_posterior):
    full_store.save_posterior(
        made_up_posterior(small_campaign, small_pulls, n_draws=50, identity="first")
    )
    full_store.add_pulls([heavier(small_pulls[0])], "again.csv", reason=LATE)
    assert full_store.stored_since("first") == frozenset()
    full_store.add_pulls([small_pulls[0].model_copy(update={"code": "77"})], "more.csv")
    assert full_store.stored_since("first") == {"day 1/77"}
    with pytest.raises(StoreError, match="no posterior second"):
        full_store.stored_since("second")


def test_logging_one_pull_reads_no_other(full_store, small_pulls, monkeypatch):
    """It holds the writers' lock meanwhile, so it may not take longer with every pull there is."""
    read = []
    revision_from = revisions._revision_from
    monkeypatch.setattr(
        revisions, "_revision_from", lambda row: read.append(row.code) or revision_from(row)
    )
    fresh = small_pulls[0].model_copy(update={"code": "77"})
    assert full_store.add_pulls([fresh], "deck").added == 1
    assert full_store.add_pulls([fresh], "deck").skipped == 1
    full_store.remove_pulls([fresh.id], LATE)
    full_store.put_back_pulls([fresh.id], LATE)
    assert set(read) == {"77"}
    read.clear()
    monkeypatch.setattr(revisions, "FEW", 0)
    full_store.add_pulls([fresh], "deck")
    assert len(set(read)) > 1  # without the limit by name it would
