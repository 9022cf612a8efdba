"""The table of answers, on results whose calibration is known."""

from pathlib import Path

import numpy as np
import pytest
from scipy.special import ndtr

from model.calibration.answers_result import AnswersResult, JudgedAnswer, Said
from model.calibration.answers_rows import (
    campaign_of,
    claimed,
    finding_rows,
    rank_rows,
    region_of,
    rival_rows,
    share_rows,
)
from model.calibration.answers_table import faults_of, table_of, table_text
from model.calibration.parameter_draws import parameter_labels
from model.calibration.result import write_result
from model.calibration.scenario import (
    ANSWERS,
    ANSWERS_AGAIN,
    ANSWERS_RETRIED,
    PLANS,
    answers_again_plan,
    answers_plan,
    read_plan,
    write_plan,
)
from model.calibration.tables import write_table
from model.calibration.thinned_rank import DRAWS
from model.calibration.uniform_ranks import detectable, not_uniform
from model.questions.effect import band_ends
from model.records.question import Measure
from model.simulate.world import dim_names

RESULTS = Path(__file__).parent / "results"
COUNT = 600
CAMPAIGN = campaign_of(ANSWERS)
LABELS = parameter_labels(dim_names(CAMPAIGN))
SD = 0.3


def judged_answer(question, rng, *, shift=0.0, narrowing=1.0):
    """An answer as normal as its truth, which is off its middle by `shift`."""
    known = rng.normal()
    truth = known + shift + rng.normal()
    lower, upper = (end / SD for end in band_ends(question.band))

    def stated(effect):
        return float(ndtr((effect - known) / narrowing))

    below = stated(truth)
    said = Said(
        rank=int((DRAWS + 1) * below),
        p_below=stated(lower),
        p_above=1 - stated(upper),
        in_50=abs(below - 0.5) <= 0.25,
        in_90=abs(below - 0.5) <= 0.45,
    )
    return JudgedAnswer(
        **said.model_dump(), truth=SD * truth, p_higher=1 - stated(0.0), settled=claimed(said)
    )


def parameter_ranks(rng, faults):
    """Of all parameters at once; faults as in answers."""
    shifts, widths = (
        np.array([faults.get(label, {}).get(kind, plain) for label in LABELS])
        for kind, plain in (("shift", 0.0), ("narrowing", 1.0))
    )
    truths = shifts + rng.normal(size=len(LABELS))
    draws = widths[:, None] * rng.normal(size=(len(LABELS), DRAWS))
    return tuple(int(rank) for rank in np.sum(draws < truths[:, None], axis=1))


def results(*, faults=None, refused=0, count=COUNT, seed=12):
    """Stand-ins; `faults` by the name of a question or of a parameter."""
    faults, rng, made = faults or {}, np.random.default_rng(seed), []
    for scenario in answers_plan(count).scenarios:
        is_refused = scenario.number < refused
        answers = {
            question.name: judged_answer(question, rng, **faults.get(question.name, {}))
            for question in CAMPAIGN.questions
        }
        typical, number = answers["typical of one anchor"], scenario.number
        sheet = Said(rank=typical.rank, p_below=0.02, p_above=0.96, in_90=number % 2 == 0)
        made.append(
            AnswersResult(
                scenario=scenario,
                model_version="none",
                fit_seconds=1.0,
                refusal="gave up" if is_refused else "",
                answers={} if is_refused else answers,
                parameters=() if is_refused else parameter_ranks(rng, faults),
                rivals={"spreadsheet": None if number % 3 == 0 else sheet},
                rivals_truth=typical.truth,
                least_ess_answers=900,
                least_ess_parameters=500,
            )
        )
    return made


@pytest.fixture(scope="module")
def right():
    return results()


def text_of(found, planned=COUNT):
    return table_text(table_of(found, planned, ANSWERS))


@pytest.mark.parametrize("table", [ANSWERS, ANSWERS_AGAIN, ANSWERS_RETRIED])
def test_the_committed_plan_is_the_one_the_code_makes(table):
    assert read_plan(RESULTS / table) == PLANS[table]()


def test_no_seed_is_used_twice_but_where_campaigns_are_to_be_the_same():
    plans = {table: make().scenarios for table, make in PLANS.items()}
    first = {one.seed for one in plans.pop(ANSWERS_RETRIED)}
    assert first < {one.seed for one in plans[ANSWERS]}
    for scenarios in plans.values():
        assert len({(one.seed, one.world) for one in scenarios}) == len(scenarios)
    seeds = [seed for scenarios in plans.values() for seed in {one.seed for one in scenarios}]
    assert len(set(seeds)) == len(seeds)
    assert len(answers_plan().scenarios) >= 1000
    again = [one.seed for one in PLANS[ANSWERS_RETRIED]().scenarios]
    assert again == [one.seed for one in answers_plan().scenarios][: len(again)]
    assert {one.truth for one in answers_again_plan().scenarios} == {"demo's fit"}


def test_right_results_are_within_all_limits(right):
    table = table_of(right, COUNT, ANSWERS)
    assert len(table.ranks) == len(CAMPAIGN.questions) + len(LABELS)
    assert faults_of(table) == []
    assert "Verdict: within the limits" in table_text(table)


@pytest.mark.parametrize("name", ["hold in general", "mode_gap[K2]", "pull_load_scale"])
@pytest.mark.parametrize("fault", [{"shift": 0.35}, {"narrowing": 0.7}])
def test_one_number_that_is_off_is_named(name, fault):
    table = table_of(results(faults={name: fault}), COUNT, ANSWERS)
    found = faults_of(table)
    off = [one for one in found if one.startswith("ranks of")]
    answer = name in {question.name for question in CAMPAIGN.questions}
    assert off == [f"ranks of {'answer, ' if answer else ''}{name}"]
    assert f"OUTSIDE the limits: {off[0]}" in table_text(table)


def test_the_shift_that_is_said_to_be_found_is_found():
    """Of twenty tables with one such number, sixteen on average name it."""
    count = 150
    said = detectable(count, 0.01 / 111).shift
    assert f"if truths are {said:.2f} standard deviations" in text_of(results(count=count))
    named = [
        "ranks of load_base"
        in faults_of(
            table_of(
                results(faults={"load_base": {"shift": said}}, count=count, seed=seed),
                count,
                ANSWERS,
            )
        )
        for seed in range(50, 70)
    ]
    assert 10 <= sum(named) <= 20  # fewer than ten has a chance under 0.003


def test_narrow_answers_are_outside_in_their_cover_too(right):
    wrong = results(faults={"sets of one anchor": {"narrowing": 0.6}})
    rows = {row.name: row for row in share_rows(wrong, CAMPAIGN)}
    assert not rows["90 % interval, sets"].is_within
    assert rows["90 % interval, typical"].is_within
    assert rows["90 % interval, typical"].share.count == 2 * COUNT
    assert not any("interval, next" in name for name in rows)


def test_a_refused_fit_is_a_miss_of_every_interval(right):
    refused = results(refused=60)
    rows = {row.name: row for row in share_rows(refused, CAMPAIGN)}
    assert rows["90 % interval, best"].share.value < 0.84
    assert not rows["90 % interval, best"].is_within
    faults = faults_of(table_of(refused, COUNT, ANSWERS))
    assert "10.0 % of fits refused" in faults
    assert "60 fits refused" in text_of(refused)
    assert [row.campaigns for row in rank_rows(refused, CAMPAIGN)] == [540] * 111


def test_draws_that_count_though_they_did_not_pass_are_told(right):
    assert "did not pass" not in text_of(right)
    some = [one.model_copy(update={"not_passed": "few draws"}) for one in right[:7]]
    assert "; 7 fits whose draws count though they did not pass" in text_of([*some, *right[7:]])


def test_few_refused_fits_are_let_pass():
    assert faults_of(table_of(results(refused=6), COUNT, ANSWERS)) == []


def test_nothing_but_refused_fits_is_no_pass():
    assert "every fit was refused" in text_of(results(refused=4, count=4))


def test_no_results_give_no_verdict():
    assert "no verdict" in text_of([])


def test_stated_chances_are_held_against_what_is_so(right):
    """The chances of another campaign: they say little of what is so in this one."""
    rows = {row.name: row for row in share_rows(right, CAMPAIGN)}
    sure = rows["region, stated 0.95 to 1.00"]
    assert sure.share.count > 100
    assert sure.is_within
    moved = [
        one.model_copy(update={"answers": _with_truths(other, one)})
        for one, other in zip(right, [*right[1:], right[0]], strict=True)
    ]
    rows = {row.name: row for row in share_rows(moved, CAMPAIGN)}
    assert not rows["region, stated 0.95 to 1.00"].is_within
    assert not rows["next pull, stated 0.95 to 1.00"].is_within


def _with_truths(said, true):
    return {
        name: answer.model_copy(update={"truth": true.answers[name].truth})
        for name, answer in said.answers.items()
    }


def test_wrong_findings_and_wrong_signs_are_counted(right):
    question = next(one for one in CAMPAIGN.questions if one.name == "upright in general")
    scenario = right[0].scenario

    def one_answer(truth, settled, p_above=0.97):
        answer = JudgedAnswer(
            rank=50, p_below=0.0, p_above=p_above, p_higher=1.0, truth=truth, settled=settled
        )
        return AnswersResult(
            scenario=scenario, fit_seconds=1.0, answers={question.name: answer}, parameters=()
        )

    cases = [
        one_answer(0.3, 1),
        one_answer(0.05, 1),  # wrong: inside the band; the sign is right
        one_answer(-0.05, 1),  # wrong, and of the other sign
        one_answer(-0.3, None),  # not settled by the rule, but 0.97 at one look
        one_answer(0.3, None, p_above=0.5),
    ]
    rule, look = finding_rows(cases, CAMPAIGN)
    assert rule.wrong is not None
    assert (rule.answers, rule.wrong.count, rule.wrong.value) == (5, 3, pytest.approx(2 / 3))
    assert rule.other_sign is not None
    assert (rule.other_sign.count, rule.other_sign.value) == (3, pytest.approx(1 / 3))
    assert look.wrong is not None
    assert (look.wrong.count, look.wrong.value) == (4, pytest.approx(3 / 4))


def test_wrong_findings_make_the_verdict(right):
    swapped = [
        one.model_copy(
            update={
                "answers": {
                    name: answer.model_copy(
                        update={"settled": 1 if answer.truth < 0 else answer.settled}
                    )
                    for name, answer in one.answers.items()
                }
            }
        )
        for one in right
    ]
    faults = faults_of(table_of(swapped, COUNT, ANSWERS))
    assert any("settled findings wrong" in fault for fault in faults)
    assert any("of the other sign" in fault for fault in faults)


def test_other_estimators_stand_beside_this_model(right):
    spreadsheet, ours = rival_rows(right, CAMPAIGN)
    assert spreadsheet.answered == COUNT * 2 // 3
    assert spreadsheet.covers_90.value == pytest.approx(1 / 3)  # a third gives no answer at all
    assert spreadsheet.claims == COUNT * 2 // 3
    assert ours.covers_90.value == pytest.approx(0.9, abs=0.05)
    assert "| this model | 600 | 600 |" in text_of(right)


def test_regions_are_those_of_the_band():
    by_name = {question.name: question for question in CAMPAIGN.questions}
    load, chance = by_name["typical in general"], by_name["upright in general"]
    assert [region_of(load, effect) for effect in (-0.15, -0.13, 0.13, 0.15)] == [-1, 0, 0, 1]
    assert [region_of(chance, effect) for effect in (-0.11, 0.0, 0.11)] == [-1, 0, 1]


def test_a_pull_that_neither_wins_counts_half(right):
    neither = [
        one.model_copy(
            update={
                "answers": {
                    "next of one anchor": one.answers["next of one anchor"].model_copy(
                        update={"truth": 0.0, "p_higher": 0.5}
                    )
                }
            }
        )
        for one in right
    ]
    rows = {row.name: row for row in share_rows(neither, CAMPAIGN)}
    assert rows["next pull, stated 0.40 to 0.60"].share.value == 0.5


def test_parameters_of_another_model_are_refused(right):
    short = right[0].model_copy(update={"parameters": (1, 2, 3)})
    with pytest.raises(LookupError, match="other parameters"):
        rank_rows([short], CAMPAIGN)


def test_every_measure_has_a_row_of_its_cover(right):
    names = [row.name for row in share_rows(right, CAMPAIGN)]
    for measure in set(Measure) - {Measure.NEXT}:
        assert f"50 % interval, {measure}" in names
        assert f"90 % interval, {measure}" in names


def test_the_table_is_written_from_what_was_kept(right, tmp_path):
    write_plan(answers_plan(COUNT), tmp_path)
    for one in right[:40]:
        write_result(tmp_path, one)
    text = write_table(tmp_path).read_text(encoding="utf-8")
    assert text.startswith("40 of 600 planned campaigns; 0 fits refused")
    assert (tmp_path / "table.json").stat().st_size > 1000


def test_a_right_table_raises_an_alarm_no_oftener_than_was_said():
    """Thirty tables of right results; three with an alarm in the ranks has a chance of 0.003."""
    alarms = sum(
        bool(not_uniform(rank_rows(results(count=100, seed=seed), CAMPAIGN), 0.01))
        for seed in range(100, 130)
    )
    assert alarms < 3
