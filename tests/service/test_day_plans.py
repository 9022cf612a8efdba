import json

import pytest

from model.base.errors import InputError
from model.service import day_plans
from model.service.day_plans import NEW_DAY, SEEDS_FILE, plan
from model.service.planning_start import Wish

HOURS = 4
KEY = f"{NEW_DAY} after 2 outings / leader on S6"


def kept(store):
    return json.loads((store.folder / SEEDS_FILE).read_text("utf-8"))


def order(day):
    return [pull.candidate for pull in day.plan.pulls]


def test_pairs_within_the_hours_each_on_a_patch_of_its_own(planned):
    day = plan(planned, Wish(), hours=HOURS)
    pulls = day.plan.pulls
    assert pulls
    assert len(pulls) % 2 == 0
    assert day.plan.minutes <= 60 * HOURS
    assert len({(pull.candidate.seabed, pull.patch) for pull in pulls}) == len(pulls)
    assert day.rehearsed.most_pulls == len(pulls)
    begins = 0.0
    for pull in pulls:
        assert pull.begins_min == begins
        begins += pull.minutes
    for block in day.plan.blocks:
        arms = [dict(pull.candidate.levels)["leader"] for pull in block.pulls]
        assert arms.count("wire 2 m") == arms.count("chain only")


def test_a_day_that_goes_on_takes_fresh_patches(planned):
    day = plan(planned, Wish(today="day 2"), hours=HOURS)
    assert min(pull.patch for pull in day.plan.pulls) == 5
    assert f"day 2 / {day.begun.start.main.question.name}" in kept(planned)


def test_the_seed_is_kept_and_used_again(planned):
    first = plan(planned, Wish(), hours=HOURS)
    assert kept(planned) == {KEY: first.plan.seed}
    again = plan(planned, Wish(), hours=HOURS)
    assert again.plan.seed == first.plan.seed
    assert order(again) == order(first)


def test_a_seed_that_is_given_is_kept_from_then_on(planned):
    plan(planned, Wish(), hours=HOURS)
    assert plan(planned, Wish(), hours=HOURS, seed=5).plan.seed == 5
    assert plan(planned, Wish(), hours=HOURS).plan.seed == 5


def test_coins_turn_the_order_of_arms(planned):
    first = {
        dict(order(plan(planned, Wish(), hours=1, seed=seed))[0].levels)["leader"]
        for seed in range(6)
    }
    assert first == {"wire 2 m", "chain only"}


@pytest.mark.parametrize("text", ["{", "[1]", json.dumps({KEY: "x"}), "\x00"])
def test_a_damaged_file_of_seeds_is_made_anew(planned, text):
    (planned.folder / SEEDS_FILE).write_text(text, "utf-8")
    day = plan(planned, Wish(), hours=HOURS)
    assert day.plan.pulls
    assert kept(planned) == {KEY: day.plan.seed}


def test_seeds_of_other_days_stay(planned):
    (planned.folder / SEEDS_FILE).write_text('{"day 1 / leader on S6": 7}', "utf-8")
    plan(planned, Wish(), hours=HOURS, seed=3)
    assert kept(planned) == {"day 1 / leader on S6": 7, KEY: 3}


def test_a_full_disk_leaves_the_seeds_as_they_were(planned, monkeypatch):
    plan(planned, Wish(), hours=HOURS, seed=3)
    before = (planned.folder / SEEDS_FILE).read_bytes()

    def full(path, *_):
        path.write_bytes(b"{")
        raise OSError("No space left on device")

    monkeypatch.setattr("model.store.files.swap_in", full)
    assert plan(planned, Wish(), hours=HOURS, seed=4).plan.seed == 4
    assert (planned.folder / SEEDS_FILE).read_bytes() == before
    assert list(planned.folder.glob("*.part")) == []


def test_without_writing_whole_the_seeds_would_be_lost(planned, monkeypatch):
    from contextlib import contextmanager

    plan(planned, Wish(), hours=HOURS, seed=3)

    @contextmanager
    def in_place(target):
        target.write_bytes(b"{")
        yield target
        raise OSError("No space left on device")

    monkeypatch.setattr(day_plans, "written_whole", in_place)
    plan(planned, Wish(), hours=HOURS, seed=4)
    assert kept(planned) != {KEY: 3}


def test_hours_for_not_one_pair_plan_nothing(planned):
    day = plan(planned, Wish(), hours=0.5)
    assert (day.plan.pulls, day.rehearsed) == ((), None)


@pytest.mark.parametrize("hours", [0, 24.5, float("nan"), float("inf")])
def test_hours_that_no_day_has_are_refused_before_anything_is_kept(planned, hours):
    with pytest.raises(InputError, match="hours to plan"):
        plan(planned, Wish(), hours=hours)
    assert not (planned.folder / SEEDS_FILE).exists()
