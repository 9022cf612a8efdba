"""Two testers' packages in one store: additions with their history, conflicts listed."""

import pytest

from model.base.errors import FaultyFile, InputError
from model.service import joint_campaign
from model.service import merge as merging
from model.service.packages import export_package, import_package
from model.store.revisions import Reason
from model.store.store import Store

HERE = Reason(who="Ada", why="wrong anchor")
THERE = Reason(who="Bo", why="spoilt")


@pytest.fixture
def there(filled, tmp_path):
    """The store of another tester, who began with this one's package."""
    export_package(filled, tmp_path / "first.zip")
    import_package(tmp_path / "first.zip", tmp_path / "there")
    return Store.open(tmp_path / "there")


@pytest.fixture
def take_in(filled, there, tmp_path):
    """Merges what the other tester has by now."""

    def merged():
        package = tmp_path / "theirs.zip"
        package.unlink(missing_ok=True)
        export_package(there, package)
        return import_package(package, filled.folder)

    return merged


def conflicts(take_in, store):
    """Where and what, in words; and nothing of the package was stored."""
    before = store.history()
    with pytest.raises(FaultyFile) as caught:
        take_in()
    assert store.history() == before
    assert str(caught.value).count(merging.HINT) == 1
    return [f"{fault.column}: {fault.found}" for fault in caught.value.faults]


def more_of(campaign, **lists):
    """A campaign with one more in each of some lists: a copy of the first under another name."""
    change = {}
    for field, named in lists.items():
        first = getattr(campaign, field)[0]
        change[field] = (*getattr(campaign, field), first.model_copy(update=named))
    return campaign.model_copy(update=change)


def test_a_pull_that_only_they_took_out_is_a_conflict(filled, there, take_in):
    there.remove_pulls(["day 1/3"], THERE)
    [found] = conflicts(take_in, filled)
    assert found == "pull day 1/3: taken out there (Bo: spoilt), and not here"
    filled.remove_pulls(["day 1/3"], HERE)
    assert (take_in().added, take_in().skipped) == (0, 8)


def test_a_pull_taken_out_here_since_stays_so_and_is_counted(filled, take_in):
    filled.remove_pulls(["day 1/4"], HERE)
    taken = take_in()
    assert (taken.added, taken.skipped, taken.removed) == (0, 8, 1)
    assert "8 skipped as known (1 of them taken out before)" in str(taken)
    assert "day 1/4" not in {pull.id for pull in filled.pulls()}


def test_one_taken_out_here_that_they_have_otherwise_is_a_conflict(filled, there, take_in):
    filled.remove_pulls(["day 1/4"], HERE)
    pull = next(pull for pull in there.pulls() if pull.id == "day 1/4")
    there.correct_pulls([pull.model_copy(update={"notes": "late"})], "by hand", THERE)
    [found] = conflicts(take_in, filled)
    assert found == "pull day 1/4: taken out here (Ada: wrong anchor), and not there"


def test_a_correction_of_theirs_is_a_conflict_and_one_of_ours_stays(filled, there, take_in):
    ours, theirs = filled.pulls()[0], there.pulls()[1]
    corrected = ours.model_copy(update={"notes": "ours"})
    filled.correct_pulls([corrected], "by hand", HERE)
    taken = take_in()
    assert taken.corrected == (ours.id,)
    assert f"corrected here since, and left so: {ours.id}" in str(taken)
    assert filled.pulls()[0] == corrected
    there.correct_pulls([theirs.model_copy(update={"notes": "theirs"})], "by hand", THERE)
    [found] = conflicts(take_in, filled)
    assert found.endswith("notes: nothing → theirs (Bo: spoilt)")


def test_new_pulls_come_with_all_their_history(filled, there, take_in, small_pulls):
    new = small_pulls[8:11]
    there.add_pulls(new, "day-2.csv")
    there.correct_pulls([new[0].model_copy(update={"notes": "late"})], "by hand", THERE)
    there.remove_pulls([new[1].id], THERE)
    taken = take_in()
    assert (taken.added, taken.skipped) == (2, 8)
    for pull in new:
        assert filled.revisions(pull.id) == there.revisions(pull.id)
    assert [one.pull.id for one in filled.removed_pulls()] == [new[1].id]
    assert take_in().added == 0


def test_without_the_history_that_would_be_seen(filled, there, take_in, small_pulls, monkeypatch):
    """A merge of newest versions alone, as their log would bring them."""
    there.add_pulls(small_pulls[8:9], "day-2.csv")
    late = small_pulls[8].model_copy(update={"notes": "late"})
    there.correct_pulls([late], "by hand", THERE)

    def newest_alone(store, source, campaign, revisions):
        store.add_pulls([revisions[-1].pull], source)
        return merging.merged(campaign, revisions, campaign, revisions, source=source)

    monkeypatch.setattr("model.service.packages.merge", newest_alone)
    take_in()
    assert filled.revisions(late.id) != there.revisions(late.id)


def test_what_they_changed_and_changed_back_comes_along(filled, there, take_in):
    there.remove_pulls(["day 1/3"], THERE)
    there.put_back_pulls(["day 1/3"], THERE)
    assert take_in().skipped == 8
    assert filled.revisions("day 1/3") == there.revisions("day 1/3")


def test_an_older_package_of_its_own_is_known(filled, small_campaign, small_pulls, tmp_path):
    export_package(filled, tmp_path / "old.zip")
    filled.replace_campaign(
        more_of(small_campaign, outings={"name": "day 7"}, anchors={"code": "W8"})
    )
    filled.add_pulls([small_pulls[0].model_copy(update={"outing": "day 7"})], "day-7.csv")
    filled.remove_pulls(["day 1/2"], HERE)
    before = filled.history()
    taken = import_package(tmp_path / "old.zip", filled.folder)
    assert (taken.added, taken.skipped, taken.removed, taken.changes) == (0, 8, 1, ())
    assert filled.history() == before


@pytest.fixture
def apart(filled, there, small_campaign, small_pulls):
    """Two testers with days, anchors, levels and questions of their own."""
    filled.replace_campaign(more_of(small_campaign, outings={"name": "day 6"}))
    filled.add_pulls([small_pulls[0].model_copy(update={"outing": "day 6"})], "day-6.csv")
    theirs = more_of(
        small_campaign,
        outings={"name": "day 7"},
        anchors={"code": "W8"},
        questions={"name": "W8 too"},
        treatments={"name": "rope"},
    )
    leader = theirs.treatments[0]
    longer = leader.model_copy(update={"levels": (*leader.levels, "wire 4 m")})
    there.replace_campaign(
        theirs.model_copy(
            update={
                "treatments": (longer, *theirs.treatments[1:]),
                "interactions": (("leader", "chain"),),
            }
        )
    )
    rig = {"outing": "day 7", "anchor": "W8", "levels": {"leader": "wire 4 m", "rope": "wire 2 m"}}
    there.add_pulls([small_pulls[0].model_copy(update=rig)], "day-7.csv")
    return filled


def test_two_testers_with_different_days_are_merged(apart, take_in):
    taken = take_in()
    assert (taken.added, taken.skipped) == (1, 8)
    campaign = apart.campaign()
    assert [one.name for one in campaign.outings] == ["day 1", "day 2", "day 6", "day 7"]
    assert [one.code for one in campaign.anchors] == ["S6", "P9", "W8"]
    assert campaign.treatments[0].levels == ("chain only", "wire 2 m", "wire 4 m")
    assert [one.name for one in campaign.treatments] == ["leader", "chain", "rope"]
    assert campaign.interactions == (("leader", "chain"),)
    assert campaign.questions[-1].name == "W8 too"
    assert "campaign: outing day 7 added" in str(taken)
    assert take_in().changes == ()


def test_what_was_merged_goes_out_and_in_again(apart, take_in, tmp_path):
    """What came is older than the campaign that knows its names."""
    take_in()
    export_package(apart, tmp_path / "both.zip")
    import_package(tmp_path / "both.zip", tmp_path / "both")
    both = Store.open(tmp_path / "both")
    assert both.history() == apart.history()
    export_package(both, tmp_path / "again.zip")
    assert (take_in().added, import_package(tmp_path / "again.zip", apart.folder).added) == (0, 0)


def test_a_changed_entry_is_a_conflict_with_all_others_at_once(filled, there, take_in):
    campaign = there.campaign()
    heavier = campaign.anchors[0].model_copy(update={"mass_kg": 7.0})
    alike = campaign.outings[1].model_copy(update={"name": "DAY 2"})
    leader = campaign.treatments[0].model_copy(update={"levels": ("chain only", "Wire 2 m")})
    there.replace_campaign(
        campaign.model_copy(
            update={
                "anchors": (heavier, *campaign.anchors[1:]),
                "outings": (campaign.outings[0], alike),
                "main_question": "leader in general",
            }
        )
    )
    there.remove_pulls(["day 1/3"], THERE)
    found = conflicts(take_in, filled)
    assert "campaign: anchor S6: mass_kg 6.0 → 7.0" in found
    assert "campaign: main_question: leader on S6 → leader in general" in found
    assert "campaign: outing 'day 2' → 'DAY 2', which nobody could tell apart" in found
    assert any(one.startswith("pull day 1/3: taken out there") for one in found)
    assert len(found) == 4
    other = campaign.model_copy(update={"treatments": (leader, campaign.treatments[1])})
    _, levels = merging.joint_campaign(campaign, other)
    assert levels == ("level of leader 'wire 2 m' → 'Wire 2 m', which nobody could tell apart",)


@pytest.mark.parametrize(
    ("named", "found"),
    [
        (
            {"anchors": {"code": "\u04056"}},
            r"anchor 'S6' → '\u04056', which nobody could tell apart",
        ),
        (
            {"treatments": {"name": "Lead-er"}},
            "a treatment called 'Lead-er'",
        ),
    ],
)
def test_names_that_only_together_are_none(named, found, small_campaign, monkeypatch):
    """Each campaign holds by itself, and a file of both would be refused."""
    treatment = small_campaign.treatments[0].model_copy(update={"name": "lead er"})
    theirs = more_of(small_campaign, **named)
    theirs = theirs.model_copy(update={"anchors": theirs.anchors[1:], "questions": ()})
    theirs = theirs.model_copy(update={"main_question": None})
    ours = small_campaign.model_copy(update={"treatments": (treatment, *theirs.treatments[:2])})
    kept, conflicts = merging.joint_campaign(ours, theirs)
    assert (kept, conflicts) == (ours, (found,))
    monkeypatch.setattr(joint_campaign, "seen_as", str)
    monkeypatch.setattr(joint_campaign, "record_faults", lambda *_: [])
    kept, conflicts = merging.joint_campaign(ours, theirs)
    assert (kept == ours, conflicts) == (False, ())


def test_a_usual_scope_of_their_own_is_a_conflict(small_campaign):
    """Every pull without a scope would come to mean another one."""
    other = small_campaign.model_copy(update={"usual_scope": 7.0})
    kept, found = merging.joint_campaign(small_campaign, other)
    assert (kept, found) == (small_campaign, ("usual_scope: 5.0 → 7.0",))


def test_an_earlier_version_that_names_what_nobody_has_any_more(filled, there, take_in):
    campaign = there.campaign()
    there.replace_campaign(more_of(campaign, anchors={"code": "S66"}))
    pull = there.pulls()[0].model_copy(update={"code": "99", "anchor": "S66"})
    there.add_pulls([pull], "day-1.csv")
    there.correct_pulls([pull.model_copy(update={"anchor": "S6"})], "by hand", THERE)
    there.replace_campaign(campaign)
    before = filled.history()
    with pytest.raises(InputError, match="does not know anchor 'S66'"):
        take_in()
    assert filled.history() == before


def test_what_others_write_is_shown_and_not_done(filled, there, take_in):
    there.remove_pulls(["day 1/3"], Reason(who="Bo\x1b[2J", why="spoilt"))
    [found] = conflicts(take_in, filled)
    assert "(Bo\\x1b[2J: spoilt)" in found
