"""An answer in plain words."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.base.constants import BEYOND
from model.base.likelihood_words import LIKELY, likelihood_words
from model.base.percents import percent_words
from model.base.units import LOAD_SYMBOLS, from_kn
from model.questions.effect import BandShares
from model.questions.settling import NOTHING_DIFFERS, Verdict, is_about_one_more
from model.questions.sides import question_seabeds
from model.records.answer import Effect, Finding
from model.records.campaign import Campaign
from model.records.question import Measure, Question, SetUp

Array = NDArray[np.float64]

GIVES: Final = {
    Measure.TYPICAL: "a {way} typical load at the first release",
    Measure.BEST: "a {way} best load of a pull",
    Measure.CAPPED: "a {way} typical load, counted only up to the boat's most,",
    Measure.NINE_IN_TEN: "a {way} load that nine pulls in ten outhold",
    Measure.HOLD: "a {way} chance to hold {hold}",
    Measure.UPRIGHT: "a {way} chance to set upright",
    Measure.SETS: "a {way} chance to set at all",
    Measure.RESETS: "a {way} chance to dig in again after letting go",
    Measure.TURNS: "a {way} chance to set again after a turn",
    Measure.BURIED: "a {way} length of buried rode",
    Measure.NEXT: "a {way} load at the first release of its next pull",
}
"""What a side gives; `way` is higher or lower."""

LOAD_WAYS: Final = ("higher", "lower")
LENGTH_WAYS: Final = ("greater", "smaller")
"""Words for `way`: of loads and chances, and of a length."""

SCOPE_IS_ASSUMED: Final = "How scope acts is assumed here, and not read from pulls."
"""Where the slope of scope is at its prior, which has one sign only: a chance near 1 is no find."""

ABOUT_EQUAL: Final = "about equal"
"""Less than half a per cent, or half a percentage point, apart."""


def label(campaign: Campaign, setup: SetUp, other: SetUp) -> str:
    """A side in words: its anchor where named, and what of its rig is named or differs.

    As ``S6 with leader: wire 2 m and scope: 7:1``.
    """
    rig = rig_words(campaign, setup, other)
    if setup.anchor is None:
        return rig or "the baseline"
    return f"{setup.anchor} with {rig}" if rig else setup.anchor


def rig_words(campaign: Campaign, setup: SetUp, other: SetUp) -> str:
    """Levels and scope that either side names or in which the sides differ; may be empty."""
    ours, theirs = campaign.filled(setup), campaign.filled(other)
    named = {*setup.levels, *other.levels}
    shown = [
        f"{name}: {level}"
        for name, level in ours.levels.items()
        if level != theirs.levels[name] or name in named
    ]
    if ours.scope != theirs.scope or setup.scope is not None:
        shown.append(f"scope: {ours.scope:g}:1")
    return listed(shown)


def listed(words: Sequence[str]) -> str:
    """As ``a``, ``a and b``, ``a, b and c``."""
    *most, last = words or ("",)
    return f"{', '.join(most)} and {last}" if most else last


def effect_words(effect: Effect) -> str:
    """The effect with its interval, as a reader would say it."""
    prob = f"{100 * effect.interval.prob:.0f} % interval"
    lower, upper = effect.interval.lower, effect.interval.upper
    if effect.kind == "ratio":
        return f"{_ratio(effect.median)} ({prob}: {_ratio(lower)} to {_ratio(upper)})"
    median = _points(effect.median, " percentage points")
    return f"{median} ({prob}: {_points(lower)} to {_points(upper)})"


def _ratio(ratio: float) -> str:
    if ratio >= 2:
        return _times(ratio)
    percent = round(abs(ratio - 1) * 100)
    if percent == 0:
        return ABOUT_EQUAL
    if ratio > 1:
        return f"{percent} % higher"
    return f"{percent} % lower" if percent < 100 else "over 99 % lower"


def _times(ratio: float) -> str:
    if ratio >= BEYOND:
        return "beyond any multiple"
    return f"{ratio:.1f} times as high" if ratio < 10 else f"{ratio:.0f} times as high"


def _points(difference: float, unit: str = "") -> str:
    points = round(abs(difference) * 100)
    if points == 0:
        return ABOUT_EQUAL
    return f"{points}{unit} {'higher' if difference > 0 else 'lower'}"


def compose(
    campaign: Campaign,
    question: Question,
    effect: Effect,
    shares: BandShares,
    verdict: Verdict,
    beside: Sequence[str] = (),
) -> str:
    """The plain sentence: what, how likely, how much, settled or why not.

    Parameters
    ----------
    beside : sequence of str
        What must be said with it, as where the best load points the other way; empty ones
        are passed over.
    """
    if verdict.reason == NOTHING_DIFFERS:
        return _nothing_differs(campaign, question)
    is_higher = shares.higher >= 0.5
    chance = shares.higher if is_higher else 1 - shares.higher
    first = (
        f"{_place(campaign, question)}it is {likelihood_words(chance)} "
        f"({_chance(question, chance)}) that {_claim(campaign, question, is_higher=is_higher)}."
    )
    parts = (
        first[0].upper() + first[1:],
        f"Estimate: {effect_words(effect)}.",
        *beside,
        _verdict(verdict),
    )
    return " ".join(part for part in parts if part)


def _nothing_differs(campaign: Campaign, question: Question) -> str:
    """Equal in every draw: a chance of one half would sound like something learnt."""
    a, b = label(campaign, question.a, question.b), label(campaign, question.b, question.a)
    gives = GIVES[question.measure].format(way="", hold=_hold_words(campaign, question))
    return f"Not settled: {NOTHING_DIFFERS}: {' '.join(gives.split())}, of {a} and of {b}."


def _place(campaign: Campaign, question: Question) -> str:
    """Where and over what the answer is meant, ending in a comma."""
    seabeds = question_seabeds(campaign, question)
    averaged = []
    if question.a.anchor is None and question.over == "campaign":
        averaged.append("this campaign's anchors")
    if len(seabeds) > 1:
        averaged.append(listed(seabeds))
    parts = [] if question.over == "campaign" else ["for the next anchor like these"]
    parts += [f"averaged over {' and over '.join(averaged)}"] if averaged else []
    parts += [f"on {seabeds[0]}"] if len(seabeds) == 1 else []
    return "".join(f"{part}, " for part in parts)


def _chance(question: Question, chance: float) -> str:
    if is_about_one_more(question):
        return chances_in_ten_words(chance)
    return percent_words(chance)


def chances_in_ten_words(chance: float) -> str:
    """Chances in ten, for what can be a chance only; never all ten."""
    if chance > 0.95:
        return "more than 9 chances in 10"
    return f"{round(10 * chance)} chances in 10"


def _claim(campaign: Campaign, question: Question, *, is_higher: bool) -> str:
    a, b = question.a, question.b
    ways = LENGTH_WAYS if question.measure is Measure.BURIED else LOAD_WAYS
    way = ways[0] if is_higher else ways[1]
    gives = GIVES[question.measure].format(way=way, hold=_hold_words(campaign, question))
    other = label(campaign, b, a)
    if a.anchor is not None and a.anchor == b.anchor:
        other = f"with {rig_words(campaign, b, a)}"
    return f"{label(campaign, a, b)} gives {gives} than {other}"


def _hold_words(campaign: Campaign, question: Question) -> str:
    load = from_kn(question.hold_kn or 0.0, campaign.load_unit)
    return f"{float(f'{load:.4g}'):g} {LOAD_SYMBOLS[campaign.load_unit]}"


def _verdict(verdict: Verdict) -> str:
    if verdict.finding is Finding.NOT_SETTLED:
        return f"Not settled: {verdict.reason}."
    return f"Settled: {verdict.finding.value}."


def two_ways(name: str, p_typical_higher: float, p_best_higher: float) -> str:
    """Both halves, where first release and best load likely point different ways.

    Parameters
    ----------
    name : str
        Side A in words.
    p_typical_higher, p_best_higher : float
        Chances that A's typical, and best, load is the higher one.
    """
    if 1 - p_typical_higher > LIKELY and p_best_higher > LIKELY:
        return (
            f"It points two ways: {name} lets go earlier at first "
            f"({percent_words(1 - p_typical_higher)}), yet its pulls reach a higher best load "
            f"({percent_words(p_best_higher)})."
        )
    if p_typical_higher > LIKELY and 1 - p_best_higher > LIKELY:
        return (
            f"It points two ways: {name} holds more at first ({percent_words(p_typical_higher)}), "
            f"yet its pulls reach a lower best load ({percent_words(1 - p_best_higher)})."
        )
    return ""


def deeper_words(name: str, buried: Array, load: Array, band_upper: float, gives: str) -> str:
    """Both halves, where one buries more rode and holds no more, or less and holds more.

    Each half's chance may be likely where both together are not, so that it is the chance
    of both that decides, and stands first.

    Parameters
    ----------
    name : str
        Side A in words.
    buried, load : ndarray
        Log ratios of A's buried rode, and load, over B's, under the same draws.
    band_upper : float
        Log ratio up to which a load is no higher in practice.
    gives : str
        The load in words, with a place for higher or lower.
    """
    deeper, no_more, more = buried > 0, load <= band_upper, load > 0
    both = float(np.mean(deeper & no_more))
    if both > LIKELY and np.mean(more) <= LIKELY:
        return (
            f"It is {_likely(both)} to go deeper and hold no more: {name} buries more rode "
            f"({_percent(deeper)}), without {gives.format(way='higher')} beyond the band "
            f"({_percent(no_more)})."
        )
    both = float(np.mean(~deeper & more))
    if both > LIKELY:
        return (
            f"It is {_likely(both)} to go less deep and hold more: {name} buries less rode "
            f"({_percent(~deeper)}), yet gives {gives.format(way='higher')} ({_percent(more)})."
        )
    return ""


def _likely(chance: float) -> str:
    """As ``very likely (93 %)``."""
    return f"{likelihood_words(chance)} ({percent_words(chance)})"


def _percent(cases: NDArray[np.bool_]) -> str:
    return percent_words(float(np.mean(cases)))
