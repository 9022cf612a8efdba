import dataclasses
import json

import numpy as np
import pytest

from app.figures.effect import effect_figure_of, not_drawn
from app.figures.looks import looks_figure
from app.figures.next_pull import never_set_words, next_pull_figure, outcome_shares
from app.figures.pulls import pulls_figure, table_of
from app.marks import side_marks
from model.base.constants import LOG_CAP
from model.records.question import Measure

NO_BREAK = "\u00a0"


def spec_of(figure):
    return figure.chart.to_dict()


def titles(spec):
    """Titles of every axis, wherever it stands in the chart."""
    if isinstance(spec, dict):
        axis = spec.get("axis")
        own = [axis["title"]] if isinstance(axis, dict) and "title" in axis else []
        return own + [title for value in spec.values() for title in titles(value)]
    if isinstance(spec, list):
        return [title for value in spec for title in titles(value)]
    return []


@pytest.fixture
def marks(small_campaign, small_pulls):
    return side_marks(small_campaign.questions[0], small_pulls, small_campaign).marks


def test_an_effect_is_a_ratio_on_a_log_axis(made_up_answer, small_campaign):
    figure = effect_figure_of(made_up_answer(small_campaign.questions[0]))
    assert set(titles(spec_of(figure))) == {"ratio, A over B (×)"}
    assert '"type": "log"' in json.dumps(spec_of(figure))


def test_a_difference_is_in_percentage_points(made_up_answer, small_campaign):
    figure = effect_figure_of(made_up_answer(small_campaign.questions[3]))
    assert set(titles(spec_of(figure))) == {"difference, A less B (percentage points)"}


def test_an_effect_is_described_in_words(made_up_answer, small_campaign):
    text = effect_figure_of(made_up_answer(small_campaign.questions[0])).description
    text = text.replace(NO_BREAK, " ")
    assert "Median and interval: 1.1" in text
    assert "90 % equal-tailed interval" in text
    assert "Band of no practical difference: 0.87 × to 1.15 ×" in text


def test_draws_that_are_all_alike_still_make_a_picture(made_up_answer, small_campaign):
    answer = made_up_answer(small_campaign.questions[0], spread=0.0)
    assert np.ptp(answer.effect_draws) == 0
    rows = [len(rows) for rows in spec_of(effect_figure_of(answer))["datasets"].values()]
    assert max(rows) > 100


def test_the_band_is_always_in_sight(made_up_answer, small_campaign):
    answer = made_up_answer(small_campaign.questions[0], middle=1.5, spread=0.02)
    spec = spec_of(effect_figure_of(answer))
    low, high = spec["layer"][0]["encoding"]["x"]["scale"]["domain"]
    assert low < answer.summary.question.band.lower < high


def _with_never_set(answer, n_a, n_b):
    """The answer where so many of its draws have a pull of A, or of B, that never set."""
    draws = answer.effect_draws.copy()
    draws[:n_b], draws[-n_a:] = np.exp(LOG_CAP), np.exp(-LOG_CAP)
    interval = answer.summary.effect.interval.model_copy(
        update={"lower": np.exp(-LOG_CAP), "upper": np.exp(LOG_CAP)}
    )
    effect = answer.summary.effect.model_copy(update={"interval": interval})
    summary = answer.summary.model_copy(update={"effect": effect})
    return dataclasses.replace(answer, effect_draws=draws, summary=summary)


def test_pulls_that_never_set_do_not_stretch_the_axis(made_up_answer, small_campaign):
    plain = made_up_answer(small_campaign.questions[0])
    some = _with_never_set(plain, n_a=80, n_b=160)
    spec = spec_of(effect_figure_of(some))
    low, high = spec["layer"][0]["encoding"]["x"]["scale"]["domain"]
    assert 0.5 < low < high < 2.5
    drawn = [row for rows in spec["datasets"].values() for row in rows]
    assert all(low <= value <= high for row in drawn for name, value in row.items()
               if name in {"effect", "to"})  # fmt: skip
    said = effect_figure_of(some).description.replace(NO_BREAK, " ")
    assert "A never set to B never set" in said
    assert "Not drawn, since it is no ratio: 20 % where B never set and 10 % where A never" in said
    assert not_drawn(plain) == ""


def test_where_no_draw_has_a_ratio_the_band_is_still_drawn(made_up_answer, small_campaign):
    answer = made_up_answer(small_campaign.questions[0])
    none = _with_never_set(answer, n_a=1, n_b=len(answer.effect_draws))
    spec = spec_of(effect_figure_of(none))
    low, high = spec["layer"][0]["encoding"]["x"]["scale"]["domain"]
    assert low < answer.summary.question.band.lower < high < 2


def test_a_small_picture_is_lower(made_up_answer, small_campaign):
    answer = made_up_answer(small_campaign.questions[0])
    small, full = effect_figure_of(answer, is_small=True), effect_figure_of(answer)
    assert spec_of(small)["height"] < spec_of(full)["height"]
    assert small.description == full.description


def _next_pull(made_up_answer, campaign, ratios):
    question = campaign.questions[0].model_copy(update={"measure": Measure.NEXT})
    return dataclasses.replace(made_up_answer(question), effect_draws=np.array(ratios))


def test_one_more_pull_of_each_can_end_in_five_ways(made_up_answer, small_campaign):
    never = np.exp(LOG_CAP)
    ratios = [1.2, 1.3, 1.4, 0.8, 0.7, never, never, 1.0, 1 / never, 0.9]
    answer = _next_pull(made_up_answer, small_campaign, ratios)
    assert outcome_shares(answer) == {
        "A above B": 0.3,
        "only A sets": 0.2,
        "neither sets": 0.1,
        "only B sets": 0.1,
        "B above A": 0.3,
    }
    said = never_set_words(answer).replace(NO_BREAK, " ")
    assert said == "A does not set: 20 %; B does not set: 30 %."
    figure = next_pull_figure(answer)
    assert set(titles(spec_of(figure))) == {"chance (%)", None}
    drawn = next(iter(spec_of(figure)["datasets"].values()))
    assert [round(row["chance"]) for row in drawn] == [30, 20, 10, 10, 30]
    assert said in figure.description.replace(NO_BREAK, " ")


def test_shares_of_one_more_pull_sum_to_one(made_up_answer, small_campaign):
    rng = np.random.default_rng(4)
    ratios = np.exp(np.clip(rng.normal(0, 12, 500), -LOG_CAP, LOG_CAP))
    shares = outcome_shares(_next_pull(made_up_answer, small_campaign, ratios))
    assert sum(shares.values()) == pytest.approx(1)
    assert min(shares["only A sets"], shares["only B sets"]) > 0


@pytest.mark.parametrize(("unit", "symbol"), [("kn", "kN"), ("lbf", "lbf"), ("kg", "kgf")])
def test_loads_are_in_the_campaigns_own_unit(unit, symbol, marks, small_campaign):
    campaign = small_campaign.model_copy(update={"load_unit": unit})
    figure = pulls_figure(marks, campaign)
    assert f"load ({symbol})" in titles(spec_of(figure))
    assert symbol in table_of(marks, campaign)["would let go at"].iloc[0]


def test_every_bite_is_drawn_once_and_stands_in_the_table(marks, small_campaign):
    spec = spec_of(pulls_figure(marks, small_campaign))
    drawn = next(rows for rows in spec["datasets"].values() if "what" in rows[0])
    assert len(drawn) == len(marks) == len(table_of(marks, small_campaign)) == 10
    assert [row["what"] for row in drawn].count("boat's limit or stopped") == 3


def test_an_arrow_points_beyond_the_limit(marks, small_campaign):
    spec = spec_of(pulls_figure(marks, small_campaign))
    drawn = next(rows for rows in spec["datasets"].values() if "what" in rows[0])
    cut_off = [row for row in drawn if row["what"] == "boat's limit or stopped"]
    assert all(row["from"] == 4.6 < row["to"] for row in cut_off)


def test_sides_stand_apart(marks, small_campaign):
    spec = spec_of(pulls_figure(marks, small_campaign))
    drawn = next(rows for rows in spec["datasets"].values() if "what" in rows[0])
    rows = {side: [row["row"] for row in drawn if row["side"] == side] for side in "AB"}
    assert max(rows["A"]) + 1 < min(rows["B"])


def test_pulls_are_described_in_words(marks, small_campaign):
    text = pulls_figure(marks, small_campaign).description
    assert "side A: 4 pulls, 1 cut off" in text
    assert "side B: 5 pulls, 1 cut off" in text


def test_looks_run_over_the_pulls_known(some_looks):
    figure = looks_figure(some_looks)
    assert set(titles(spec_of(figure))) == {"pulls known", "chance that A is higher (%)"}
    assert "55 % at 4 pulls, then 71 % at 8 pulls" in figure.description.replace(NO_BREAK, " ")


def test_two_looks_at_the_same_number_of_pulls_make_a_picture(some_looks):
    spec = spec_of(looks_figure((some_looks[0], some_looks[0])))
    low, high = spec["layer"][1]["encoding"]["x"]["scale"]["domain"]
    assert low < some_looks[0].pulls < high


def test_many_pulls_share_the_height_of_a_phone(marks, small_campaign):
    many = [
        dataclasses.replace(mark, pull=f"{mark.pull} {copy}")
        for copy in range(12)
        for mark in marks
    ]
    few, full = (spec_of(pulls_figure(of, small_campaign))["height"] for of in (marks, many))
    assert few < 300
    assert full < 1000
    assert full / len(many) < few / len(marks)
