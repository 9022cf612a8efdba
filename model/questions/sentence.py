"""An answer in plain words."""

from typing import Final

from model.questions.effect import BandShares
from model.records.answer import Effect, Finding
from model.records.campaign import Campaign
from model.records.question import Measure, Question, SetUp

LIKELIHOOD_SCALE: Final = (
    # IPCC guidance note on uncertainties (2010); the scale is recalled, not looked up.
    (0.99, "virtually certainly"),
    (0.95, "extremely likely"),
    (0.90, "very likely"),
    (0.66, "likely"),
)

SUBJECT: Final = {
    Measure.TYPICAL: "the typical load at the first release",
    Measure.BEST: "the best load of a pull",
    Measure.CAPPED: "the typical load, capped at the boat's most,",
    Measure.NINE_IN_TEN: "the load that nine pulls in ten outhold",
    Measure.HOLD: "the chance to hold {hold}",
    Measure.UPRIGHT: "the chance to set upright",
    Measure.SETS: "the chance to set at all",
    Measure.RESETS: "the chance to re-set",
    Measure.BURIED: "the buried rode",
    Measure.NEXT: "the next pull",
}


def likelihood_words(probability: float) -> str:
    """Words for a probability of at least a half, IPCC 2010 likelihood scale."""
    for threshold, words in LIKELIHOOD_SCALE:
        if probability > threshold:
            return words
    return "about as likely as not"


def label(campaign: Campaign, setup: SetUp, other: SetUp) -> str:
    """A side in words: its anchor where named, and the levels in which the sides differ."""
    ours, theirs = campaign.filled(setup).levels, campaign.filled(other).levels
    differs = [
        f"{name} {level}"
        for name, level in ours.items()
        if level != theirs[name] or name in setup.levels
    ]
    if setup.scope is not None:
        differs.append(f"scope {setup.scope:g}:1")
    rig = " and ".join(differs)
    if setup.anchor is None:
        return rig or "the baseline"
    return f"{setup.anchor} with {rig}" if rig else setup.anchor


def effect_words(effect: Effect) -> str:
    """The effect with its interval, as a reader would say it."""
    lower, upper = effect.interval.lower, effect.interval.upper
    prob = f"{effect.interval.prob:.0%}"
    if effect.kind == "ratio":
        say = _percent
    else:
        say = _points
    return f"{say(effect.median)} ({prob} interval: {say(lower)} to {say(upper)})"


def _percent(ratio: float) -> str:
    change = (ratio - 1) * 100
    if ratio >= 2:
        return f"{ratio:.1f} times as high"
    if abs(change) < 0.5:
        return "no change"
    return f"{abs(change):.0f} % {'higher' if change > 0 else 'lower'}"


def _points(difference: float) -> str:
    points = difference * 100
    if abs(points) < 0.5:
        return "no change"
    return f"{abs(points):.0f} points {'higher' if points > 0 else 'lower'}"


def compose(
    campaign: Campaign,
    question: Question,
    effect: Effect,
    shares: BandShares,
    finding: Finding,
    reason: str,
    other_half: str,
) -> str:
    """The plain sentence: what, how likely, how much, settled or why not.

    Parameters
    ----------
    reason : str
        Why it is not settled; empty if it is.
    other_half : str
        What the best load says where it points the other way; empty otherwise.
    """
    a = label(campaign, question.a, question.b)
    b = label(campaign, question.b, question.a)
    where = " and ".join(question.seabeds)
    place = f"On {where}, " if where else ""
    subject = SUBJECT[question.measure].format(hold=f"{question.hold_kn or 0:g} kN")
    direction, chance = ("higher", shares.higher) if shares.higher >= 0.5 else (
        "lower", 1 - shares.higher)  # fmt: skip
    who = _who(question)
    first = (
        f"{place}{subject} with {a} is {likelihood_words(chance)} {direction} than with {b}{who} "
        f"({_share(chance)}): {effect_words(effect)}."
    )
    first = first[0].upper() + first[1:]
    half = f" {other_half}" if other_half else ""
    return f"{first}{half} {_verdict(finding, reason)}"


def _share(chance: float) -> str:
    if chance > 0.995:
        return "over 99 %"
    return f"{chance * 100:.0f} %"


def _who(question: Question) -> str:
    if question.a.anchor is not None:
        return ""
    if question.over == "next":
        return ", for the next anchor like these"
    return ", averaged over this campaign's anchors"


def _verdict(finding: Finding, reason: str) -> str:
    if finding is Finding.NOT_SETTLED:
        return f"Not settled: {reason}."
    return f"Settled: {finding.value}."


def two_ways(p_typical_higher: float, p_best_higher: float) -> str:
    """Both halves, where first release and best load likely point different ways."""
    likely = LIKELIHOOD_SCALE[-1][0]
    earlier, better = 1 - p_typical_higher, p_best_higher
    if earlier > likely and better > likely:
        return (
            f"It points two ways: A lets go earlier at first ({_share(earlier)}), "
            f"yet its pulls reach a higher best load ({_share(better)})."
        )
    if p_typical_higher > likely and 1 - p_best_higher > likely:
        return (
            f"It points two ways: A holds more at first ({_share(p_typical_higher)}), "
            f"yet its pulls reach a lower best load ({_share(1 - p_best_higher)})."
        )
    return ""
