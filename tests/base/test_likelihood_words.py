import pytest

from model.base.likelihood_words import ABOVE, BELOW, likelihood_words


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (1.0, "virtually certain"),
        (0.97, "extremely likely"),
        (0.92, "very likely"),
        (0.7, "likely"),
        (0.5, "about as likely as not"),
        (0.2, "unlikely"),
        (0.07, "very unlikely"),
        (0.03, "extremely unlikely"),
        (0.001, "exceptionally unlikely"),
        (0.0, "exceptionally unlikely"),
    ],
)
def test_words_of_the_likelihood_scale(probability, words):
    assert likelihood_words(probability) == words


@pytest.mark.parametrize(
    ("threshold", "milder"),
    [
        (0.99, "extremely likely"),
        (0.95, "very likely"),
        (0.90, "likely"),
        (0.66, "about as likely as not"),
        (0.33, "about as likely as not"),
        (0.10, "unlikely"),
        (0.05, "very unlikely"),
        (0.01, "extremely unlikely"),
    ],
)
def test_on_a_threshold_the_milder_word_stands(threshold, milder):
    assert likelihood_words(threshold) == milder
    stronger = {words for of, words in (*ABOVE, *BELOW) if of == threshold}
    beyond = threshold + (1e-9 if threshold > 0.5 else -1e-9)
    assert {likelihood_words(beyond)} == stronger
