"""A standing question with its effect under every draw, as the checks take it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.base.constants import SETTLED_PROB
from model.questions.answer import Answer
from model.questions.effect import BandShares, band_shares
from model.questions.sensitivity import finding_of
from model.questions.sentence import label
from model.records.answer import Finding
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One question and its answer.

    Parameters
    ----------
    effect : (draw,) array
        On the scale on which it is compared: a log ratio, or a difference of chances.
    finding : Finding
        What it has come to, settled or not.
    is_ratio : bool
        Whether the effect is a log ratio.
    pulls : (int, int)
        Used pulls that tell of each side; see :func:`telling_pulls`.
    """

    question: Question
    effect: Array
    finding: Finding
    is_ratio: bool
    pulls: tuple[int, int]

    @classmethod
    def of(cls, answer: Answer, campaign: Campaign, used: Sequence[Pull]) -> "Asked":
        """From an answer with its draws, and the pulls that it rests on."""
        is_ratio, own = answer.summary.effect.kind == "ratio", answer.summary.pulls
        telling = telling_pulls(campaign, answer.question, used)
        return cls(
            question=answer.question,
            effect=np.log(answer.effect_draws) if is_ratio else answer.effect_draws,
            finding=answer.summary.finding,
            is_ratio=is_ratio,
            pulls=(max(own.a.count, telling[0]), max(own.b.count, telling[1])),
        )

    @property
    def is_settled(self) -> bool:
        """Whether there is a finding that could be lost."""
        return self.finding is not Finding.NOT_SETTLED

    def shares(self, weights: Array | None = None) -> BandShares:
        """Chances over the draws, weighted if asked."""
        return band_shares(self.effect, self.question.band, weights)

    def keeps_finding(self, shares: BandShares) -> bool:
        """Whether other chances would bring the same finding."""
        return finding_of(shares, SETTLED_PROB) is self.finding

    def finding_share(self, shares: BandShares) -> float:
        """Chance that the finding is so; 1 where there is none."""
        by_finding = {
            Finding.HIGHER: shares.above,
            Finding.LOWER: shares.below,
            Finding.NO_PRACTICAL_DIFFERENCE: shares.inside,
        }
        return by_finding.get(self.finding, 1.0)


def telling_pulls(campaign: Campaign, question: Question, used: Sequence[Pull]) -> tuple[int, int]:
    """Pulls that have what one side has and the other has not, of whichever anchor.

    None where the sides differ in their anchors: what two anchors do alike tells of neither.
    """
    if question.a.anchor != question.b.anchor:
        return 0, 0
    a, b = (campaign.levels_on(campaign.filled(one).levels) for one in (question.a, question.b))
    differing = a ^ b
    if not differing:
        return 0, 0
    found = [campaign.levels_on(pull.levels) & differing for pull in used]
    return found.count(a & differing), found.count(b & differing)


def claim_words(campaign: Campaign, question: Question) -> str:
    """What the chance of an answer is of, as ``leader: wire 2 m is higher than chain only``."""
    a = label(campaign, question.a, question.b)
    b = label(campaign, question.b, question.a)
    return f"{a} is higher than {b}"
