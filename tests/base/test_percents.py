import pytest

from model.base.percents import percent_words, whole_percent


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (0.0, "under 1 %"),
        (0.0099, "under 1 %"),
        (0.01, "1 %"),
        (0.5, "50 %"),
        (0.517, "52 %"),
        (0.943, "94 %"),
        (0.946, "94 %"),
        (0.9499, "94 %"),
        (0.95, "95 %"),
        (0.956, "96 %"),
        (0.99, "99 %"),
        (0.9901, "over 99 %"),
        (1.0, "over 99 %"),
    ],
)
def test_per_cent_is_never_rounded_up_to_a_finding_nor_to_certainty(probability, words):
    assert percent_words(probability) == words


@pytest.mark.parametrize("thousandths", range(0, 1001, 7))
def test_a_probability_and_its_opposite_make_100(thousandths):
    share = thousandths / 1000
    assert whole_percent(share) + whole_percent(1 - share) == 100


def test_what_falls_short_of_a_finding_reads_so_from_either_side():
    assert (whole_percent(0.054), whole_percent(0.05)) == (6, 5)


def test_only_beside_what_a_finding_needs_is_it_not_the_nearest():
    shares = [number / 1000 for number in range(1001)]
    off = [share for share in shares if abs(whole_percent(share) - 100 * share) > 0.5 + 1e-9]
    assert off
    assert all(0.945 < max(share, 1 - share) < 0.95 for share in off)
