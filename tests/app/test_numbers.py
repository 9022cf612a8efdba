from math import exp

import pytest

from app.style.numbers import (
    MINUS,
    NOT_IN_MODEL,
    SPACE,
    counted,
    effect,
    effect_chance,
    effect_figure,
    effect_range,
    effect_size,
    estimate,
    interval_name,
    load,
    load_symbol,
    padded,
    percent,
    significant,
)
from model.base.constants import LOG_CAP
from model.base.percents import percent_words
from model.questions.answer import Estimate
from model.records.answer import Effect, Interval


def plain(text):
    return text.replace(SPACE, " ").replace(MINUS, "-")


@pytest.mark.parametrize("probability", [0.0, 0.005, 0.517, 0.946, 0.95, 0.995, 1.0])
def test_a_page_says_a_probability_as_the_sentence_does(probability):
    assert plain(percent(probability)) == percent_words(probability)


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0"), (3.456, "3.46"), (12345.0, "12,300"), (0.0123, "0.0123"), (350, "350")],
)
def test_three_figures_and_no_exponent(value, text):
    assert significant(value) == text


@pytest.mark.parametrize(
    ("value", "text"), [(4.0, "4.0"), (0.0, "0.0"), (0.897, "0.90"), (350.0, "350"), (47.0, "47")]
)
def test_zeros_that_belong_to_the_digits_stay(value, text):
    assert padded(value, 2) == text


def test_own_unit_first_and_kilonewtons_behind(small_campaign):
    campaign = small_campaign.model_copy(update={"load_unit": "lbf"})
    assert plain(load(4.448, campaign)) == "1,000 lbf"
    assert plain(load(4.448, campaign, with_kn=True)) == "1,000 lbf (4.45 kN)"
    assert plain(load(4.448, small_campaign, with_kn=True)) == "4.45 kN"


def test_a_scale_that_reads_kilograms_means_force(small_campaign):
    campaign = small_campaign.model_copy(update={"load_unit": "kg"})
    assert load_symbol(campaign) == "kgf"


@pytest.mark.parametrize(
    ("unit", "text"),
    [
        ("kN", "0.400 kN (0.300 to 0.500)"),
        ("m", "0.400 m (0.300 to 0.500)"),
        ("chance", "40 % (30 to 50)"),
        ("×", "0.40 × (0.30 to 0.50 ×)"),
    ],
)
def test_an_estimate_prints_its_unit_and_interval(unit, text, small_campaign):
    value = Estimate(median=0.4, interval=Interval(prob=0.9, lower=0.3, upper=0.5), unit=unit)
    assert plain(estimate(value, small_campaign)) == text


def test_an_effect_prints_kind_and_mass_of_its_interval():
    interval = Interval(prob=0.9, lower=0.94, upper=1.352)
    found = Effect(kind="ratio", unit="×", median=1.131, interval=interval)
    assert plain(effect(found)) == "1.13 × (90 % equal-tailed interval 0.94 to 1.35 ×)"


def _ratio(median, lower, upper):
    interval = Interval(prob=0.9, lower=lower, upper=upper)
    return Effect(kind="ratio", unit="×", median=median, interval=interval)


def _chance(median, lower, upper):
    interval = Interval(prob=0.9, lower=lower, upper=upper)
    return Estimate(unit="chance", median=median, interval=interval)


NEVER_SET = exp(LOG_CAP)


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (_ratio(1.13, 0.94, NEVER_SET), "1.13 × (0.94 × to B never set)"),
        (_ratio(1.13, 1 / NEVER_SET, 3.2), "1.13 × (A never set to 3.20 ×)"),
        (_ratio(NEVER_SET, 1 / NEVER_SET, NEVER_SET), "B never set (A never set to B never set)"),
        # Between a ratio and a pull that never set: what an interpolated quantile may be.
        (_ratio(1.13, 0.94, 0.05 * NEVER_SET), "1.13 × (0.94 × to B never set)"),
        (_ratio(1.13, 0.94, 50.0), "1.13 × (0.94 to 50.00 ×)"),
    ],
)
def test_against_a_pull_that_never_set_there_is_no_figure(found, text):
    assert plain(effect_size(found)) == text
    assert text.split(" (")[1].rstrip(")") in plain(effect(found))
    assert "000" not in effect_size(found)


def test_short_sizes_give_the_unit_once():
    assert plain(effect_size(_ratio(1.1, 0.9, 1.3), is_short=True)) == "1.10 (0.90 to 1.30 ×)"
    assert plain(effect_size(_chance(-0.05, -0.08, 0.01))) == "-5 points (-8 to +1 points)"


@pytest.mark.parametrize("found", [_chance(0.0, 0.0, 0.0), _ratio(1.0, 1.0, 1.0 + 1e-15)])
def test_what_no_draw_can_change_is_not_in_the_model(found):
    assert effect_size(found) == effect_size(found, is_short=True) == NOT_IN_MODEL
    assert effect_chance(0.5, found.interval) == "–"


def test_an_effect_that_is_small_is_in_the_model():
    found = _chance(0.0, -0.001, 0.001)
    assert plain(effect_size(found)) == "0 points (0 to 0 points)"
    assert plain(effect_chance(0.5, found.interval)) == "50 %"


def test_a_difference_carries_its_sign():
    assert plain(effect_figure(0.084, "difference")) == "+8 points"
    assert plain(effect_figure(-0.084, "difference")) == "-8 points"
    assert plain(effect_figure(-0.001, "difference")) == "0 points"
    assert plain(effect_range(-0.1, 0.1, "difference")) == "-10 to +10 points"


def test_the_interval_names_its_own_mass():
    assert (
        plain(interval_name(Interval(prob=0.5, lower=0, upper=1))) == "50 % equal-tailed interval"
    )


def test_numbers_are_not_parted_from_their_units():
    assert " " not in percent(0.5) + effect_figure(1.2, "ratio")


def test_counts_take_their_plural():
    assert (counted(1, "pull"), counted(0, "pull")) == ("1 pull", "0 pulls")
