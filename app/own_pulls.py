"""What the two set-ups' own pulls say alone, in words for the terminal and for pages."""

from typing import Final

from app.style.numbers import effect_chance, effect_size
from app.style.words import ALONE_WORDS
from model.questions.answer import Answer, OwnCount
from model.records.question import Measure

COUNTED: Final = {
    Measure.UPRIGHT: ("seen upright", "not seen"),
    Measure.SETS: ("set", ""),
    Measure.RESETS: ("re-sets seen after a release", "stopped there"),
    Measure.TURNS: ("set again after a turn", ""),
    Measure.HOLD: ("held it", "left out"),
    Measure.BURIED: ("lengths", "without one"),
}
"""What is counted of each side, and what is left out."""

SHARE_PRIOR_WORDS: Final = "each chance alike before them, Beta(1, 1)"


def own_pulls_size(answer: Answer) -> str:
    """The difference by own pulls alone, as ``0.90 × (0.67 to 1.20 ×), A higher 27 %``."""
    if answer.alone is None:
        return ""
    chance = effect_chance(answer.alone.p_higher, answer.alone.effect.interval)
    return f"{effect_size(answer.alone.effect)}, A higher {chance}"


def own_pulls_source(answer: Answer) -> str:
    """What it is told by: what was counted on each side, and what left out."""
    measure = answer.question.measure
    if answer.alone is None or answer.alone.a is None or answer.alone.b is None:
        return f"{ALONE_WORDS}, without modes"
    so, left = COUNTED[measure]
    a, b = (_counted(side, left) for side in (answer.alone.a, answer.alone.b))
    if measure is Measure.BURIED:
        return f"{ALONE_WORDS}, without modes ({so}: A {a}, B {b})"
    return f"{ALONE_WORDS} ({so}: A {a}, B {b}; {SHARE_PRIOR_WORDS})"


def _counted(side: OwnCount, left: str) -> str:
    counted = f"{side.count}" if side.so is None else f"{side.so} of {side.count}"
    return f"{counted}, {side.left_out} {left}" if side.left_out else counted
