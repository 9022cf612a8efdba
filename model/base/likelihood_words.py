"""Words for probabilities: the likelihood scale of the IPCC guidance note of 2010."""

from typing import Final

LIKELIHOOD_SOURCE: Final = (
    "Words follow the likelihood scale of the IPCC guidance note on uncertainties (2010)."
)
"""As pages name it; the thresholds below are recalled, not looked up."""

LIKELY: Final = 0.66
"""Above it something is called likely."""

ABOVE: Final = (
    (0.99, "virtually certain"),
    (0.95, "extremely likely"),
    (0.90, "very likely"),
    (LIKELY, "likely"),
)
"""Words for a probability strictly above each threshold, the first that fits."""

BELOW: Final = (
    (0.01, "exceptionally unlikely"),
    (0.05, "extremely unlikely"),
    (0.10, "very unlikely"),
    (0.33, "unlikely"),
)
"""Words for a probability strictly below each threshold, the first that fits."""

BETWEEN: Final = "about as likely as not"
"""From 33 to 66 %, both ends included."""


def likelihood_words(probability: float) -> str:
    """The scale's words for a probability (0 to 1); one that is on a threshold takes the milder.

    Strict on purpose: "extremely likely" at exactly 95 % would say more than the scale does.
    """
    above = (words for threshold, words in ABOVE if probability > threshold)
    below = (words for threshold, words in BELOW if probability < threshold)
    return next(above, None) or next(below, BETWEEN)
