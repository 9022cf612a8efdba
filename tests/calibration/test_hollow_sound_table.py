"""The demo's table over seeds, on stand-ins whose coverage is known."""

from pathlib import Path

import pytest

from model.calibration import run
from model.calibration.hollow_sound_table import ALL, coverage_rows
from model.calibration.judging import judge_campaign
from model.calibration.run import run_campaigns
from model.calibration.scenario import (
    HOLLOW_SOUND,
    comparisons_plan,
    hollow_sound_plan,
    read_plan,
    write_plan,
)
from model.calibration.simulated import demo_campaign, simulate
from model.calibration.tables import write_table
from model.simulate.hollow_sound import simulate_hollow_sound

PUBLISHED = Path(__file__).parent / "results" / HOLLOW_SOUND


@pytest.fixture(scope="module")
def few():
    return hollow_sound_plan(12).scenarios


@pytest.fixture
def judged(few, make_knowing_engine):
    """Results of the stand-in over the first seeds."""

    def judge(**engine):
        made = make_knowing_engine(scenarios=few, **engine)
        return tuple(judge_campaign(scenario, made) for scenario in few)

    return judge


def test_the_committed_plan_is_seeds_one_to_forty():
    plan = read_plan(PUBLISHED)
    assert plan == hollow_sound_plan()
    assert [scenario.seed for scenario in plan.scenarios] == list(range(1, 41))
    assert {scenario.truth for scenario in plan.scenarios} == {"demo"}


def test_a_scenario_is_the_demo_with_its_own_pulls(few):
    campaign, world, pulls = simulate(few[2])
    assert campaign == demo_campaign()
    assert pulls == simulate_hollow_sound(campaign, 3)
    assert pulls != simulate(few[3])[2]
    other = simulate(few[3])[1].values
    assert all((values == other[name]).all() for name, values in world.values.items())


def test_honest_intervals_are_within_the_limits_and_biased_ones_outside(judged):
    honest, biased = coverage_rows(judged()), coverage_rows(judged(bias=0.25))
    assert len(honest) == len(demo_campaign().questions) + 1
    assert all(row.is_within for row in honest)
    everything = honest[-1]
    assert (everything.question, everything.answered) == (ALL, 12 * 7)
    assert everything.mean_width is None
    assert not biased[-1].is_within
    assert biased[-1].share.upper < 0.9


def test_limits_are_split_over_the_rows(judged, monkeypatch):
    wide = coverage_rows(judged())
    monkeypatch.setattr("model.calibration.hollow_sound_table.OVERALL_ERROR", 0.4)
    narrow = coverage_rows(judged())
    assert all(w.share.lower < n.share.lower for w, n in zip(wide, narrow, strict=True))


def test_intervals_that_never_miss_in_all_forty_seeds_are_told_apart(judged):
    (one, *_) = judged()
    every = [
        one.model_copy(update={"scenario": scenario}) for scenario in hollow_sound_plan().scenarios
    ]
    rows = coverage_rows(every)
    assert {row.covered for row in rows[:-1]} <= {0, 40}
    assert all(row.share.upper < 0.9 for row in rows[:-1] if row.covered == 0)


def test_a_refused_fit_is_a_miss_and_its_divergences_are_counted(tmp_path, few, judged):
    kept, refused = judged()[:6], judged(status="failed", divergences=3)[6:]
    rows = coverage_rows([*kept, *refused])
    assert all(row.covered <= row.answered == 6 for row in rows[:-1])
    assert all(row.share.count == 12 for row in rows[:-1])
    write_plan(hollow_sound_plan(12), tmp_path)
    for result in (*kept, *refused):
        run.write_result(tmp_path, result)
    text = write_table(tmp_path).read_text(encoding="utf-8")
    assert "6 fits refused" in text
    assert "18 divergences, in 6 fits" in text
    assert "OUTSIDE" in text


@pytest.mark.parametrize(
    ("bias", "verdict"), [(0.0, "within the limits in all 8 rows"), (0.5, "OUTSIDE")]
)
def test_the_same_commands_run_and_write_the_table(
    tmp_path, few, make_knowing_engine, bias, verdict
):
    write_plan(hollow_sound_plan(12), tmp_path)

    def make_engine():
        return make_knowing_engine(scenarios=few, bias=bias)

    assert run_campaigns(few, tmp_path, make_engine) == 12
    assert run_campaigns(few, tmp_path, make_engine) == 0
    run.main(["--table", HOLLOW_SOUND, "--results", str(tmp_path), "--only-table"])
    text = (tmp_path / "table.md").read_text(encoding="utf-8")
    assert verdict in text
    assert "| leader in general | × 1.000 |" in text
    assert "| all questions | – |" in text


def test_a_table_without_results_gives_no_verdict(tmp_path):
    write_plan(hollow_sound_plan(12), tmp_path)
    assert "no verdict" in write_table(tmp_path).read_text(encoding="utf-8")


def test_the_demo_is_not_put_before_estimators_of_one_anchor(few, make_knowing_engine):
    demo = judge_campaign(few[0], make_knowing_engine(scenarios=few))
    assert all(len(q.estimates) == 1 for q in (*demo.comparisons, *demo.general))
    scenario = comparisons_plan().scenarios[0]
    table = judge_campaign(scenario, make_knowing_engine())
    assert all(len(q.estimates) == 3 for q in table.comparisons)
