"""The table of quick answers, on results whose errors are known, and one campaign for real."""

import numpy as np
import pytest

from model.calibration.fitting import fitting_engine
from model.calibration.quick_judging import judge_quick, quick_campaign
from model.calibration.quick_result import QuickResult, TwoAnswers
from model.calibration.quick_table import quick_row, quick_rows
from model.calibration.scenario import NEW_PULLS, quick_answers_plan

MCSE = 0.012


def results(*, bias=0.0, outlier=0.0):
    """Stand-ins: both chances err as much as they say, quick ones by `bias` more."""
    rng = np.random.default_rng(2)
    made = []
    for scenario in quick_answers_plan(30).scenarios:
        truth = rng.uniform(0.2, 0.8, 12)
        quick, full = (truth + rng.normal(0, MCSE, 12) for _ in range(2))
        quick[0] += outlier if scenario.number == 7 else 0.0
        answers = tuple(
            TwoAnswers(question=str(i), quick=a + bias, full=b, quick_mcse=MCSE, full_mcse=MCSE)
            for i, (a, b) in enumerate(zip(quick, full, strict=True))
        )
        withheld = "too few" if scenario.number % 10 == 9 else ""
        made.append(
            QuickResult(scenario=scenario, fit_seconds=1.0, answers=answers, withheld=withheld)
        )
    return made


def test_errors_that_are_what_they_say_pass():
    row = quick_row("all", results())
    assert row.is_within
    assert row.rms_errors == pytest.approx(1.0, abs=0.1)
    assert (row.campaigns, row.withheld, row.answers) == (30, 3, 27 * 12)


def test_a_bias_is_caught():
    assert not quick_row("all", results(bias=0.03)).is_within


def test_one_answer_far_off_is_caught():
    assert not quick_row("all", results(outlier=0.1)).is_within


def test_rows_part_the_campaigns_by_new_pulls_and_day():
    rows = quick_rows(results())
    assert sum(row.campaigns for row in rows[1:-1]) == rows[0].campaigns == 30
    assert rows[-1].answers == 3 * 12


def test_a_new_day_holds_nothing_but_the_new_pulls():
    for scenario in quick_answers_plan().scenarios[:6]:
        campaign, pulls = quick_campaign(scenario)
        new = pulls[-scenario.new_pulls :]
        known_days = {pull.outing for pull in pulls[: -scenario.new_pulls]}
        assert scenario.new_pulls in NEW_PULLS
        assert (new[0].outing not in known_days) == scenario.is_new_day
        assert {pull.outing for pull in new} == {campaign.outings[-1].name}


@pytest.mark.calibration
@pytest.mark.timeout(1800)
def test_a_planned_campaign_comes_near_to_its_full_fit():
    found = [judge_quick(quick_answers_plan().scenarios[k], fitting_engine()) for k in (0, 3)]
    assert not any(one.refusal or one.withheld for one in found)
    assert quick_row("two", found).is_within
