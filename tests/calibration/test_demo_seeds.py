"""The table over seeds of the demo, and a run that goes on where it stopped."""

import pytest

from model.calibration import demo_seeds
from model.calibration.demo_seeds import QuestionCoverage, SeedResult, run_seeds, table_text


def seed_result(seed, *, covers, refusal=""):
    lower = 0.9 if covers else 1.01
    one = QuestionCoverage(question="leader", truth=1.0, lower=lower, upper=1.1)
    questions = () if refusal else (one,)
    return SeedResult(seed=seed, pulls=90, divergences=0, refusal=refusal, questions=questions)


def test_an_interval_covers_its_ends_and_nothing_beyond():
    one = QuestionCoverage(question="leader", truth=1.0, lower=1.0, upper=1.1)
    assert one.is_covered
    assert not one.model_copy(update={"lower": 1.0001}).is_covered


def test_intervals_that_are_right_nine_times_in_ten_pass():
    text = table_text([seed_result(seed, covers=seed % 10 != 0) for seed in range(1, 41)])
    assert "| leader | 1 | 36 of 40 | 90.0%" in text
    assert "NO" not in text


def test_intervals_that_are_too_narrow_fail():
    text = table_text([seed_result(seed, covers=seed % 2 == 0) for seed in range(1, 41)])
    assert "| NO |" in text


def test_refused_fits_are_misses():
    kept = [seed_result(seed, covers=True) for seed in range(1, 21)]
    refused = [seed_result(seed, covers=True, refusal="diverged") for seed in range(21, 41)]
    text = table_text([*kept, *refused])
    assert "20 fits refused" in text
    assert "20 of 40" in text


@pytest.mark.parametrize("jobs", [1])
def test_a_run_goes_on_where_it_stopped(tmp_path, monkeypatch, jobs):
    done = []

    def run_seed(campaign_file, folder, seed, make_engine):
        done.append(seed)
        (folder / f"seed_{seed:03d}.json").write_text(
            seed_result(seed, covers=True).model_dump_json()
        )

    monkeypatch.setattr(demo_seeds, "run_seed", run_seed)
    assert run_seeds(tmp_path / "none", tmp_path, dict, seeds=[1, 2], jobs=jobs) == 2
    assert run_seeds(tmp_path / "none", tmp_path, dict, seeds=[1, 2, 3], jobs=jobs) == 1
    assert done == [1, 2, 3]
