"""The demo's truth, plans and files: invented, whole, and what they claim to be."""

import importlib.util
import json
from collections import Counter, defaultdict
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from model.base.errors import InputError
from model.ingest.campaign_file import read_campaign
from model.ingest.log_file import read_log
from model.records.campaign import Campaign
from model.records.pull import Ending, Pull
from model.records.question import Measure, Question, SetUp
from model.simulate.hollow_sound import (
    SEED,
    hollow_sound_plans,
    hollow_sound_world,
    simulate_hollow_sound,
)
from model.simulate.nature import chance_upright, mean_log_capacity, scatter
from model.simulate.plan import Plan
from model.simulate.true_answer import true_effect

FOLDER = Path(__file__).parents[2] / "data" / "hollow_sound"
ANCHORS = ("S6", "W8", "P9", "F5", "C7")


@pytest.fixture(scope="module")
def campaign() -> Campaign:
    return read_campaign(FOLDER / "campaign.toml")


@pytest.fixture(scope="module")
def pulls(campaign: Campaign) -> tuple[Pull, ...]:
    return simulate_hollow_sound(campaign)


@pytest.fixture(scope="module")
def make() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_hollow_sound", FOLDER / "make.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_shipped_files_are_what_seed_one_makes(tmp_path: Path, make: ModuleType) -> None:
    assert SEED == 1
    make.make(SEED, tmp_path)
    for name in ("pulls.csv", "truth.json"):
        assert (tmp_path / name).read_bytes() == (FOLDER / name).read_bytes()
    make.make(SEED + 1, tmp_path)
    assert (tmp_path / "pulls.csv").read_bytes() != (FOLDER / "pulls.csv").read_bytes()


def test_the_log_reads_back_as_the_pulls(campaign: Campaign, pulls: tuple[Pull, ...]) -> None:
    assert read_log(FOLDER / "pulls.csv", campaign).pulls == pulls


def test_it_says_that_it_is_invented(campaign: Campaign, pulls: tuple[Pull, ...]) -> None:
    assert campaign.is_invented
    assert "No value was measured" in campaign.about
    assert {pull.notes for pull in pulls} == {"invented"}
    assert "Invented" in json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))["note"]
    assert "invented" in (FOLDER.parent / "LICENSE.md").read_text(encoding="utf-8")


def test_it_holds_what_a_campaign_meets(campaign: Campaign, pulls: tuple[Pull, ...]) -> None:
    endings = Counter(pull.ending for pull in pulls)
    assert len(pulls) == 95
    assert len(campaign.outings) == 6
    assert endings[Ending.VOID] == 2
    assert endings[Ending.NEVER_SET] >= 3
    assert endings[Ending.HELD] >= 5
    bites = [bite for pull in pulls for bite in pull.bites]
    assert sum(len(pull.bites) > 1 for pull in pulls) >= 8
    assert {bite.buried.kind for bite in bites if bite.buried} == {
        "reading", "at_least", "less_than"
    }  # fmt: skip
    missing = [bite for bite in bites if bite.ending.is_release and bite.has_camera is None]
    assert 0 < len(missing) < len(bites) / 3
    assert any(bite.signs for bite in bites)


def test_arms_stand_side_by_side() -> None:
    days = defaultdict(lambda: defaultdict(set))
    for plan in hollow_sound_plans():
        for treatment in ("leader", "chain", "tip ballast"):
            days[treatment, plan.anchor][plan.levels[treatment]].add(plan.outing)
    changed = {"leader": "wire 2 m", "chain": "6 mm", "tip ballast": "0.4 kg"}
    for (treatment, _), outings in days.items():
        if changed[treatment] in outings:
            (base,) = set(outings) - {changed[treatment]}
            assert outings[changed[treatment]] <= outings[base]
    anchors = {anchor for (treatment, anchor), on in days.items() if "wire 2 m" in on}
    assert anchors == set(ANCHORS)


def test_the_truth_is_as_hard_as_it_says(campaign: Campaign) -> None:
    world = hollow_sound_world(campaign)
    top_kn = campaign.ladders[0].top_kn

    def plan(anchor: str) -> Plan:
        return Plan(outing="day 1", anchor=anchor, seabed="firm sand", code="1")

    p_upright = {anchor: chance_upright(world, plan(anchor)) for anchor in ANCHORS}
    loads = {
        anchor: np.exp(mean_log_capacity(world, plan(anchor), is_upright=True))
        for anchor in ANCHORS
    }
    assert p_upright["S6"] == pytest.approx(0.5, abs=0.02)
    assert world.value("mode_gap", anchor="S6") == max(world.values["mode_gap"])
    assert p_upright["P9"] > 0.97
    assert scatter(world, "P9", is_upright=True) < 0.04
    assert loads["W8"] > 1.4 * top_kn
    assert p_upright["W8"] > 0.96


def test_one_treatment_helps_and_two_do_nothing(campaign: Campaign) -> None:
    world = hollow_sound_world(campaign)
    effects = {q.name: q for q in campaign.questions}
    assert true_effect(world, effects["leader in general"]) == pytest.approx(1.0, abs=1e-12)
    assert true_effect(world, effects["leader and upright"]) == pytest.approx(0.0, abs=1e-12)
    assert true_effect(world, effects["6 mm chain in general"]) == pytest.approx(1.0, abs=1e-12)
    # By hand: P(upright) of S6 goes from 1/2 to 1/(1 + e^-2) = 0.8808 on a gap of 0.75, on top
    # of 0.04 in both modes and 0.05 once upright.
    by_hand = (0.880797 - 0.5) * 0.75 + 0.04 + 0.880797 * 0.05
    assert np.log(true_effect(world, effects["tip ballast on S6"])) == pytest.approx(
        by_hand, abs=1e-4
    )


def test_the_leader_goes_deeper(campaign: Campaign) -> None:
    lengths = defaultdict(list)
    for seed in range(1, 9):
        for pull in simulate_hollow_sound(campaign, seed):
            buried = pull.bites[-1].buried
            if buried is not None and buried.kind == "reading":
                lengths[pull.levels["leader"]].append(np.log(buried.length_m))
    assert np.mean(lengths["wire 2 m"]) - np.mean(lengths["chain only"]) > 0.15


def test_other_seeds_change_the_pulls_and_not_the_plan(campaign: Campaign) -> None:
    for seed in range(2, 42):
        other = simulate_hollow_sound(campaign, seed)
        assert [(p.outing, p.code, p.anchor, p.levels) for p in other] == [
            (p.outing, p.code, p.anchor, dict(p.levels)) for p in hollow_sound_plans()
        ]
        assert sum(pull.is_void for pull in other) == 2


def test_measures_without_a_truth_are_refused(campaign: Campaign) -> None:
    world = hollow_sound_world(campaign)
    question = Question(
        name="low", a=SetUp(anchor="S6"), b=SetUp(anchor="P9"), measure=Measure.NEXT
    )
    with pytest.raises(InputError, match="no truth is worked out"):
        true_effect(world, question)


def test_the_best_load_of_an_anchor_that_never_resets_is_its_typical_one(
    campaign: Campaign,
) -> None:
    world = hollow_sound_world(campaign)
    never = type(world)(
        campaign=campaign,
        values={**world.values, "resets_base": np.array(-50.0), "sets_base": np.array(50.0)},
    )
    setups = {"a": SetUp(anchor="S6"), "b": SetUp(anchor="C7")}
    typical, best = (
        true_effect(never, Question(name="q", measure=measure, **setups))
        for measure in (Measure.TYPICAL, Measure.BEST)
    )
    assert best == pytest.approx(typical, rel=0.005)
    assert true_effect(world, Question(name="q", measure=Measure.BEST, **setups)) > typical
