"""Whether more pulls can settle a question, and what would where they cannot."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from model.base.constants import SETTLED_MIN_PULLS, SETTLED_PROB
from model.base.percents import percent_words
from model.planning.outcome_table import outcome_table
from model.planning.rehearsed import Rehearsed
from model.planning.start import Start
from model.questions.effect import band_ends
from model.questions.telling import DOUBT_MIN_NATS
from model.records.answer import Finding

Array = NDArray[np.float64]

PROBABLY_NEVER: Final = 0.10
"""A lower chance to settle than this within what was rehearsed is called so."""
MOSTLY_HELD: Final = 0.8
"""Of the sides' own pulls: where more than this hold to the end, loads are told no more."""
BY_ROW: Final = ("log_upright", "log_on_side", "logit_upright", "logit_sets")
"""What pulls of a set-up tell of, were there ever so many."""


CONFIRMS: Final = "Another question: more pulls of this one only confirm it."
NEEDS_A_LOOK: Final = (
    "A finding may still need six pulls a side, a day that both share, and one more look."
)
GO_HIGHER: Final = (
    "A boat or ladder that goes higher, a shorter scope, a softer bottom; or ask for the chance "
    "to hold a load within the ladder."
)
PULL_OTHERS: Final = "Pulls of other set-ups, anchors or bottoms that the question is about."
TOO_SMALL: Final = (
    "the effect may be too small beside the scatter of single pulls, or too near the edge of its "
    "band"
)
ASK_OTHERWISE: Final = "Another question: a load within the ladder, a measure that can differ."
MORE_TIME: Final = "More pulls than that."
FEWER_PULLS: Final = "Fewer pulls ahead, or a fit after the first day and a rehearsal from there."
MANY_UNKNOWN: Final = 0.25
"""Of rehearsed campaigns: from this share on, that they were not settled says little."""
MANY_MORE: Final = (
    "Many more pulls than that, a wider band fixed before its first pull, or a treatment with a "
    "larger effect."
)


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """What more pulls of what can be pulled may come to.

    Parameters
    ----------
    ceiling : float
        Chance that the question would be settled if all that these pulls can tell of were known.
    p_held : float
        Chance that a pull of the sides' own set-ups ends at the boat's most.
    why_stop, what_would : str
        Why more of the same cannot help, and what would; empty where it can.
    """

    rehearsed: Rehearsed
    ceiling: float
    p_held: float
    why_stop: str
    what_would: str

    @property
    def would_more_help(self) -> bool:
        """Whether there are only too few pulls ahead, and more of the same would help indeed."""
        return self.what_would in {MORE_TIME, NEEDS_A_LOOK}


def outlook(start: Start, rehearsed: Rehearsed, standing: Finding) -> Outlook:
    """Look at a rehearsal and say whether to go on.

    Parameters
    ----------
    rehearsed : Rehearsed
        Of the main question, from this start.
    standing : Finding
        How the question stands now.
    """
    ceiling, p_held = _ceiling(start), _held(start)
    why, what = _stop(start, rehearsed, standing, ceiling, p_held)
    return Outlook(
        rehearsed=rehearsed, ceiling=ceiling, p_held=p_held, why_stop=why, what_would=what
    )


def _stop(
    start: Start, rehearsed: Rehearsed, standing: Finding, ceiling: float, p_held: float
) -> tuple[str, str]:
    """The first reason why more of the same cannot help, and what would."""
    chance = rehearsed.settled_by(rehearsed.most_pulls)
    within = f"the chance to settle it within {rehearsed.most_pulls} pulls is "
    within += f"{percent_words(chance)}: "
    held = f"{percent_words(p_held)} of these pulls hold the boat's most, which tells only"
    cases = (
        (standing is not Finding.NOT_SETTLED, "it is settled", CONFIRMS),
        (bool(start.main.never), start.main.never, ASK_OTHERWISE),
        (
            start.main.regions(start.draws).doubt_nats < DOUBT_MIN_NATS,
            "hardly any doubt is left",
            NEEDS_A_LOOK,
        ),
        (chance >= PROBABLY_NEVER, "", ""),
        (
            _needed(start) > rehearsed.most_pulls,
            f"{within}a finding needs six pulls a side",
            MORE_TIME,
        ),
        (
            bool(np.mean(rehearsed.unknown_at > 0) > MANY_UNKNOWN),
            f"{within}in many of the rehearsed campaigns it is not known",
            FEWER_PULLS,
        ),
        (p_held > MOSTLY_HELD, f"{within}{held} that the anchor is stronger", GO_HIGHER),
        (
            ceiling < PROBABLY_NEVER,
            f"{within}the answer rests mostly on what these pulls cannot tell of",
            PULL_OTHERS,
        ),
        (True, f"{within}{TOO_SMALL}", MANY_MORE),
    )
    return next((why, what) for is_so, why, what in cases if is_so)


def _needed(start: Start) -> int:
    """Pulls without which no finding can be had."""
    main = start.main
    return sum(max(0, SETTLED_MIN_PULLS - n) for n in (main.n_a, main.n_b))


def _held(start: Start) -> float:
    """Mean chance to hold to the end, over the candidates that are a side's own."""
    own = [index for index, side in enumerate(start.sides[0]) if side]
    rows = start.rows[own] if own else start.rows
    table = outcome_table(start.draws, rows, start.space)
    return float(table[:, start.space.held].sum(axis=1).mean())


def _ceiling(start: Start) -> float:
    """Chance to settle if all that pulls of the candidates can tell of were known exactly.

    What they tell of is taken as linear in the effect: the part of the effect that a regression
    on it leaves open, which no number of these pulls takes away, is taken as normal.
    """
    effect = start.main.effect(start.draws)
    rows = np.unique(start.rows)
    known = np.concatenate([start.draws.by_row[name][rows] for name in BY_ROW]).T
    if not np.ptp(effect):
        return 0.0
    explained, left = _explained(known - known.mean(axis=0), effect)
    low, high = band_ends(start.main.question.band)
    below = ndtr((low - explained) / left)
    above = ndtr((explained - high) / left)
    best = np.maximum(np.maximum(below, above), 1 - below - above)
    return float(np.mean(best >= SETTLED_PROB))


def _explained(known: Array, effect: Array) -> tuple[Array, float]:
    """What a regression tells of the effect, and the standard deviation that it leaves."""
    slope, _, rank, _ = np.linalg.lstsq(known, effect - effect.mean(), rcond=1e-8)
    explained = effect.mean() + known @ slope
    freedom = max(effect.size - int(rank) - 1, 1)
    left = float(np.sqrt(np.sum((effect - explained) ** 2) / freedom))
    return explained, max(left, 1e-9)
