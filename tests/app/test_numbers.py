import pytest

from app.style.numbers import (
    MINUS,
    SPACE,
    counted,
    effect,
    effect_figure,
    effect_range,
    estimate,
    interval_name,
    load,
    load_symbol,
    padded,
    percent,
    significant,
)
from model.questions.answer import Estimate
from model.records.answer import Effect, Interval


def plain(text):
    return text.replace(SPACE, " ").replace(MINUS, "-")


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (0.0, "under 1 %"),
        (0.0099, "under 1 %"),
        (0.01, "1 %"),
        (0.5, "50 %"),
        (0.99, "99 %"),
        (0.9901, "over 99 %"),
        (1.0, "over 99 %"),
    ],
)
def test_per_cent_is_never_0_or_100(probability, words):
    assert plain(percent(probability)) == words


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
        ("×", "0.40 × (0.30 to 0.50)"),
    ],
)
def test_an_estimate_prints_its_unit_and_interval(unit, text, small_campaign):
    value = Estimate(median=0.4, interval=Interval(prob=0.9, lower=0.3, upper=0.5), unit=unit)
    assert plain(estimate(value, small_campaign)) == text


def test_an_effect_prints_kind_and_mass_of_its_interval():
    interval = Interval(prob=0.9, lower=0.94, upper=1.352)
    found = Effect(kind="ratio", unit="×", median=1.131, interval=interval)
    assert plain(effect(found)) == "1.13 × (90 % equal-tailed interval 0.94 to 1.35 ×)"


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
