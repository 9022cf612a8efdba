"""Corrections by hand: looked at before they are stored, and refused like a log."""

import pytest

from model.base.errors import FaultyFile, InputError, KnownPull
from model.service import corrections
from model.service.corrections import (
    add_row,
    log_rows,
    login_name,
    preview_cells,
    preview_rows,
    reason_for,
)
from model.service.imports import import_upload, preview_upload
from model.store import kept_facts
from model.store.revisions import Reason

LATE = Reason(who="M", why="read off the video")


def test_one_cell_over_many_pulls(filled):
    names = ["day 1/1", "day 1/3", "day 1/5"]
    found = preview_cells(filled, names, {"anchor": "P9"})
    assert [str(one) for one in found.revised] == [f"{name}: anchor: S6 → P9" for name in names]
    before = filled.pulls()
    assert {pull.anchor for pull in before if pull.id in names} == {"S6"}  # only looked at
    filled.correct_pulls(found.pulls, corrections.BY_HAND, LATE)
    assert {pull.anchor for pull in filled.pulls() if pull.id in names} == {"P9"}
    assert filled.revisions("day 1/3")[-1].source == "by hand"


def test_a_cell_that_changes_nothing(filled):
    assert preview_cells(filled, ["day 1/1"], {"anchor": "S6"}).revised == ()


def test_a_faulty_cell_and_a_pull_that_is_not_there(filled):
    with pytest.raises(FaultyFile, match="Q1"):
        preview_cells(filled, ["day 1/1"], {"anchor": "Q1"})
    with pytest.raises(InputError, match="no pull day 9/1"):
        preview_cells(filled, ["day 9/1"], {"anchor": "P9"})


def test_rows_may_not_become_another_pull(filled):
    [row] = log_rows(filled, ["day 1/1"])
    with pytest.raises(InputError, match="no pull day 1/77"):
        preview_rows(filled, [row | {"pull": "77"}])


def test_a_pull_added_by_hand(filled):
    [row] = log_rows(filled, ["day 1/1"])
    assert add_row(filled, row | {"pull": "77"}) == "day 1/77"
    assert filled.pulls()[-1].code == "77"
    with pytest.raises(KnownPull, match="day 1/77 is there already, word for word"):
        add_row(filled, row | {"pull": "77"})
    with pytest.raises(KnownPull, match="day 1/77 is there already, with other content") as caught:
        add_row(filled, row | {"pull": "77", "anchor": "P9"})
    assert "--revise" not in str(caught.value)
    assert not caught.value.is_removed
    filled.remove_pulls(["day 1/77"], LATE)
    for anchor in ("S6", "P9"):
        with pytest.raises(KnownPull, match="was taken out before") as caught:
            add_row(filled, row | {"pull": "77", "anchor": anchor})
        assert caught.value.is_removed
        assert "put it back" in caught.value.hint


def test_an_upload_with_nothing_new_says_so(filled, small_campaign):
    from model.ingest.log_writer import log_text

    content = log_text(filled.pulls(), small_campaign).encode()
    looked = preview_upload(filled, "pulls.csv", content)
    assert looked.as_preview() == "pulls.csv: all 8 pulls are known already."
    filled.remove_pulls(["day 1/2"], LATE)
    looked = preview_upload(filled, "pulls.csv", content)
    assert looked.as_preview() == (
        "pulls.csv: all 8 pulls are known already (1 of them taken out before)."
    )


def test_an_upload_is_looked_at_and_then_stored(filled, small_campaign, small_pulls):
    from model.ingest.log_writer import log_text

    changed = small_pulls[0].model_copy(update={"anchor": "P9"})
    content = log_text((changed, *small_pulls[1:]), small_campaign).encode()
    looked = preview_upload(filled, "pulls.csv", content)
    assert (looked.added, looked.skipped, len(looked.revised)) == (8, 7, 1)
    assert len(filled.pulls()) == 8
    with pytest.raises(FaultyFile, match="anchor: S6 → P9"):
        import_upload(filled, "pulls.csv", content)
    done = import_upload(filled, "pulls.csv", content, reason=LATE)
    assert (done.added, done.revised) == (looked.added, looked.revised)
    assert len(filled.pulls()) == 16


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"\xff\xfea", b"pull,anchor\n1"])
def test_an_upload_that_is_no_log(content, filled):
    with pytest.raises(FaultyFile):
        preview_upload(filled, "odd.csv", content)


def test_who_corrects_is_the_login_name_or_nobody(monkeypatch):
    monkeypatch.setattr(corrections.getpass, "getuser", lambda: "mate")
    assert reason_for("why").who == "mate"
    assert reason_for("why", " M ").who == "M"

    def unknown():
        raise OSError("no such user")

    monkeypatch.setattr(corrections.getpass, "getuser", unknown)
    assert login_name() == ""


def test_of_two_who_correct_one_pull_the_second_is_told(filled, monkeypatch):
    """Both looked at the same revision; the later one must not undo the earlier one unseen."""
    name = filled.pulls()[0].id
    first = corrections.preview_cells(filled, [name], {"notes": "wet"})
    second = corrections.preview_cells(filled, [name], {"anchor": "P9"})
    corrections.correct(filled, first, Reason(who="M", why="from the log book"))
    with pytest.raises(InputError, match=r"was changed by M \(from the log book\)") as caught:
        corrections.correct(filled, second, Reason(who="J", why="read off the video"))
    assert "Nothing was changed by you" in caught.value.hint
    assert len(filled.revisions(name)) == 2

    again = corrections.preview_cells(filled, [name], {"anchor": "P9"})
    corrections.correct(filled, again, Reason(who="J", why="read off the video"))
    newest = filled.revisions(name)[-1].pull
    assert (newest.notes, newest.anchor) == ("wet", "P9")

    monkeypatch.setattr(kept_facts, "require_unchanged", lambda *_: None)
    corrections.correct(filled, second, Reason(who="J", why="read off the video"))
    assert filled.revisions(name)[-1].pull.notes == ""  # without the check the note is undone
